"""`shimopt order JOB --came FILE`: what a parcel brought, as the person who opens it would ask.

The demo's order is 1 x S-10, 1 x S-20, 1 x S-25, all of Ostler and Daughter, ± 0.2 thou; windows of 4 to 12 thou. Its
card fits S-20 at north end up to "30 goes" and S-25 from "31 goes" on: S-20 leaves 30.5 + 0.5 - 20 + 0.2 = 11.2 thou of
play at most, and 31.5 + 0.5 - 20 + 0.2 = 12.2 is outside. So without S-25 the readings from 31 on are lost.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from shimopt.lengths import Bracket
from shimopt.parts import Part
from shimopt.receiving.against_order import off_its_label
from tests.command import Run
from tests.readme import ROOT
from tests.test_order_together import winch_with_a_little_play

HEAD = "part,piece,on_hand,measured_thou,measuring_error_thou,inner_in\n"
ALL_THERE = HEAD + "S-10,a,1,10.05,0.1,1.502\nS-20,b,1,,,\nS-25,c,1,24.95,0.1,1.502\n"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """The demo, to be changed."""
    return Path(shutil.copytree(ROOT / "demo_data" / "fulling-mill", tmp_path / "mill"))


def parcel(job: Path, text: str) -> Path:
    path = job.parent / "parcel.csv"
    path.write_text(text, encoding="utf-8")
    return path


def told(run: Run, job: Path, text: str, *more: str) -> tuple[int, dict[str, Any]]:
    code, out, err = run("order", job, "--came", parcel(job, text), "--json", *more)
    assert out, err
    return code, json.loads(out)


def by_part(found: dict[str, Any], key: str) -> dict[str, int]:
    return {line["part"]: line[key] for line in found["ordered"]}


def kinds(found: dict[str, Any]) -> list[tuple[str, str, int]]:
    return [(one["part"], one["kind"], one["pieces"]) for one in found["pieces"]]


def test_all_is_there_and_the_card_holds(run: Run, job: Path) -> None:
    code, found = told(run, job, ALL_THERE)
    assert (code, found["complete"], found["enough"], found["card_holds"]) == (0, True, True, True)
    assert by_part(found, "as_ordered") == {"S-10": 1, "S-20": 1, "S-25": 1}
    assert (found["ordered_by"], found["not_served"], found["again"], found["accepted"]) == (None, [], None, None)


def test_what_was_measured_without_an_error_is_said_to_be_taken_as_exact(run: Run, job: Path) -> None:
    rows = "part,measured_thou,inner_in\nS-10,10.05,1.502\nS-20,20.01,1.502\nS-25,24.95,1.502\n"
    assert "as far as" not in told(run, job, ALL_THERE)[1]["answer"]
    answer = told(run, job, rows)[1]["answer"]
    known = "S-10 (measured 10.05 thou), S-20 and S-25 are as measured (no error stated)."
    assert f"every gap at every final reading, as far as {known}" in answer


def test_a_piece_of_another_size_is_wrong_and_what_is_lost_is_named(run: Run, job: Path) -> None:
    code, found = told(run, job, ALL_THERE.replace("24.95", "20.1"))
    assert (code, found["complete"], found["enough"]) == (1, False, False)
    assert kinds(found)[2] == ("S-25", "wrong", 1)
    assert by_part(found, "wrong") == {"S-10": 0, "S-20": 0, "S-25": 1}
    (lost,) = found["not_served"]
    # as it is, 20.1 ± 0.1, it leaves 31.5 + 0.5 - 20 = 12 thou at most where 31 goes and 32 does not, and one more at
    # the next pair: that is lost, from the middle between the two pairs up to the end of the range
    assert (lost["gap"], lost["from"], lost["to"]) == ("north end", 32 * 25400 / 10**6, 33 * 25400 / 10**6)
    # by its own pieces: a plan that shares out those of all three gaps may serve some of it
    out = " ".join(run("order", job, "--came", job.parent / "parcel.csv")[1].split())
    assert "a chance of at most" in out
    assert "is served any more by pieces of its own. A plan of all final readings, which shares them out, may" in out
    # S-25 alone, as before: 1.60, topped up to 3, and 2.75 of postage
    assert [(x["part"], x["pieces"]) for x in found["again"]["lines"]] == [("S-25", 1)]
    assert (found["again"]["cost"], found["again"]["whole"]) == (5.75, True)


def test_another_bore_does_not_suit_the_seat(run: Run, job: Path) -> None:
    code, found = told(run, job, ALL_THERE.replace("24.95,0.1,1.502", "24.95,0.1,1.450"))
    assert code == 1
    one = found["pieces"][2]
    # a bore of 1.450 does not go on a shaft of 1.499
    assert (one["kind"], one["fits"], one["seats"]) == ("wrong", False, {"layshaft": "stop"})
    assert found["enough"] is False


def test_what_is_missing_and_what_is_spare(run: Run, job: Path) -> None:
    text = HEAD + "S-10,a,3,10.05,0.1,1.502\nS-20,b,1,,,\nS-05,d,1,5.02,0.1,1.502\n"
    code, found = told(run, job, text)
    assert code == 1
    assert by_part(found, "missing") == {"S-10": 0, "S-20": 0, "S-25": 1}
    assert kinds(found) == [
        ("S-10", "as ordered", 1),
        ("S-10", "spare", 2),
        ("S-20", "as ordered", 1),
        ("S-05", "spare", 1),
    ]
    # S-20 + S-05 is as thick as S-25
    assert found["enough"] is True


def test_the_same_size_of_another_maker_stands_in(run: Run, job: Path) -> None:
    with (job / "catalogue.csv").open("a", encoding="utf-8") as file:
        file.write("Q-25,25,0.2,1.502,2.60,1,GBP,Ostler and Daughter,11\n")
    code, found = told(run, job, ALL_THERE.replace("S-25,c", "Q-25,c"))
    assert (code, found["complete"], found["enough"], found["card_holds"]) == (0, True, True, False)
    assert kinds(found)[2] == ("Q-25", "stands in", 1)
    assert found["pieces"][2]["ordered_as"] == "S-25"
    assert by_part(found, "stand_in")["S-25"] == 1


def test_of_two_makers_with_one_name_the_ordered_one_is_meant(run: Run, job: Path) -> None:
    """S-25 is Ostler's alone; Penhale offers another S-25 too, dear, with a bore of 1.505: what came is Ostler's."""
    with (job / "catalogue.csv").open("a", encoding="utf-8") as file:
        file.write("S-25,25,0.2,1.505,9.00,1,GBP,Penhale Shim Stores,4\n")
    for told_of in ("24.95,0.1,1.502", ",,", ",,1.502"):
        text = ALL_THERE.replace("24.95,0.1,1.502", told_of)
        code, found = told(run, job, text)
        assert (code, found["complete"], found["pieces"][2]["kind"]) == (0, True, "as ordered")
    assert told(run, job, text, "--yes")[0] == 0
    assert run("order", job)[1].startswith("Nothing to order")


def test_a_job_without_a_seat_takes_no_bore_that_is_off_its_label(run: Run, job: Path) -> None:
    text = (job / "job.toml").read_text(encoding="utf-8")
    text = text.replace('[[seat]]\nname = "layshaft"\nshaft = "1.4990 in ± 0.0005 in"\n', "")
    (job / "job.toml").write_text(text.replace('seat = "layshaft"\n', ""), encoding="utf-8")
    code, found = told(run, job, ALL_THERE.replace("24.95,0.1,1.502", "24.95,0.1,1.45"))
    assert (code, found["pieces"][2]["kind"], found["pieces"][2]["fits"]) == (1, "wrong", False)
    out = run("order", job, "--came", parcel(job, ALL_THERE))[1]
    assert "No bore was held against a shaft: the job describes no seat" in " ".join(out.split())


def test_accepted_once_counted_pieces_as_marked(run: Run, job: Path) -> None:
    text = HEAD + "S-10,a,1,10.05,0.1,1.502\nS-20,b,2,,,\nS-25,c,1,24.95,0.1,1.40\n"
    _, found = told(run, job, text, "--yes")
    assert [(row["part"], row["on_hand"]) for row in found["accepted"]] == [("S-10", "1"), ("S-20", "2")]
    drawer = (job / "drawer.csv").read_text(encoding="utf-8")
    rows = [line for line in drawer.splitlines() if line.startswith("S-20")]
    # as marked, with the tolerance of its catalogue, so that a job without that catalogue knows it
    assert rows == ["S-20,20,0.2,1.502,2,,b,,,Ostler and Daughter"]
    code, again = told(run, job, text, "--yes")
    assert (again["accepted"], again["complete"], code) == ([], False, 1)
    assert (job / "drawer.csv").read_text(encoding="utf-8") == drawer
    # what was found the first time is found again, though the drawer holds it now
    assert [{**one, "there_already": None} for one in again["pieces"]] == [
        {**one, "there_already": None} for one in found["pieces"]
    ]
    assert again["not_served"] == found["not_served"]


def test_places_that_act_together_are_answered_no_more_where_their_pieces_are_missing(run: Run, tmp_path: Path) -> None:
    """Of the winch's drawer one piece is left, and all is bought; without two of BC-0.05 no table can be made."""
    winch = winch_with_a_little_play(tmp_path)
    text = (winch / "job.toml").read_text(encoding="utf-8")
    text = text.replace('drawer = "drawer.csv"', 'drawer = "drawer.csv"\ncatalogues = ["catalogue.csv"]')
    (winch / "job.toml").write_text(text, encoding="utf-8")
    head, row = "part,thickness_mm,tolerance_mm,inner_mm", "{0},0.002,72.4"
    (winch / "drawer.csv").write_text(f"{head},on_hand\nBC-1.00,{row.format('1.00')},1\n", encoding="utf-8")
    offers = "".join(f"BC-{size},{row.format(size)},2\n" for size in ("0.05", "0.10", "0.15", "0.20", "0.30", "0.50"))
    (winch / "catalogue.csv").write_text(f"{head},price\n{offers}", encoding="utf-8")
    _, out, _ = run("order", winch, "--json")
    lines = json.loads(out)["lines"]
    everything = "part,on_hand\n" + "".join(f"{line['part']},{line['pieces']}\n" for line in lines)
    code, found = told(run, winch, everything)
    assert (code, found["enough"], found["not_answered"]) == (0, True, [])
    part = lines[0]["part"]
    code, found = told(run, winch, "\n".join(row for row in everything.splitlines() if not row.startswith(part)) + "\n")
    assert (code, found["enough"]) == (1, False)
    assert [left["gap"] for left in found["not_answered"]] == ["preload", "backlash"]
    assert found["again"]["whole"] is True


