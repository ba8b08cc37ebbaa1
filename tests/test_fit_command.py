"""`shimopt fit`: parts on seats, pieces in hand, what people and programs read of it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.command import Run
from tests.job_files import JOB, edited, write_job
from tests.readme import ROOT

DEMO = str(ROOT / "demo_data" / "swing-bridge")


def fits(run: Run, *arguments: str) -> list[dict[str, Any]]:
    _, out, _ = run("fit", *arguments, "--json")
    told = json.loads(out)
    assert told["format"] == 1
    return list(told["fits"])


def squeezed(text: str) -> str:
    return " ".join(text.split())


def test_on_the_demo_the_ring_with_the_wrong_bore_is_stopped_and_a_good_one_passes(
    run: Run,
) -> None:
    code, out, _ = run("fit", DEMO)
    assert code == 0
    upper, lower = out.split("\n\n")
    assert "✓ R-07 (7 thou) suits." in upper
    # 750 - 625 = 125 thou of play at least; 0.4 mm are 15.75 thou
    assert (
        "✗ W-08 (8 thou) stop: hangs off centre: bore 750 thou on shaft 624.8 thou leaves at least 125 thou of "
        "play, allowed are 15.75 thou."
    ) in squeezed(upper)
    assert "✗ R-07" in lower
    assert "✓ W-08 (8 thou) suits." in lower
    assert max(map(len, out.splitlines())) <= 80


def test_programs_read_verdict_findings_and_what_was_not_checked(run: Run) -> None:
    rows = {(row["seat"], row["part"]): row for row in fits(run, DEMO)}
    assert len(rows) == 8
    bad, good = rows["plain end", "W-08"], rows["plain end", "R-07"]
    assert (bad["verdict"], good["verdict"]) == ("stop", "suits")
    assert good["findings"] == []
    finding = bad["findings"][0]
    assert (finding["grade"], finding["code"]) == ("stop", "bore_too_large")
    # 0.75 in - 0.625 in = 0.125 in = 3.175 mm
    assert finding["numbers"]["least_play"] == 3.175
    assert "fillet" in [entry["rule"] for entry in good["not_checked"]]


def test_a_part_that_suits_no_seat_gives_exit_code_1(run: Run) -> None:
    assert run("fit", DEMO, "--seat", "plain end", "--part", "W-08")[0] == 1
    assert run("fit", DEMO, "--seat", "plain end", "--part", "R-07")[0] == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--part", "R-7"], "did you mean R-07?"),
        (["--seat", "plane end"], "did you mean plain end?"),
        (["--accept"], "--measured"),
        (["--measured", "nowhere.csv"], "there is no such measured parts table"),
        (["-o", f"{DEMO}/drawer.csv"], "name it drawer.svg"),
    ],
)
def test_a_wrong_call_is_told_how_to_mend_it(run: Run, arguments: list[str], words: str) -> None:
    code, _, err = run("fit", DEMO, *arguments)
    assert code == 2
    assert words.casefold() in err.casefold()


def test_a_job_without_seats_is_told_to_describe_one(tmp_path: Path, run: Run) -> None:
    bare = edited(
        ('[[seat]]\nname = "plain end"\nshaft = "0.6248 in ± 0.0002 in"\n\n', ""), ('seat = "plain end"\n', "")
    )
    code, _, err = run("fit", str(write_job(tmp_path, bare)))
    assert (code, "no [[seat]]" in err) == (2, True)


MEASURED = """\
part,piece,measured_thou,measuring_error_thou,burr_thou,inner_in,outer_in,material
R-07,a,7.01 7.02 7.00,0.1,,0.6265,0.995,stainless steel
R-07,b,7.9 7.95 7.9,0.1,,0.7505,1.12,stainless steel
R-03,,3.1 3.9,0.1,,0.6266,,1.4310
R-03,d,3.1,0.1,0.4,0.6266,,1.4310
R-03,e,3,1,,0.6266,,1.4310
R-03,f,3.05,,,0.5,,1.4310
X-9,g,3.05,0.1,,0.6265,,1.4310
"""


def checked(tmp_path: Path, run: Run) -> dict[tuple[str, str, str], dict[str, Any]]:
    (tmp_path / "arrived.csv").write_text(MEASURED, encoding="utf-8")
    rows = fits(run, DEMO, "--measured", str(tmp_path / "arrived.csv"))
    return {(row["part"], row["piece"], row["seat"]): row for row in rows}


def codes(row: dict[str, Any]) -> list[str]:
    return [finding["code"] for finding in row["findings"]]


def test_pieces_in_hand_are_judged_by_what_was_measured(tmp_path: Path, run: Run) -> None:
    rows = checked(tmp_path, run)
    good = rows["R-07", "a", "plain end"]
    assert (good["verdict"], good["as_labelled"], codes(good)) == ("suits", True, [])
    # stainless strip of 7 thou = 0.178 mm may be ±0.015 mm = ±0.59 thou (ISO 9445-1): 7.9 thou is not a R-07
    swapped = rows["R-07", "b", "collar end"]
    assert (swapped["verdict"], swapped["as_labelled"]) == ("caution", False)
    assert set(codes(swapped)) == {"not_as_labelled"}
    assert all("looks like W-08" in finding["words"] for finding in swapped["findings"])
    assert rows["R-07", "b", "plain end"]["verdict"] == "stop"
    # common practice: spots differ by at most 0.01 mm = 0.39 thou
    assert "uneven_thickness" in codes(rows["R-03", "arrived row 4", "plain end"])
    assert rows["R-03", "arrived row 4", "plain end"]["verdict"] == "caution"
    assert codes(rows["R-03", "d", "plain end"]) == ["burr"]
    assert rows["R-03", "d", "plain end"]["verdict"] == "stop"
    # a calliper of ±1 thou = ±0.0254 mm
    assert "coarse_instrument" in codes(rows["R-03", "e", "plain end"])
    assert {"no_measuring_error", "bore_too_small"} <= set(codes(rows["R-03", "f", "plain end"]))
    unknown = rows["X-9", "g", "plain end"]
    assert (unknown["as_labelled"], codes(unknown), unknown["verdict"]) == (None, ["label_not_known"], "suits")


def test_no_label_is_judged_by_a_tolerance_of_another_material_or_by_an_unconfirmed_row(
    tmp_path: Path, run: Run
) -> None:
    (tmp_path / "arrived.csv").write_text(
        "part,piece,measured_thou,measuring_error_thou,material\nR-07,a,7.9,0.1,brass\nR-07,b,7.9,0.1,\n",
        encoding="utf-8",
    )
    for row in fits(run, DEMO, "--measured", str(tmp_path / "arrived.csv")):
        assert (row["as_labelled"], codes(row)[0]) == (None, "label_has_no_tolerance")
    # 0.25 mm is far from 0.30 +0/-0.05 by DIN 988, but this pair of bore and outside was seen in no copy
    job = edited(
        ('"0.6248 in ± 0.0002 in"', '"22 mm ± 0.01 mm"'), ('"drawer.csv"', '"drawer.csv"\ncatalogues = ["din988"]')
    )
    (tmp_path / "arrived.csv").write_text(
        "part,measured_mm,measuring_error_mm\nPS 22x30x0.3,0.2,0.002\n", encoding="utf-8"
    )
    [row] = fits(run, str(write_job(tmp_path, job)), "--measured", str(tmp_path / "arrived.csv"))
    assert (row["as_labelled"], "label_unconfirmed" in codes(row)) == (None, True)
    assert "unconfirmed" in row["findings"][0]["words"]


def test_the_incoming_check_reads_well_at_80_columns(tmp_path: Path, run: Run) -> None:
    (tmp_path / "arrived.csv").write_text(MEASURED, encoding="utf-8")
    code, out, _ = run("fit", DEMO, "--measured", str(tmp_path / "arrived.csv"))
    assert code == 1  # the one with a burr fits nowhere
    assert "✓ R-07 [a]: fits; what its label says" in out
    assert "? R-07 [b]: fits; mind: not what its label says" in out
    assert "✗ R-03 [d]: does not fit; what its label says" in out
    assert "(outer diameter as the label says, not measured)" in squeezed(out)
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("row", "where", "rule"),
    [
        ("R-07,a,,0.1,", "row 2, column measured_thou", "not measured"),
        ("R-07,a,7 x,0.1,", "row 2, column measured_thou", "not a number"),
        ("R-07,a,7,8,", "row 2, column measured_thou", "above zero"),
        # 7 thou is 0.1778 mm and 0.007 in; X-1 is known nowhere
        ("R-07,a,0.1778,,", "row 2, column measured_thou", "the label means 7 thou"),
        ("R-07,a,70,,", "row 2, column measured_thou", "the label means 7 thou"),
        ("X-1,a,0.007,,", "row 2, column measured_thou", "100 times off all other pieces or more"),
        ("R-07,a,7,-1,", "row 2, column measuring_error_thou", "not negative"),
        ("R-07,a,7,0.1,plane end", "row 2, column seat", "no such seat"),
        ("R-07,a,7,0.1,\nR-07,a,7,0.1,", "row 3, column piece", "row 2 has a piece"),
    ],
)
def test_a_measured_row_that_cannot_be_is_told_with_its_place(
    tmp_path: Path, run: Run, row: str, where: str, rule: str
) -> None:
    path = tmp_path / "arrived.csv"
    path.write_text(f"part,piece,measured_thou,measuring_error_thou,seat\n{row}\n", encoding="utf-8")
    _, out, _ = run("fit", DEMO, "--measured", str(path), "--json")
    problem = json.loads(out)["errors"][0]
    assert problem["where"] == where
    assert rule in problem["rule"]


def test_names_with_markup_and_terminal_codes_are_harmless_everywhere(tmp_path: Path, run: Run) -> None:
    drawer = 'part,thickness_thou,inner_in,outer_in,form,material\n"<b>[red]&\x1b[31m",3,0.6265,0.9,ring,"<script>"\n'
    job = edited(("plain end", "a <i>&amp; seat"), of=JOB.replace('seat = "plain end"', 'seat = "a <i>&amp; seat"'))
    write_job(tmp_path, job, drawer)
    code, out, _ = run("fit", str(tmp_path), "--draw", str(tmp_path / "a.svg"))
    assert code == 0
    assert "\x1b" not in out
    assert "<b>[red]&" in out
    svg = (tmp_path / "a.svg").read_text(encoding="utf-8")
    assert "<b>" not in svg
    assert "&lt;b&gt;[red]&amp;" in svg


@pytest.mark.parametrize(
    "asked", [("--draw", "-o", "FILE"), ("-o", "FILE", "--draw"), ("-o", "FILE"), ("--draw", "FILE")]
)
def test_the_picture_goes_where_either_option_says(tmp_path: Path, run: Run, asked: tuple[str, ...]) -> None:
    target = tmp_path / "a.svg"
    code, _, err = run("fit", DEMO, "--part", "W-08", *(str(target) if word == "FILE" else word for word in asked))
    assert (code, target.exists()) == (0, True), err
    assert list(tmp_path.iterdir()) == [target]
    assert run("fit", DEMO, "--draw")[0] == 2


def test_help_shows_examples_and_starts_without_the_heavy_libraries() -> None:
    for command in ("fit", "parts", "make"):
        done = subprocess.run(
            [sys.executable, "-X", "importtime", "-m", "shimopt", command, "--help"],
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=True,
            timeout=60,
            cwd=ROOT,
        )
        assert f"shimopt {command} " in done.stdout.partition("Examples:")[2]
        for library in ("ortools", "pandas", "pint", "openpyxl", "pydantic"):
            assert f" {library}\n" not in done.stderr


# bores on a shaft of 15.8648 to 15.8750 mm, where 0.40 mm of play are allowed: 0.125 to 0.135 mm of play suit, 0.395 to
# 0.405 may be too much, 0.475 are, and 15.5 does not go on (by hand)
BORES = ["15.5"] * 50 + ["16.0"] * 100 + ["16.27"] * 30 + ["16.35"] * 20


def large(tmp_path: Path) -> str:
    rows = (f"R-{n:03d},{0.1 + n / 1000:.3f},{bore},1\n" for n, bore in enumerate(BORES))
    return str(write_job(tmp_path, drawer="part,thickness_mm,inner_mm,on_hand\n" + "".join(rows)))


def test_of_a_large_drawer_people_read_what_suits_and_each_reason_once(tmp_path: Path, run_unfolded: Run) -> None:
    code, out, _ = run_unfolded("fit", large(tmp_path))
    assert code == 1
    assert "200 parts: 100 suit, 30 with a caution, 70 with a stop." in out
    assert out.count(" suits.") == 40
    # 0.15 / 0.0254, for the job is in thou
    assert "✓ R-050 (5.91 thou) suits." in out
    assert "60 more suit." in out
    kinds = ("? 30 parts caution, such as R-150", "✗ 50 parts stop, such as R-000", "✗ 20 parts stop, such as R-180")
    assert [out.count(kind) for kind in kinds] == [1, 1, 1]
    assert out.index(kinds[0]) < out.index(kinds[1]) < out.index(kinds[2])
    assert "--full" in out


def test_every_part_of_a_large_drawer_has_its_row_where_it_is_asked_for(tmp_path: Path, run: Run) -> None:
    job = large(tmp_path)
    _, out, _ = run("fit", job, "--full")
    assert [sum(line.startswith(f"  {sign} ") for line in out.splitlines()) for sign in "✓?✗"] == [100, 30, 70]
    told = fits(run, job)
    assert len(told) == 200
    # a program is told all that there is to say of a part, though a person needs the first stop alone
    assert {len(row["not_checked"]) for row in told if row["verdict"] == "stop"} == {
        len(row["not_checked"]) for row in told if row["verdict"] == "suits"
    }
    code, out, _ = run("fit", job, "--part", "R-060", "--part", "R-000")
    assert (code, "R-060" in out, "R-000" in out, "R-001" in out) == (1, True, True, False)
