"""Packs that have to be equal: which readings an order serves, which nothing can, and which another size would.

By hand: both gaps read 0.30 to 0.35 and may shift by 0.03, so that blades may show 0.25 to 0.30, 0.30 to 0.35 and
0.35 to 0.40 at each. A pack p in both brings readings from a to b (the lower a, the higher b) to 0.03 to 0.17 where
it is from b - 0.17 to a - 0.03 thick: 0.13 to 0.22 where both read 0.25 to 0.30; 0.18 to 0.22 where one reads 0.30 to
0.35; 0.18 to 0.27 where both do; 0.23 to 0.27 where one of them reads 0.35 to 0.40; 0.23 to 0.32 where both do; and
where one reads 0.25 to 0.30 and the other 0.35 to 0.40 it would have to be at least 0.23 and at most 0.22. The chance
of an outer pair: an even error of 0.05 and an even shift of 0.06 end beyond a blade with 0.03 / 2 / 0.05 in half of
all cases, 15 %.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from tests.command import Run

JOB = """\
title = "Two caps"
unit = "mm"
catalogues = ["cat.csv"]
currency = "GBP"
shift = 0.03
equal = ["left", "right"]
window = { min = 0.03, max = 0.17, source = "drawing 9" }
[[gap]]
name = "left"
feeler = { go = 0.30, no_go = 0.35 }
[[gap]]
name = "right"
feeler = { go = 0.30, no_go = 0.35 }
[[supplier]]
name = "Alder Shims"
postage = 2
"""
HEAD = "part,thickness_mm,tolerance_mm,price,supplier,lead_days\n"
TWENTY, QUARTER = "H-20,0.20,0.005,1.00,Alder Shims,3\n", "H-25,0.25,0.005,1.20,Alder Shims,3\n"
LOW, MIDDLE, HIGH = (0.25, 0.3), (0.3, 0.35), (0.35, 0.4)
FAR_APART = [(LOW, HIGH), (HIGH, LOW)]


def job(folder: Path, catalogue: str) -> Path:
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    (folder / "cat.csv").write_text(HEAD + catalogue, encoding="utf-8")
    return folder


def told(run: Run, *arguments: object) -> tuple[int, dict[str, Any]]:
    code, out, err = run("order", *arguments, "--json")
    assert out, err
    return code, json.loads(out)


def blades(row: dict[str, Any]) -> tuple[tuple[float, float], ...]:
    return tuple((read["blades"]["go"], read["blades"]["no_go"]) for read in row["readings"])


def test_what_can_be_served_is_bought_and_the_rest_is_told(tmp_path: Path, run: Run) -> None:
    code, found = told(run, job(tmp_path, TWENTY + QUARTER))
    assert (code, found["whole"], found["sure"], found["unanswered"]) == (1, False, False, [])
    assert {line["part"]: line["pieces"] for line in found["lines"]} == {"H-20": 2, "H-25": 2}
    (table,) = found["tables"]
    assert [blades(one) for one in table["not_served"]] == FAR_APART
    assert [one["chance"] for one in table["not_served"]] == [pytest.approx(0.15**2)] * 2
    assert all("Whatever goes in, with equal packs" in one["words"] for one in table["not_served"])
    # no thickness serves them, so that no order could
    (level,) = (level for level in found["levels"] if level["name"] == "open")
    assert (level["value"], level["bound"], level["proven"]) == (2, 2, True)
    assert "more covered" not in found["answer"]


def test_each_pair_of_blades_at_both_gaps_is_a_row_of_the_json(tmp_path: Path, run: Run) -> None:
    _, found = told(run, job(tmp_path, TWENTY + QUARTER))
    rows = {blades(row): row for row in found["tables"][0]["blades"]}
    assert rows.keys() == {(one, two) for one in (LOW, MIDDLE, HIGH) for two in (LOW, MIDDLE, HIGH)}
    for read, row in rows.items():
        if read in FAR_APART:
            assert (row["stacks"], row["then"]) == (None, None)
            continue
        one, two = ([(piece["part"], piece["pieces"]) for piece in stack["stack"]] for stack in row["stacks"])
        assert one == two
        thick = {"H-20": 0.20, "H-25": 0.25}[one[0][0]]
        for (go, no_go), then in zip(read, row["then"], strict=True):
            # from what goes less the thickest piece to what does not less the thinnest
            assert then["from"] == pytest.approx(go - thick - 0.005)
            assert then["to"] == pytest.approx(no_go - thick + 0.005)
            assert 0.03 <= then["from"] <= then["to"] <= 0.17


def test_a_size_that_would_close_it_is_named(tmp_path: Path, run: Run) -> None:
    _, found = told(run, job(tmp_path, TWENTY))
    told_of = {blades(one): one["words"] for one in found["tables"][0]["not_served"]}
    hopeless = {read for read, words in told_of.items() if "Whatever goes in" in words}
    assert hopeless == set(FAR_APART)
    sizes = {read: words for read, words in told_of.items() if read not in hopeless}
    assert sizes.keys() == {(MIDDLE, HIGH), (HIGH, (0.3, 0.4))}
    assert all("What would close it: 0.23 to 0.27 mm in each of left and right." in words for words in sizes.values())


def test_screen_and_cards_say_stop_and_what_comes_of_each_row(tmp_path: Path, run: Run) -> None:
    folder = job(tmp_path, TWENTY + QUARTER)
    names = [folder / f"card.{ending}" for ending in ("txt", "csv")]
    code, out, _ = run("order", folder, *(option for name in names for option in ("--card", name)))
    said = " ".join(out.split())
    assert code == 1
    assert "left and right are still not served at every reading" in said
    assert "surely enough" not in said
    for text in (said, " ".join(names[0].read_text(encoding="utf-8").split())):
        assert "left: 0.25 goes, 0.30 does not; right: 0.35 goes, 0.40 does not not covered: stop" in text
        assert "left: fit H-20 right: fit H-20 then " in text or "left: fit H-20; right: fit H-20 then " in text
        assert "here a row says stop: nothing serves all of them surely; plan again from these readings" in text
        # 0.30 and 0.40 with the blade between left out are no sign that something moved
        assert "ny two blades within one row count for it, of different rows none: read with the blades" in text
        assert "very row still serves with pieces found to be: H-20 " in text
    with names[1].open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["fit"]]
    stops = [row for row in rows if row["fit"] == "not covered: stop"]
    ends = ("from_mm", "to_mm", "and_from_mm", "and_to_mm")
    assert [tuple(float(row[end]) for end in ends) for row in stops] == [(*a, *b) for a, b in FAR_APART]
    assert all(row["then"] for row in rows if row not in stops)


def test_a_parcel_says_at_which_readings_it_is_no_longer_enough(tmp_path: Path, run: Run) -> None:
    """One H-25 of two: what takes 0.23 and more is lost, at 0.15 x 0.7, and 0.15 x (0.7 + 0.15)."""
    folder = job(tmp_path, TWENTY + QUARTER)
    run("order", folder, "--quiet", "-o", folder / "o.csv")
    (folder / "came.csv").write_text("part,on_hand\nH-20,2\nH-25,1\n", encoding="utf-8")
    code, found = told(run, folder, "--came", folder / "came.csv", "--ordered", folder / "o.csv")
    assert (code, found["enough"], found["whole"], found["not_answered"]) == (1, False, False, [])
    lost = {blades(one): one["chance"] for one in found["not_served_together"]}
    assert lost == {
        (MIDDLE, HIGH): pytest.approx(0.15 * 0.7),
        (HIGH, (0.3, 0.4)): pytest.approx(0.15 * 0.85),
    }
    assert [(line["part"], line["pieces"]) for line in found["again"]["lines"]] == [("H-25", 1)]
    out = " ".join(run("order", folder, "--came", folder / "came.csv", "--ordered", folder / "o.csv")[1].split())
    assert out.count("must equal another pack") == 0
    assert "left and right, where left: 0.30 goes, 0.35 does not; right: 0.35 goes, 0.40 does not: a chance of" in out


def test_a_whole_parcel_is_enough_for_what_the_order_serves(tmp_path: Path, run: Run) -> None:
    folder = job(tmp_path, TWENTY + QUARTER)
    (folder / "came.csv").write_text("part,on_hand\nH-20,2\nH-25,2\n", encoding="utf-8")
    code, out, _ = run("order", folder, "--came", folder / "came.csv")
    said = " ".join(out.split())
    assert code == 1
    assert (
        "it is enough for all that the order serves. The order does not serve left and right at every final reading."
        in said
    )


def test_what_equal_packs_take_is_not_there_for_a_gap_of_its_own(tmp_path: Path, run: Run) -> None:
    """The caps can take all four; the slide, one piece, has none left: H-20 for 1.00 and the postage."""
    folder = job(tmp_path, TWENTY + QUARTER)
    slide = '[[gap]]\nname = "slide"\nshift = 0\nfeeler = { go = 0.30, no_go = 0.35 }\n[stacks]\nmost_pieces = 1\n'
    (folder / "job.toml").write_text('drawer = "drawer.csv"\n' + JOB + slide, encoding="utf-8")
    (folder / "drawer.csv").write_text(
        "part,thickness_mm,tolerance_mm,on_hand\nH-20,0.20,0.005,2\nH-25,0.25,0.005,2\n", encoding="utf-8"
    )
    _, found = told(run, folder)
    assert [(line["part"], line["pieces"]) for line in found["lines"]] == [("H-20", 1)]
    assert (found["cost"], [card["gap"] for card in found["cards"]]) == (3, ["slide"])
    (folder / "came.csv").write_text("part,on_hand\nH-20,1\n", encoding="utf-8")
    assert told(run, folder, "--came", folder / "came.csv")[1]["enough"]


def test_how_uneven_rows_that_decide_both_gaps_can_come_out(tmp_path: Path, run: Run) -> None:
    """Equal packs leave the difference of two readings as it is: one pair of blades, 0.05, where a row serves them.

    With what readings and pieces may be off: 0.025 either way of both, and 0.005 of a piece in each, 0.11 in all.
    """
    job(tmp_path, TWENTY + QUARTER)
    bare = JOB.replace(
        "[[supplier]]", '[[balance]]\nname = "caps even"\ngaps = ["left", "right"]\nwithin = 0.06\n[[supplier]]'
    )
    (tmp_path / "job.toml").write_text(bare, encoding="utf-8")
    (balance,) = told(run, tmp_path)[1]["balances"]
    assert (balance["worst"], balance["most"], balance["met"]) == (0.05, 0.11, True)
    assert "Whether the limits of caps even" not in run("order", tmp_path)[1]
    (tmp_path / "job.toml").write_text(bare.replace("within = 0.06", "within = 0.04"), encoding="utf-8")
    (balance,) = told(run, tmp_path)[1]["balances"]
    assert (balance["worst"], balance["met"]) == (0.05, False)
    words = " ".join(run("order", tmp_path)[1].split())
    assert "caps even: uneven by 0.05 mm at most (0.11 mm at worst), and 0.04 mm may be. It may be more where" in words
    assert "(left: 0.30 goes, 0.35 does not; right: 0.35 goes, 0.40 does not)" in words
    # equal packs leave the difference as it is, whatever they are
    assert "their rows count for the gaps. Nothing on offer keeps it there." in words
    # the row itself says so, and has one instruction
    assert "; caps even may be uneven by more than 0.04 mm" in words
    assert "plan again from these readings." not in words.split("Balance")[1]


def test_what_keeps_a_balance_is_named_with_its_price_and_can_be_bought(tmp_path: Path, run: Run) -> None:
    """0.50 to 0.55 less 0.35 to 0.45 is inside: a Q-40 on one side for 1.00, or for 1.40 a Q-20 on either side."""
    (tmp_path / "cat.csv").write_text(HEAD + "Q-20,0.20,0,0.70,Alder Shims,3\nQ-40,0.40,0,1.00,Alder Shims,3\n")
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ncatalogues = ["cat.csv"]\ncurrency = "GBP"\n'
        'window = { min = 0.05, max = 0.20, source = "drawing 9" }\n'
        '[[place]]\nname = "left"\n[[place]]\nname = "right"\n[[gap]]\nname = "float"\n'
        "feeler = { go = 0.50, no_go = 0.55 }\neffects = { left = -1, right = -1 }\n"
        '[[balance]]\nname = "sides"\nplaces = ["left", "right"]\nwithin = 0.10\n'
        '[[supplier]]\nname = "Alder Shims"\npostage = 2\n',
        encoding="utf-8",
    )
    _, found = told(run, tmp_path)
    assert ([(line["part"], line["pieces"]) for line in found["lines"]], found["cost"]) == ([("Q-40", 1)], 3)
    kept = found["balances_kept_by"]
    assert ([(line["part"], line["pieces"]) for line in kept["lines"]], kept["cost"]) == ([("Q-20", 2)], 3.4)
    words = " ".join(run("order", tmp_path)[1].split())
    assert "goes by its cost: 2 x Q-20 in its place, 3.40 GBP, 0.40 GBP more, keeps it at every reading" in words
    _, even = told(run, tmp_path, "--keep-balances")
    assert ([(line["part"], line["pieces"]) for line in even["lines"]], even["cost"]) == ([("Q-20", 2)], 3.4)
    assert (even["balances"][0]["met"], even["balances_kept_by"]) == (True, None)
    # what may be spent is not enough for it
    _, poor = told(run, tmp_path, "--keep-balances", "--spend", "3.20")
    assert poor["cost"] <= 3.2


def test_what_size_would_serve_is_told_where_nothing_serves_at_all(tmp_path: Path, run: Run) -> None:
    """0.30 to 0.35 at both, less 0.18 to 0.27: 0.17 or less is left, 0.03 or more. A size of 0.70 serves nowhere."""
    of = JOB.replace("shift = 0.03\n", "")
    job(tmp_path, "H-70,0.70,0.005,1.00,Alder Shims,3\n")
    (tmp_path / "job.toml").write_text(of, encoding="utf-8")
    words = " ".join(run("order", tmp_path)[1].split())
    assert "What would serve: 0.18 to 0.27 mm in each of left and right where left: 0.30 goes, 0.35 does not;" in words
    assert words.count("What would serve") == 1
    # with what serves, the plan names the order
    job(tmp_path, TWENTY + QUARTER)
    assert "shimopt order JOB (for today alone: shimopt plan JOB --buy)" in " ".join(run("plan", tmp_path)[1].split())


def test_what_nothing_on_offer_serves_is_ruled_out(tmp_path: Path, run: Run) -> None:
    """Of H-20 alone 0.23 to 0.32 is not made, and two are thicker: no purchase serves where a pair reads from 0.35."""
    _, found = told(run, job(tmp_path, TWENTY))
    (level,) = (level for level in found["levels"] if level["name"] == "open")
    assert (level["value"], level["bound"], level["proven"]) == (2, 2, True)
    assert "more covered" not in found["answer"]


def test_no_row_is_for_readings_at_which_no_blade_goes(tmp_path: Path, run: Run) -> None:
    """By hand: left ends below 0.05 in (0.06 x 0.05 - 0.05 x 0.05 / 2) / (0.12 x 0.05) = 29.2 % of all cases, and right
    below 0.05 in 0.01 x 0.01 / 2 / (0.12 x 0.05) = 0.83 %: nobody knows then whether it is tight.
    """
    folder = job(tmp_path, "H-02,0.02,0.002,1.00,Alder Shims,3\nH-05,0.05,0.005,1.20,Alder Shims,3\n")
    text = JOB.replace("shift = 0.03", "shift = 0.06").replace("min = 0.03, max = 0.17", "min = -0.05, max = 0.20")
    left, right = text.split('name = "right"')
    left, right = left.replace("go = 0.30, no_go = 0.35", "go = 0.05, no_go = 0.10"), right.replace("0.30", "0.10")
    (folder / "job.toml").write_text(f'{left}name = "right"{right}'.replace("no_go = 0.35", "no_go = 0.15"))
    _, found = told(run, folder)
    (table,) = found["tables"]
    fitted = [row for row in table["blades"] if row["stacks"]]
    assert fitted
    assert all(read["blades"]["go"] > 0 for row in fitted for read in row["readings"])
    low, lower = 0.175 / 0.6, 0.01 * 0.01 / 2 / (0.12 * 0.05)
    assert sum(one["chance"] for one in table["not_served"]) == pytest.approx(1 - (1 - low) * (1 - lower), abs=1e-6)
    assert all("No blade goes there at one of them" in one["words"] for one in table["not_served"])
    words = " ".join(run("order", folder)[1].split())
    assert "-0.05" not in words
    assert "left: 0.05 does not go" in words