def test_what_comes_in_two_parcels_is_complete_with_the_second(run: Run, job: Path) -> None:
    run("order", job, "-o", job / "purchase.csv")
    first = HEAD + "S-10,,1,10.05,0.1,1.502\nS-20,,1,,,\n"
    code, found = told(run, job, first, "--ordered", str(job / "purchase.csv"), "--yes")
    assert (code, found["complete"], len(found["accepted"])) == (1, False, 2)
    code, found = told(run, job, first + "S-25,,1,24.95,0.1,1.502\n", "--ordered", str(job / "purchase.csv"), "--yes")
    assert (code, found["complete"], [row["part"] for row in found["accepted"]]) == (0, True, ["S-25"])


def test_a_second_parcel_alone_is_held_against_what_is_still_to_be_ordered(run: Run, job: Path) -> None:
    first = HEAD + "S-10,,1,10.05,0.1,1.502\nS-20,,1,,,\n"
    told(run, job, first, "--yes")
    second = job.parent / "thursday.csv"
    second.write_text(HEAD + "S-25,,1,24.95,0.1,1.502\n", encoding="utf-8")
    # the fill of a smallest order is not asked for again
    code, out, _ = run("order", job, "--came", second, "--no-top-up", "--json")
    found = json.loads(out)
    assert (code, found["complete"], by_part(found, "as_ordered")) == (0, True, {"S-25": 1})


def test_another_parcel_in_a_file_of_the_same_name_is_not_taken_for_the_first(run: Run, job: Path) -> None:
    first = HEAD + "S-20,,1,,,\nS-25,,1,24.95,0.1,\n"
    assert run("order", job, "--came", parcel(job, first), "--yes", "--quiet")[0] == 1
    drawer = (job / "drawer.csv").read_bytes()
    # more came than lie there: of the first parcel some may have been fitted since, so it is only told
    code, out, _ = run("order", job, "--came", parcel(job, first.replace("S-20,,1", "S-20,,5")), "--yes")
    assert code == 1
    said = " ".join(out.split())
    assert "Fewer in the drawer than came: S-20 [parcel row 2] (1 of 5): fitted since?" in said
    assert "name its table by its date" in said
    # of another thickness it is surely another
    code, _, err = run("order", job, "--came", parcel(job, first.replace("24.95", "25.1")), "--yes")
    assert code == 2
    assert "S-25 [parcel row 3] is in the drawer, and is another" in " ".join(err.split())
    assert (job / "drawer.csv").read_bytes() == drawer


@pytest.mark.parametrize("name", ["purchase.csv", "order.json"])
def test_against_the_list_that_was_sent(run: Run, job: Path, name: str) -> None:
    """The drawer's S-10 is gone since: the order worked out anew would be another, the list is not."""
    run("order", job, "-o", job / name)
    drawer = (job / "drawer.csv").read_text(encoding="utf-8")
    (job / "drawer.csv").write_text(drawer.replace("S-10,10,0.2,1.502,1", "S-10,10,0.2,1.502,0"), encoding="utf-8")
    code, found = told(run, job, ALL_THERE, "--ordered", str(job / name))
    assert (found["ordered_by"], found["complete"]) == (str(job / name), True)
    assert by_part(found, "pieces") == {"S-10": 1, "S-20": 1, "S-25": 1}
    # the list with this drawer promises no more than came of it; but two covers take an S-10 each, and one is there
    # where the list is the order with its cards, it is missed that they take an S-10 out of the drawer
    gone = {"S-10": 1} if name == "order.json" else {}
    assert (found["enough"], found["whole"], code, found["gone_from_drawer"]) == (not gone, False, 1, gone)


@pytest.mark.parametrize("name", ["", "purchase.csv", "order.json"])
def test_what_filled_a_smallest_order_was_ordered_too(run: Run, job: Path, name: str) -> None:
    """Goods of 4.10 or 4.25 and a smallest order of 6.00: there is room for one piece more, of 1.10 to 1.75."""
    text = (job / "job.toml").read_text(encoding="utf-8")
    (job / "job.toml").write_text(text.replace("smallest_order = 3", "smallest_order = 6.00"), encoding="utf-8")
    with (job / "catalogue.csv").open("a", encoding="utf-8") as file:
        file.write("S-24,24,0.2,1.502,1.75,1,GBP,Ostler and Daughter,11\n")
    _, out, _ = run("order", job, "--json", *(["-o", job / name] if name else []))
    (more,), lines = json.loads(out)["top_up"], json.loads(out)["lines"]
    came = "part,on_hand\n" + "".join(f"{line['part']},{line['pieces']}\n" for line in lines)
    code, found = told(run, job, came, *(["--ordered", str(job / name)] if name else []))
    assert (code, found["complete"], found["enough"]) == (1, False, True)
    missing = [(line["part"], line["missing"]) for line in found["ordered"] if line["missing"]]
    assert missing == [(more["part"], more["pieces"])]
    if not name:
        assert told(run, job, came, "--no-top-up")[0] == 0


def test_the_screen_fits_80_columns_and_says_what_to_do(run: Run, job: Path) -> None:
    code, out, err = run("order", job, "--came", parcel(job, ALL_THERE.replace("24.95", "20.1")), "--yes")
    assert (code, err) == (1, "")
    # the drawer's path is as long as it is
    assert max(map(len, out.splitlines()[:-1])) <= 80
    said = " ".join(out.split())
    assert said.startswith("Not complete: 2 of 3 pieces came as ordered, 1 wrong. It is not enough")
    assert "S-25 [c] is not what its label says: 20.1 thou thick" in said
    assert "Ostler and Daughter: 1 x S-25." in said
    assert "Or order 1 x S-25 from Ostler and Daughter (11 days): 5.75 GBP in all." in said
    assert "3 pieces added to" in said


def test_its_card_is_made_of_what_is_there(run: Run, job: Path) -> None:
    card = job.parent / "card.csv"
    assert run("order", job, "--came", parcel(job, ALL_THERE), "--card", card, "--quiet") == (0, "", "")
    text = card.read_text(encoding="utf-8")
    assert "S-25 [c]" in text
    assert "S-20 [b]" in text


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("S-99,a,1,,,\n", "row 2, column part: it was not measured, and the catalogues have nothing by this name"),
        ("S-10,a,x,,,\n", "a count is a whole number"),
        ("S-10,a,1,0,,\n", "a thickness is above zero"),
        ("S-10,a,1,10,,\nS-10,a,1,10,,\n", "row 2 has a piece of this name and tag"),
    ],
)
def test_a_wrong_table_is_refused_by_row_and_nothing_is_written(run: Run, job: Path, rows: str, words: str) -> None:
    before = (job / "drawer.csv").read_bytes()
    code, _, err = run("order", job, "--came", parcel(job, HEAD + rows), "--yes")
    assert code == 2
    assert words in " ".join(err.split())
    assert (job / "drawer.csv").read_bytes() == before


def test_what_is_ordered_again_is_not_called_not_measured(run: Run, job: Path) -> None:
    """The S-25 that came was measured and is too thin; the one that is sent for it cannot have been."""
    out = run("order", job, "--came", parcel(job, ALL_THERE.replace("24.95", "20.1")), "--yes")[1]
    assert "(not measured)" not in " ".join(out.split()).split("To make it enough")[1]


def test_no_column_is_passed_over_without_a_word(run: Run, job: Path) -> None:
    """`thick` can only mean the thickness: 0.30 in place of 25 thou must not be called complete."""
    came = parcel(job, "part,on_hand,thick\nS-10,1,10\nS-20,1,20\nS-25,1,0.30\n")
    code, out, err = run("order", job, "--came", came)
    assert (code, out) == (2, "")
    assert "column thick: this column is not known. Did you mean thickness_mm?" in " ".join(err.split())
    came = parcel(job, "part,on_hand,colour\nS-10,1,red\nS-20,1,red\nS-25,1,blue\n")
    assert "Not read of what came: column colour." in " ".join(run("order", job, "--came", came)[1].split())
    assert json.loads(run("order", job, "--came", came, "--json")[1])["not_read"] == ["colour"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--yes"], "--came FILE"),
        (["--ordered", "x.csv"], "--came FILE"),
        (["--came", "nowhere.csv"], "there is no such measured parts table"),
    ],
)
def test_a_wrong_call(run: Run, job: Path, arguments: list[str], words: str) -> None:
    code, _, err = run("order", job, *arguments)
    assert (code, words in err) == (2, True)


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("list.csv", "supplier,part,pieces\nPenhale Shim Stores,S25,1\n", "S25). Did you mean S-"),
        ("list.csv", "supplier,part,pieces\nPenhale Shim Stores,S-25,half\n", "a count is a whole number"),
        ("list.csv", "supplier,part,pieces\nPenhale Shim Stores,(postage),\n", "orders nothing"),
        ("list.json", '{"lines": [{"part": 3}]}', "this is not the JSON of an order"),
        ("list.json", "[" * 5000, "this is not the JSON of an order"),
        ("list.json", '{"lines": []}', "the order orders nothing"),
    ],
)
def test_a_list_that_is_none(run: Run, job: Path, name: str, text: str, words: str) -> None:
    (job / name).write_text(text, encoding="utf-8")
    code, _, err = run("order", job, "--came", parcel(job, ALL_THERE), "--ordered", job / name)
    assert (code, words in " ".join(err.split())) == (2, True)


@pytest.mark.parametrize(
    ("measured", "wrong"),
    [(500_000, False), (460_000, False), (549_000, False), (440_000, True), (300_000, True), (50_000, True)],
)
def test_a_label_without_a_tolerance_is_held_to_a_tenth(measured: int, wrong: bool) -> None:
    """0.50 mm, and nobody says how far it may be off: 0.45 to 0.55 passes (common practice, no source)."""
    part = Part("B-050", Bracket.between(measured, measured), marked=500_000, measured=True)
    checked: Any = SimpleNamespace(as_labelled=None, piece=SimpleNamespace(part=part))
    assert off_its_label(checked) == wrong


def test_a_row_that_repeats_its_label_is_held_to_the_tolerance_of_what_was_ordered(run: Run, job: Path) -> None:
    """S-20 is ordered as 20 ± 0.2: 20.5 ± 0.1 is wrong whether or not the row says 20 again."""
    heads = ("part,measured_thou,measuring_error_thou", "part,measured_thou,measuring_error_thou,thickness_thou")
    for head, more in zip(heads, ("", ",20"), strict=True):
        rows = [f"S-10,10,0.1{',10' if more else ''}", f"S-20,20.5,0.1{more}", f"S-25,25,0.1{',25' if more else ''}"]
        code, found = told(run, job, "\n".join((head, *rows)) + "\n")
        assert {line["part"]: line["wrong"] for line in found["ordered"]} == {"S-10": 0, "S-20": 1, "S-25": 0}
        assert code == 1


def test_what_is_wrong_always_says_what_is_off(run: Run, job: Path) -> None:
    """A label of the row's own without a tolerance: 20 where 25 is read is off by more than a tenth."""
    came = "part,measured_thou,measuring_error_thou,thickness_thou\nS-20,25.5,0.1,21\n"
    _, out, _ = run("order", job, "--came", parcel(job, came))
    assert "is 25.5 thou thick, and its label says 21 thou" in " ".join(out.split())


def test_a_row_of_a_parcel_is_no_tag_on_a_piece(run_unfolded: Run, job: Path) -> None:
    """Nobody wrote "parcel row 2" on it: its name tells it, its measure where another of the name is thicker."""
    first = HEAD + "S-10,,1,10.05,0.1,1.502\nS-20,,1,20.02,0.1,1.502\nS-25,,1,,,\n"
    run_unfolded("order", job, "--came", parcel(job, first), "--yes")
    fits = [line for line in run_unfolded("plan", job)[1].splitlines() if " S-" in line]
    assert fits
    assert not [line for line in fits if "row" in line]
    # one S-20 is there, and two S-10, of which one was measured
    said = run_unfolded("plan", job, "--full")[1]
    assert "S-20 (measured" not in said
    assert "S-10 (measured 10.05 thou)" in said


def test_a_piece_that_may_not_suit_where_its_like_does_keeps_its_row(run_unfolded: Run, job: Path) -> None:
    """Two S-20 of one thickness, one with a wider bore: which is which must be told."""
    run_unfolded("order", job, "--came", parcel(job, HEAD + "S-20,,1,20,0.1,1.502\nS-20,,1,20,0.1,1.506\n"), "--yes")
    assert "S-20 [parcel row 2]" in run_unfolded("plan", job, "--full")[1]


def test_why_a_card_is_made_anew(run: Run, job: Path) -> None:
    """S-10 is 10.05 thou, known to ±1: from 9.05 to 11.05, and its label promises a tenth of that at most."""
    came = parcel(job, ALL_THERE.replace("10.05,0.1", "10.05,1.0"))
    said = " ".join(run("order", job, "--came", came)[1].split())
    assert "Make the card anew" in said
    assert "S-10: as it was measured, it can be thicker or thinner than the label promises." in said
    said = " ".join(run("order", job, "--came", parcel(job, ALL_THERE))[1].split())
    assert "than the label promises" not in said


def test_the_same_pieces_under_another_files_name_are_asked_about(run: Run, job: Path) -> None:
    """Two S-20 booked from one table lie there as thick as those of a table that has their row again."""
    first = "part,on_hand,measured_mm\nS-20,2,0.20\n"
    (job / "monday.csv").write_text(first, encoding="utf-8")
    run("order", job, "--came", job / "monday.csv", "--yes", "--quiet")
    (job / "all.csv").write_text(first, encoding="utf-8")
    said = " ".join(run("order", job, "--came", job / "all.csv")[1].split())
    assert "lie in the drawer, as thick as those of all row 2: the same come again? Then keep that row out" in said
    assert "come again" not in " ".join(run("order", job, "--came", job / "monday.csv")[1].split())


def test_what_is_accepted_names_who_sent_it(run: Run, job: Path) -> None:
    """The order names its supplier, the parcel's table does not; what a table says of itself stays."""
    _, found = told(run, job, ALL_THERE, "--yes")
    assert found["accepted"]
    assert {row["supplier"] for row in found["accepted"]} == {"Ostler and Daughter"}


def test_what_the_card_takes_out_of_the_drawer_and_is_gone_is_missed(run: Run, job: Path) -> None:
    """The demo's cards take S-05 from the drawer; two are used up for another job, and the list is the order itself."""
    drawer = (job / "drawer.csv").read_text(encoding="utf-8")
    run("order", job, "-o", job / "order.json", "--quiet")
    code, found = told(run, job, ALL_THERE, "--ordered", job / "order.json")
    assert (code, found["enough"], found["gone_from_drawer"]) == (0, True, {})
    kept = [line for line in drawer.splitlines() if not line.startswith("S-05")]
    assert len(kept) < len(drawer.splitlines())
    (job / "drawer.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    code, found = told(run, job, ALL_THERE, "--ordered", job / "order.json")
    assert (code, found["enough"], found["card_holds"], [*found["gone_from_drawer"]]) == (1, False, False, ["S-05"])
    assert "out of the drawer, which no longer holds that: it is not enough" in found["answer"]


TWO_SHAFTS = """title = "two shafts"
unit = "mm"
drawer = "drawer.csv"
catalogues = ["market.csv"]
currency = "GBP"
[[supplier]]
name = "north"
postage = 3.50
[[seat]]
name = "carrier"
shaft = "60 h6"
[[gap]]
name = "carrier float"
feeler = { go = 0.40, no_go = 0.44 }
window = { min = 0.05, max = 0.15, source = "s" }
[[gap]]
name = "input float"
feeler = { go = 0.40, no_go = 0.44 }
window = { min = 0.05, max = 0.15, source = "s" }
[[place]]
name = "carrier float"
seat = "carrier"
"""


@pytest.fixture
def two_shafts(tmp_path: Path) -> Path:
    """A carrier on 60 mm and an input shaft whose diameter is not stated; rings of both bores are on offer."""
    folder = tmp_path / "two"
    folder.mkdir()
    (folder / "drawer.csv").write_text("part,thickness_mm,inner_mm,on_hand\n")
    rows = "C60-30,0.30,0.005,60 D12,2.00,north,3\nC30-30,0.30,0.005,30 D12,1.00,north,3\n"
    (folder / "market.csv").write_text(f"part,thickness_mm,tolerance_mm,inner_mm,price,supplier,lead_days\n{rows}")
    (folder / "job.toml").write_text(f'{TWO_SHAFTS}[[place]]\nname = "input float"\n')
    return folder


def test_a_ring_for_a_place_without_a_seat_is_no_wrong_one_on_the_seat_of_another(run: Run, two_shafts: Path) -> None:
    """C30-30 was ordered for the shaft whose diameter nobody states; one bored otherwise than its label is wrong."""
    code, found = told(run, two_shafts, "part,on_hand\nC60-30,1\nC30-30,1\n")
    assert (code, found["complete"], found["enough"]) == (0, True, True)
    out = run("order", two_shafts, "--came", parcel(two_shafts, "part,on_hand\nC60-30,1\nC30-30,1\n"))[1]
    assert "No bore was held against the shaft of input float" in " ".join(out.split())
    code, found = told(run, two_shafts, "part,on_hand,inner_mm\nC60-30,1,30.1\nC30-30,1,45.0\n")
    assert (code, [one["kind"] for one in found["pieces"]]) == (1, ["wrong", "wrong"])


def test_a_gap_that_no_place_moves_is_named_and_the_other_is_ordered_for(run: Run, two_shafts: Path) -> None:
    (two_shafts / "job.toml").write_text(TWO_SHAFTS)
    code, out, _ = run("order", two_shafts)
    assert code == 1
    assert "input float: no place moves it, so no order changes it." in " ".join(out.split())
    assert "1 x C60-30" in out


def test_what_a_limit_keeps_out_is_not_said_not_to_be_on_offer(run: Run, two_shafts: Path) -> None:
    """0.40 to 0.44 in 0.05 to 0.15 takes 0.29 to 0.35. Two of 0.16 do: no piece alone is on offer that would."""
    text = (two_shafts / "market.csv").read_text()
    (two_shafts / "market.csv").write_text(text.replace("0.30,0.005", "0.16,0.001"))
    out = " ".join(run("order", two_shafts, "--need-by", "2026-11-27")[1].split())
    assert "Nothing within the limits of this order serves there; without them something on offer may." in out


def test_packs_of_one_name_that_measure_apart_are_told_to_who_fits_them(run: Run, tmp_path: Path) -> None:
    """0.60 to 0.65 less two of 0.26 leaves 0.08 to 0.13 in 0.05 to 0.15. One measures 0.260, the other 0.270: each is
    no twentieth off its marking, and the caps are 0.01 mm apart.
    """
    folder = tmp_path / "caps"
    folder.mkdir()
    gap = 'name = "float"\nfeeler = { go = 0.60, no_go = 0.65 }\nwindow = { min = 0.05, max = 0.15, source = "s" }\n'
    head = 'title = "caps"\nunit = "mm"\ndrawer = "drawer.csv"\ncatalogues = ["market.csv"]\ncurrency = "GBP"\n'
    places = '[[place]]\nname = "left"\n[[place]]\nname = "right"\n[[supplier]]\nname = "north"\npostage = 1\n'
    (folder / "job.toml").write_text(
        f'{head}equal = ["left", "right"]\n{places}[[gap]]\n{gap}[gap.effects]\nleft = -1\nright = -1\n'
    )
    (folder / "drawer.csv").write_text("part,thickness_mm,on_hand\n")
    (folder / "market.csv").write_text("part,thickness_mm,tolerance_mm,price,supplier\nB-26,0.26,0.003,2.00,north\n")
    out = " ".join(run("order", folder)[1].split())
    assert "pieces found to be: B-26 0.25 to 0.27 mm, alike in left and right;" in out
    rows = "part,on_hand,measured_mm,measuring_error_mm\nB-26,1,0.260,0.002\nB-26,1,0.270,0.002\n"
    card = tmp_path / "card.txt"
    out = run("order", folder, "--came", parcel(folder, rows), "--card", card)[1]
    apart = "measured right gets 0.01 mm more than left, with pieces of one name: is that too much?"
    assert apart in " ".join(out.split())
    assert apart in " ".join(card.read_text(encoding="utf-8").split())
