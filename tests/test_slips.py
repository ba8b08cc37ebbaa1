"""Slips of a unit stop a job and say what was probably meant, slips of a point are cautions, honest figures neither.

The slips are those of published errata: a lost zero (10), inches for millimetres (25.4), thou for millimetres (39.37)
or for inches (1000). What was meant is the same digits in the other unit, by hand: 1 in = 25.4 mm = 1000 thou.
"""

from __future__ import annotations

import json
import re
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest

from shimopt.cli.main import main
from shimopt.errors import InputError, Problem
from shimopt.job import load_job, size_slips
from shimopt.job.reading_slips import slips_of
from shimopt.lengths import Bracket
from shimopt.parts import Part, StockLine
from shimopt.planner import Decision, decide
from shimopt.reasons import suspicions
from shimopt.reasons.slip_facts import ReadingSuspect
from shimopt.recording.readings_after import readings_after, refuse_slips
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import sheet_content
from shimopt.render.screens.layout import UNICODE
from shimopt.render.screens.short_screen import short_lines
from shimopt.seats import Finding
from shimopt.words.finding_words import finding_words
from shimopt.words.headline import headlines
from shimopt.words.next_steps import next_steps
from shimopt.words.speaker import Speaker
from tests import screens
from tests.job_files import write_job

SLIPS = Path(__file__).parent / "data" / "slips"
# a shop's usual sizes, in each unit
SIZES = {"mm": "0.1 0.2 0.5", "thou": "4 8 20", "in": "0.004 0.008 0.020", "um": "100 200 500"}
WINDOWS = {"mm": (0.10, 0.30), "thou": (4, 12), "in": (0.004, 0.012), "um": (100, 300)}


def written(
    folder: Path,
    unit: str,
    *readings: str,
    window: tuple[object, object] | None = None,
    sizes: str = "",
    drawer: str = "",
) -> Path:
    """A job with these readings; `sizes` on hand in its unit, or a whole `drawer`."""
    low, high = window or WINDOWS[unit]
    gaps = "".join(f'[[gap]]\nname = "{n}"\n{reading}\n' for n, reading in enumerate(readings, start=1))
    head = f'unit = "{unit}"\ndrawer = "d.csv"\n[window]\nmin = {low}\nmax = {high}\nsource = "test"\n'
    (folder / "job.toml").write_text(head + gaps, encoding="utf-8")
    rows = "".join(f"S{n},{size},3\n" for n, size in enumerate((sizes or SIZES[unit]).split()))
    (folder / "d.csv").write_text(drawer or f"part,thickness_{unit},on_hand\n{rows}", encoding="utf-8")
    return folder


def stopped(job: Path) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as caught:
        load_job(job)
    return caught.value.problems


def screen_text(found: Decision) -> str:
    return screens.as_text(short_lines(found, found.job.unit, 80, UNICODE))


def cautions(job: Path) -> list[Finding]:
    return list(suspicions(load_job(job)))


@pytest.mark.parametrize(
    ("unit", "reading", "asked"),
    [
        ("thou", "feeler = { go = 0.017, no_go = 0.018 }", "0.017 to 0.018 thou? 17 to 18 thou, or 0.017 to 0.018 in,"),
        ("thou", "feeler = { snug = 0.017, step = 0.001 }", "0.017 thou? 17 thou, or 0.017 in,"),
        ("thou", 'feeler = { go = "0.017 thou", no_go = "0.018 thou" }', "0.017 to 0.018 thou? 17 to 18 thou was"),
        ("thou", "value = 0.015", "0.015 thou? 15 thou, or 0.015 in,"),
        # no unit is a thousandth of a thou, but a comma of thousands may have been typed, or a point lost
        ("thou", "feeler = { go = 17000, no_go = 18000 }", "17000 to 18000 thou? 17 to 18 thou was"),
        # 0.43 mm = 16.929134 thou, told in four digits
        ("thou", "value = 0.43", "0.43 thou? 16.93 thou, or 0.43 mm,"),
        ("mm", "value = 17", "17 mm? 0.4318 mm, or 17 thou,"),
        ("mm", "feeler = { go = 17, no_go = 18 }", "17 to 18 mm? 0.4318 to 0.4572 mm, or 17 to 18 thou,"),
        ("mm", "value = 430", "430 mm? 0.43 mm, or 430 um,"),
        (
            "mm",
            "feeler = { go = 0.017, no_go = 0.018 }",
            "0.017 to 0.018 mm? 0.4318 to 0.4572 mm, or 0.017 to 0.018 in,",
        ),
        ("mm", "value = 0.0175", "0.0175 mm? 0.4445 mm, or 0.0175 in,"),
        # 0.012 thou is 304.8 nm and came in as 305
        ("thou", "value = 0.012", "0.012 thou? 12 thou, or 0.012 in,"),
        ("thou", "value = 0.017", "0.017 thou? 17 thou, or 0.017 in,"),
        ("thou", "value = 0.031", "0.031 thou? 31 thou, or 0.031 in,"),
        ("mm", "cover_gap = { value = 12 }", "12 mm? 0.3048 mm, or 12 thou,"),
        ("in", "value = 17", "17 in? 0.017 in, or 17 thou,"),
        ("in", "value = 0.43", "0.43 in? 0.01693 in, or 0.43 mm,"),
        (
            "in",
            "indicator = { readings = [0.43, 0.44, 0.43] }",
            "0.43 to 0.44 in? 0.01693 to 0.01732 in, or 0.43 to 0.44 mm,",
        ),
        ("um", "feeler = { go = 17, no_go = 18 }", "17 to 18 um? 431.8 to 457.2 um, or 17 to 18 thou,"),
        ("um", "value = 0.43", "0.43 um? 430 um, or 0.43 mm,"),
    ],
)
def test_a_slip_of_a_unit_stops_the_job_and_says_what_was_meant(
    tmp_path: Path, unit: str, reading: str, asked: str
) -> None:
    [problem] = stopped(written(tmp_path, unit, reading))
    assert problem.where == f'[[gap]] 1 "1", {reading.split()[0]}'
    assert asked in problem.rule
    assert "probably meant" in problem.rule
    assert "checked = true to the gap" in problem.remedy
    # whoever looked again is believed, and then even the thinnest reading is read as it stands
    assert not cautions(written(tmp_path, unit, f"checked = true\n{reading}"))


@pytest.mark.parametrize(
    ("value", "window", "meant"),
    [("0.017", (0.10, 0.30), "0.017 in (0.4318 mm)"), ("0.002", (0.05, 0.10), "0.002 in (0.0508 mm)")],
)
def test_what_a_dial_of_a_micrometre_shows_is_a_caution_and_does_not_stop(
    tmp_path: Path, value: str, window: tuple[float, float], meant: str
) -> None:
    [found] = cautions(written(tmp_path, "mm", f"value = {value}", window=window))
    assert found.grade == "caution"
    assert f"was {meant} meant?" in finding_words(found, Speaker("mm"))
    assert not cautions(written(tmp_path, "mm", f"value = {value}\nchecked = true", window=window))


def test_a_long_reading_of_more_digits_than_a_gauge_of_another_unit_shows_does_not_stop(tmp_path: Path) -> None:
    # nobody reads 17.35 thou: a caution, and the plan goes on
    [found] = cautions(written(tmp_path, "mm", "value = 17.35"))
    assert found.grade == "caution"


def test_neighbours_that_share_a_slip_do_not_excuse_it(tmp_path: Path) -> None:
    problems = stopped(written(tmp_path, "mm", "value = 17", "value = 16", "value = 18", "value = 0.35"))
    assert [problem.where for problem in problems] == [f'[[gap]] {n} "{n}", value' for n in (1, 2, 3)]


def test_where_the_window_has_no_top_the_neighbours_say_what_is_usual(tmp_path: Path) -> None:
    readings = ["value = 17.5", "value = 18.5", "value = 430"]
    # 430 um is 16.9 thou
    [problem] = stopped(written(tmp_path, "thou", *readings, window=(4, '"none"'), sizes="4 8"))
    assert "or 430 um," in problem.rule


def test_checked_may_stand_in_the_reading_and_in_a_table_of_gaps(tmp_path: Path) -> None:
    load_job(written(tmp_path, "thou", "feeler = { go = 0.017, no_go = 0.018, checked = true }"))
    job = written(tmp_path, "mm")
    (job / "job.toml").write_text(f'gaps = "g.csv"\n{(job / "job.toml").read_text()}', encoding="utf-8")
    (job / "g.csv").write_text("gap,low_mm,high_mm,checked\na,17,18,yes\nb,0.40,0.42,\n", encoding="utf-8")
    assert len(load_job(job).gaps) == 2
    (job / "g.csv").write_text("gap,low_thou,high_thou,checked\na,430,440,no\nb,0.40,0.42,\n", encoding="utf-8")
    [problem] = stopped(job)
    # the number was typed in the column's unit: 430 um is 16.929134 thou
    assert (problem.where, problem.value) == ("row 2, column low_thou", "435 thou")
    assert "or 435 um," in problem.rule
    assert "in a column checked" in problem.remedy
    (job / "g.csv").write_text("gap,low_mm,high_mm,checked\na,0.40,0.42,perhaps\n", encoding="utf-8")
    assert stopped(job)[0].where == "row 2, column checked"


@pytest.mark.parametrize(
    ("unit", "reading", "window", "sizes"),
    [
        # the drawer holds sizes of that order
        ("mm", "value = 2.0", None, "1.73 0.1"),
        ("mm", "value = 17", None, "0.1 0.5 8"),
        # tight gaps, as they are read
        ("mm", "value = 0.02", (0.15, 0.35), ""),
        ("mm", "feeler = { go = 0.02, no_go = 0.03 }", (0.15, 0.35), ""),
        ("mm", 'value = "0.017 mm ± 0.002 mm"', (0.15, 0.35), ""),
        ("thou", "value = 0.5", None, ""),
        ("thou", "feeler = { no_go = 1.5 }", None, ""),
        ("mm", "value = 0", None, ""),
        ("mm", 'built_up = [{ name = "a", add = 20.013 }, { name = "b", take = 20.001 }]', None, ""),
        # what shims are for: many times the window, and the drawer bridges it
        ("mm", "value = 0.35", (0, 0.02), ""),
        ("mm", "value = 0.7", ("-0.012", "-0.008"), ""),
        # loose, tight, and preload as read
        ("thou", "value = 60", None, ""),
        ("thou", "value = -3", ("-12", "-4"), ""),
    ],
)
def test_honest_readings_are_not_asked_about(
    tmp_path: Path, unit: str, reading: str, window: tuple[object, object] | None, sizes: str
) -> None:
    assert not cautions(written(tmp_path, unit, reading, window=window, sizes=sizes))


@pytest.mark.parametrize(
    ("unit", "window", "readings", "suspect", "meant"),
    [
        ("thou", (4, 12), ["value = 17", "value = 160", "value = 15"], "2", "16 thou"),
        ("thou", (4, 12), ["value = 17", "value = 1.6", "value = 15"], "2", "16 thou"),
        ("thou", (4, '"none"'), ["value = 17.5", "value = 18.5", "value = 175"], "3", "17.5 thou"),
        ("thou", (0, 8), ["value = 1.7", "value = 1.8", "value = 17"], "3", "1.7 thou"),
        ("mm", (0.1, 0.3), ["feeler = { go = 3.5, no_go = 4.0 }", "value = 0.35", "value = 0.4"], "1", "0.375 mm"),
        # nobody typed a bare number: a slip of the point is all that can be meant
        ("thou", (4, 12), ['value = "0.3 in"', "value = 10", "value = 11"], "1", "30 thou"),
    ],
)
def test_ten_times_or_a_tenth_is_a_caution_and_the_plan_goes_on(
    tmp_path: Path, unit: str, window: tuple[object, object], readings: list[str], suspect: str, meant: str
) -> None:
    [found] = cautions(written(tmp_path, unit, *readings, window=window))
    assert (found.place, found.grade) == (suspect, "caution")
    assert f"was {meant} meant" in finding_words(found, Speaker(unit))
    n = int(suspect) - 1
    checked = [*readings[:n], f"checked = true\n{readings[n]}", *readings[n + 1 :]]
    assert not cautions(written(tmp_path, unit, *checked, window=window))


@pytest.mark.parametrize(
    "values",
    [
        ["value = 17", "value = 9", "value = 30"],
        ["value = 2", "value = 9"],
        ["feeler = { no_go = 1.5 }", "value = 11", "value = 10"],
        ["value = 8", 'value = "60 thou"'],
        ["value = -3", "value = 11"],
        ["value = 23", "value = 1"],
        ["feeler = { go = 22, no_go = 24 }", "feeler = { no_go = 2 }"],
    ],
)
def test_honest_readings_among_others_are_not_asked_about(tmp_path: Path, values: list[str]) -> None:
    assert not cautions(written(tmp_path, "thou", *values))


@pytest.mark.parametrize(
    ("unit", "window", "reading", "asked"),
    [
        ("mm", (4, 12), "value = 0.35", "4 to 12 mm? 0.1016 to 0.3048 mm, or 4 to 12 thou,"),
        ("in", (4, 12), "value = 0.017", "4 to 12 in? 0.004 to 0.012 in, or 4 to 12 thou,"),
        ("thou", (0.004, 0.012), "value = 17", "0.004 to 0.012 thou? 4 to 12 thou, or 0.004 to 0.012 in,"),
    ],
)
def test_a_window_of_another_order_than_readings_and_pieces_is_asked_about(
    tmp_path: Path, unit: str, window: tuple[object, object], reading: str, asked: str
) -> None:
    [problem] = stopped(written(tmp_path, unit, reading, window=window))
    assert problem.where == "[window]"
    assert asked in problem.rule
    load_job(written(tmp_path, unit, f"checked = true\n{reading}", window=window))


@pytest.mark.parametrize(
    ("sizes", "reading", "where", "asked"),
    [
        # the whole column in thou
        ("5 7 10", "value = 0.4", "column thickness_mm", "sizes such as 5 mm? 5 thou was probably meant"),
        # one size in um, one in inches
        ("0.1 0.2 350", "value = 0.6", "row 4, column thickness_mm", "350 mm? 350 um (0.35 mm) was probably meant"),
        ("0.1 0.2 0.004", "value = 0.6", "row 4, column thickness_mm", "0.004 mm? 0.004 in"),
        # all of them in inches, where more than half a millimetre is lacking
        ("0.005 0.007 0.010", "value = 0.9", "column thickness_mm", "0.01 mm? 0.01 in was probably meant"),
    ],
)
def test_sizes_of_another_order_are_asked_about(
    tmp_path: Path, sizes: str, reading: str, where: str, asked: str
) -> None:
    [problem] = stopped(written(tmp_path, "mm", reading, sizes=sizes))
    assert (Path(problem.file).name, problem.where) == ("d.csv", where)
    assert asked in problem.rule


def test_pieces_of_the_order_of_what_is_in_the_machine_are_not_asked_about(tmp_path: Path) -> None:
    # bucket shims of 4 mm under gaps of a tenth of that
    job = written(tmp_path, "mm", "value = 0.25", sizes="4.30 4.35 4.40")
    [problem] = stopped(job)
    assert "4.3 thou was probably meant" in problem.rule
    with (job / "job.toml").open("a", encoding="utf-8") as file:
        file.write('[[place]]\nname = "1"\npieces = { min = 1, max = 1 }\ninstalled = ["S1"]\n')
    assert not cautions(job)


def test_one_thick_piece_of_no_use_is_a_caution_unless_it_was_measured_or_is_a_spacer(tmp_path: Path) -> None:
    job = written(tmp_path, "mm", "value = 0.5", sizes="0.1 0.2 12")
    [found] = cautions(job)
    assert (found.part, found.grade, found.code) == ("S2", "caution", "size_suspect")
    assert "12.00 mm by the drawer" in finding_words(found, Speaker("mm"))
    assert "was 12 thou meant" in finding_words(found, Speaker("mm"))
    assert "size_suspect" in [finding.code for finding in decide(load_job(job)).findings]
    for column, cell in (("form", "spacer"), ("measured_mm", "12.01")):
        drawer = f"part,thickness_mm,on_hand,{column}\nA,0.1,3,\nB,0.2,3,\nC,12,1,{cell}\n"
        assert not cautions(written(tmp_path, "mm", "value = 0.5", drawer=drawer))
    # several of that order: the drawer holds shims beside spacers
    assert not cautions(written(tmp_path, "mm", "value = 0.5", sizes="0.1 0.2 10 12"))
    # foils are sold from 0.01 mm
    assert not cautions(written(tmp_path, "mm", "value = 0.5", sizes="0.01 0.1 0.2"))


HELD = '[[place]]\nname = "1"\ninstalled = ["H-10", "H-05"]\n'


@pytest.mark.parametrize(
    ("unit", "h05", "h10", "on_hand", "row", "asked"),
    [
        # 0.010 in = 10 thou, 0.254 / 25.4 in = 10 thou, 0.127 / 25.4 in = 5 thou
        ("thou", "5", "0.010", 0, 4, "0.01 thou? 0.01 in (10 thou) was"),
        ("thou", "5", "0.254", 0, 4, "0.254 thou? 0.254 mm (10 thou) was"),
        ("thou", "0.127", "10", 0, 3, "0.127 thou? 0.127 mm (5 thou) was"),
        ("thou", "5", "0.010", 1, 4, "0.01 thou? 0.01 in (10 thou) was"),
        ("thou", "5", "0.254", 1, 4, "0.254 thou? 0.254 mm (10 thou) was"),
        # 0.0118 x 25.4 = 0.29972 mm
        ("mm", "0.10", "0.0118", 0, 4, "0.0118 mm? 0.0118 in (0.2997 mm) was"),
    ],
)
def test_a_size_of_a_piece_in_the_machine_is_asked_about_as_one_on_hand(
    tmp_path: Path, unit: str, h05: str, h10: str, on_hand: int, row: int, asked: str
) -> None:
    others = ("3", "8") if unit == "thou" else ("0.15", "0.20")
    rows = f"H-03,{others[0]},1\nH-05,{h05},0\nH-10,{h10},{on_hand}\nH-08,{others[1]},1\n"
    reading = f"feeler = {{ go = 14, no_go = 15 }}\n{HELD}" if unit == "thou" else f"value = 0.36\n{HELD}"
    [problem] = stopped(written(tmp_path, unit, reading, drawer=f"part,thickness_{unit},on_hand\n{rows}"))
    assert (Path(problem.file).name, problem.where) == ("d.csv", f"row {row}, column thickness_{unit}")
    assert asked in problem.rule
    measured = f"part,thickness_{unit},on_hand,measured_{unit}\n" + "".join(
        f"{line},{line.split(',')[1]}\n" for line in rows.splitlines()
    )
    load_job(written(tmp_path, unit, reading, drawer=measured))


@pytest.mark.parametrize(
    ("unit", "ring", "asked"),
    [
        # 127 um = 0.127 mm = 5 thou
        ("thou", "127", "127 thou? 127 um (5 thou) was"),
        ("mm", "127", "127 mm? 127 um (0.127 mm) was"),
        # rings are sold so: 1/8 in, 3.2 mm, 2.5 mm, whatever they would be in another unit
        ("thou", "125", ""),
        ("mm", "3.2", ""),
        ("mm", "2.5", ""),
    ],
)
def test_a_ring_in_the_machine_is_asked_about_where_nobody_sells_it(
    tmp_path: Path, unit: str, ring: str, asked: str
) -> None:
    others = ("3", "8", "10") if unit == "thou" else ("0.10", "0.15", "0.20")
    rows = "".join(f"S{n},{size},1\n" for n, size in enumerate(others))
    reading = "feeler = { go = 14, no_go = 15 }" if unit == "thou" else "value = 0.36"
    reading += '\n[[place]]\nname = "1"\ninstalled = ["S0", "H-05"]'
    job = written(tmp_path, unit, reading, drawer=f"part,thickness_{unit},on_hand\n{rows}H-05,{ring},0\n")
    if not asked:
        assert not cautions(job)
        return
    [problem] = stopped(job)
    assert problem.where == f"row 5, column thickness_{unit}"
    assert asked in problem.rule


def test_a_thin_piece_in_the_machine_that_could_be_a_foil_is_a_caution(tmp_path: Path) -> None:
    drawer = "part,thickness_mm,on_hand\nH-05,0.10,1\nH-10,0.01,0\nH-20,0.20,1\n"
    [found] = cautions(written(tmp_path, "mm", f"value = 0.36\n{HELD}", drawer=drawer))
    assert (found.part, found.grade, found.code) == ("H-10", "caution", "size_suspect")
    # 0.01 in = 0.254 mm
    assert "far thinner than all else there: was 0.01 in meant" in finding_words(found, Speaker("mm"))
    # half a thou is sold, as 0.5 thou and as 0.0127 mm; so is 0.01 mm, in thou 0.394
    for unit, thin in (("thou", "0.5"), ("mm", "0.0127"), ("thou", "0.394")):
        load_job(written(tmp_path, unit, "checked = true\nvalue = 0.3", sizes=f"{SIZES[unit]} {thin}"))


def test_metal_is_not_asked_for_on_a_reading_that_looks_like_a_slip(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = written(tmp_path, "thou", "value = 17", "value = 1.6", "value = 15")
    for call in (["plan"], ["why"], ["letter", "-o", str(tmp_path / "letter.html")], ["order"]):
        with pytest.raises(SystemExit) as left:
            main([call[0], str(job), *call[1:]])
        assert left.value.code == 1
        told = " ".join(capsys.readouterr().out.split())
        assert "metal" not in told
    assert "metal" not in (tmp_path / "letter.html").read_text(encoding="utf-8")
    assert "read_again_first" in [reason.code for reason in decide(load_job(job)).reasons]
    # a reading that was looked at again is believed: then metal must come off
    job = written(tmp_path, "thou", "value = 17", "checked = true\nvalue = 1.6", "value = 15")
    assert "below_window" in [reason.code for reason in decide(load_job(job)).reasons]


def test_the_job_with_a_blade_in_inches_ends_with_exit_2_and_no_word_of_metal(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for command, *more in (["plan"], ["why"], ["order"], ["letter", "-o", "x.pdf"], ["sheet", "-o", "x.pdf"]):
        with pytest.raises(SystemExit) as left:
            main([command, str(SLIPS / "blade-in-inches"), *more])
        told = capsys.readouterr()
        assert (left.value.code, told.out) == (2, "")
        assert "0.017 to 0.018 thou? 17 to 18 thou" in told.err
        assert "metal" not in told.err
    with pytest.raises(SystemExit) as left:
        main(["plan", str(SLIPS / "blade-in-inches"), "--json"])
    [error] = json.loads(capsys.readouterr().out)["errors"]
    assert (left.value.code, error["field"]) == (2, "gap[0].feeler")


@pytest.mark.parametrize("key", ["installed", "came_out"])
@pytest.mark.parametrize(
    ("measured", "refused"),
    # 0.2 mm by its label: 8 times as much and an 8th are refused, as in tables of measured pieces
    [
        ("0.2 in", True),
        ("1.6 mm", True),
        ("1.59 mm", False),
        ("0.2 thou", True),
        # a point slipped is ten times: it stops from eight times on, and 0.2 / 8 is 0.025
        ("0.02 mm", True),
        ("0.025 mm", True),
        ("0.026 mm", False),
    ],
)
def test_a_piece_measured_in_the_machine_far_off_its_label_is_refused(
    tmp_path: Path, key: str, measured: str, refused: bool
) -> None:
    job = written(tmp_path, "mm", 'value = "0.25 mm ± 0.01 mm"') / "job.toml"
    place = f'[[place]]\nname = "1"\n{key} = [{{ part = "S1", measured = "{measured}" }}]\n'
    job.write_text(job.read_text() + place)
    if not refused:
        assert load_job(tmp_path)
        return
    (problem,) = stopped(tmp_path)
    assert problem.rule.endswith("is of another order than the part's own 0.2 mm")
    assert key in problem.where


def test_a_decimal_comma_is_named_where_the_row_happens_to_fill_the_header(tmp_path: Path) -> None:
    """`S-20,0,20,2` under four columns: thickness 0, 20 on hand, in place 2."""
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand,at\nS-20,0,20,2\n", encoding="utf-8")
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ndrawer = "drawer.csv"\n[[gap]]\nname = "a"\nvalue = 0.3\n'
        'window = { min = 0.1, max = 0.2, source = "s" }\n',
        encoding="utf-8",
    )
    [problem] = stopped(tmp_path / "job.toml")
    assert problem.where == "row 2, column thickness_mm"
    assert problem.remedy == "0,20 looks like a decimal comma, and commas part the cells of this file: write 0.20"


def test_a_doubted_reading_asks_for_no_dimension_to_be_restored(tmp_path: Path) -> None:
    """0.02 beside 0.30, 0.22 and 0.18, its seat takes no shims: measured again first, nothing is ground or restored."""
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand\nS-20,0.20,4\n", encoding="utf-8")
    gaps = "".join(
        f'[[gap]]\nname = "{name}"\nseat = "s"\nvalue = "{value} mm ± 0.01 mm"\n'
        for name, value in (("a", "0.30"), ("b", "0.22"), ("c", "0.02"), ("d", "0.18"))
    )
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ndrawer = "drawer.csv"\nwindow = { min = 0.05, max = 0.15, source = "s" }\n'
        f'[[seat]]\nname = "s"\nshims_allowed = false\nwhy = "pinned"\n{gaps}',
        encoding="utf-8",
    )
    found = decide(load_job(tmp_path / "job.toml"))
    told = {reason.about: reason.code for reason in found.reasons}
    assert told["c"] == "read_again_first"
    assert told["a"] == "shims_not_allowed"
    steps = " ".join(next_steps(found, Speaker.of(found.job)))
    assert "Restore the dimension that sets a" in steps
    assert not re.search(r"Restore the dimension that sets [^:]*\bc\b", steps)


BUCKET = """
unit = "mm"
drawer = "d.csv"
window = {{ min = 0.20, max = 0.30, source = "s" }}
[[place]]
name = "v1"
pieces = {{ min = 1, max = 1 }}
[[gap]]
name = "v1"
feeler = {{ go = {}, no_go = {} }}
"""


@pytest.mark.parametrize(("go", "no_go", "meant"), [(2.70, 2.75, ()), (27.0, 27.5, (2_725_000,))])
def test_read_bare_a_gap_is_wider_by_the_piece_that_must_be_in(
    tmp_path: Path, go: float, no_go: float, meant: tuple[int, ...]
) -> None:
    """A bucket takes a shim of 2 mm or so: 2.725 is what its window of 0.30 and that leave to be read, 27.25 is not."""
    (tmp_path / "job.toml").write_text(BUCKET.format(go, no_go), encoding="utf-8")
    (tmp_path / "d.csv").write_text("part,thickness_mm,on_hand\nB-200,2.00,1\n", encoding="utf-8")
    found = cautions(tmp_path)
    assert tuple(one.fact.meant for one in found if isinstance(one.fact, ReadingSuspect)) == meant
    words = [finding_words(one, Speaker("mm")) for one in found]
    assert all("its window with what must be in (2.30 mm)" in said for said in words)


def test_a_fraction_of_its_neighbours_is_one_of_so_many(tmp_path: Path) -> None:
    readings = [f'value = "{value} mm"' for value in ("0.32", "0.04", "0.33", "0.31")]
    (found,) = cautions(written(tmp_path, "mm", *readings, sizes="0.05 0.10 0.20", window=(0.10, 0.20)))
    assert "reads 0.04 mm, 1/8 of its neighbours (about 0.32 mm)" in finding_words(found, Speaker("mm"))


@pytest.mark.parametrize(
    ("reading", "meant"),
    [("value = 0.00035", "0.35 mm was"), ("feeler = { go = 0.013, no_go = 0.014 }", "or 0.013 to 0.014 in, was")],
)
def test_alone_too_a_thousandth_and_an_inch_stop(tmp_path: Path, reading: str, meant: str) -> None:
    """0.35 / 1000, which no gauge shows, and blades of 13 and 14 thou, which are made: 0.013 x 25.4 = 0.33 mm."""
    (problem,) = stopped(written(tmp_path, "mm", reading, sizes="0.05 0.10 0.20 0.30", window=(0.10, 0.20)))
    assert f"{meant} probably meant" in problem.rule


def test_alone_too_an_inch_is_asked_about_where_a_fine_dial_shows_it(tmp_path: Path) -> None:
    """A dial of 0.001 mm shows 0.013 mm, so it does not stop; 0.013 in is 0.3302 mm."""
    job = written(tmp_path, "mm", "value = 0.013", sizes="0.05 0.10 0.20 0.30", window=(0.10, 0.20))
    (found,) = cautions(job)
    assert "was 0.013 in (0.3302 mm) meant?" in finding_words(found, Speaker("mm"))
    assert "see its seating" not in " ".join(next_steps(decide(load_job(job)), Speaker("mm")))


@pytest.mark.parametrize("reading", ["value = 0.015", "feeler = { go = 0.01, no_go = 0.02 }", "value = 0.05"])
def test_a_gap_that_is_only_tight_is_no_slip(tmp_path: Path, reading: str) -> None:
    assert cautions(written(tmp_path, "mm", reading, sizes="0.05 0.10 0.20 0.30", window=(0.10, 0.20))) == []


def test_a_tenth_of_the_only_neighbour_to_the_digit_is_asked_about(tmp_path: Path) -> None:
    # 0.090 to 0.095 beside 0.90 to 0.95, where 0.20 to 0.60 is allowed: no word of metal is built on that
    two = (
        'title = "T"\nunit = "mm"\ndrawer = "drawer.csv"\n[window]\nmin = 0.20\nmax = 0.60\nsource = "s"\n'
        '[[gap]]\nname = "north"\nfeeler = {{ go = {}, no_go = {} }}\n'
        '[[gap]]\nname = "south"\nfeeler = {{ go = 0.90, no_go = 0.95 }}\n'
    )
    drawer = "part,thickness_mm,on_hand\nH-30,0.30,2\nH-50,0.50,2\n"
    (slip,) = slips_of(load_job(write_job(tmp_path, two.format("0.090", "0.095"), drawer)))
    assert (slip.gap, slip.stops, slip.meant) == ("north", False, 925_000)
    # 0.105 is a ninth: just a tight gap beside a loose one
    assert not list(slips_of(load_job(write_job(tmp_path, two.format("0.10", "0.11"), drawer))))


@pytest.mark.parametrize(
    ("blades", "asked"),
    [
        # 0.1 thou is 2.5 um: no two blades are so near; 14 to 15 with S1 in, 10 thou, is what 4 to 5 would be
        ("go = 1.4, no_go = 1.5", "reads 1.45 thou, 1/8 of its window (12 thou): a decimal point may have slipped"),
        ("go = 1, no_go = 1.5", ""),
    ],
)
def test_blades_that_nobody_makes_are_asked_about_where_ten_times_as_much_is_likely(
    tmp_path: Path, blades: str, asked: str
) -> None:
    reading = f'feeler = {{ {blades} }}\n[[place]]\nname = "1"\ninstalled = ["S1"]'
    found = cautions(written(tmp_path, "thou", reading, sizes="3 10 8 5"))
    words = " ".join(finding_words(one, Speaker("thou")) for one in found)
    assert (asked in words) if asked else not found


@pytest.mark.parametrize(("measured", "refused"), [("26.5", True), ("0.265", True), ("2.39", False), ("", False)])
def test_a_piece_of_the_drawer_ten_times_off_its_mark_is_refused(tmp_path: Path, measured: str, refused: bool) -> None:
    """Marked 2.65 and measured 26.5: ten times; 2.39 wore off 0.26."""
    drawer = f"part,thickness_mm,measured_mm,on_hand\nB-2.65,2.65,{measured},1\nB-2.60,2.60,,1\n"
    job = written(tmp_path, "mm", "value = 2.8", window=(0.10, 0.20), drawer=drawer)
    if not refused:
        load_job(job)
        return
    (problem,) = stopped(job)
    assert problem.where == "row 2, column measured_mm"
    assert "is of another order than the part's own 2.65 mm" in problem.rule
    assert "decimal point" in problem.remedy


DIAL = """
unit = "mm"
drawer = "d.csv"
window = {{ min = 0.02, max = 0.08, source = "s" }}
[[place]]
name = "left"
pieces = {{ max = 5 }}
installed = ["W-50", "W-20"]
[[place]]
name = "right"
pieces = {{ max = 4 }}
installed = ["W-50", "W-10"]
[[gap]]
name = "float"
value = "{} mm ± 0.01 mm"
effects = {{ left = -1, right = -1 }}
"""


@pytest.mark.parametrize(("read", "doubted"), [("3.03", True), ("0.30", False)])
def test_nothing_stands_as_if_it_held_by_a_reading_ten_times_off(tmp_path: Path, read: str, doubted: bool) -> None:
    """3.03 with 1.30 in, less 0.02 to 0.08: 4.25 to 4.31 in all, three of 1.00 more; by 0.30 0.05 + 0.20."""
    (tmp_path / "job.toml").write_text(DIAL.format(read), encoding="utf-8")
    drawer = "part,thickness_mm,on_hand\nW-05,0.05,4\nW-10,0.10,3\nW-20,0.20,3\nW-50,0.50,2\nW-100,1.00,3\n"
    (tmp_path / "d.csv").write_text(drawer, encoding="utf-8")
    found = decide(load_job(tmp_path))
    first, *others = headlines(found, Speaker.of(found.job))
    assert (first == "Measure float again before anything is fitted.") is doubted
    screen = screen_text(found)
    assert ("? by this reading" in screen) is doubted
    assert ("Only if what looks wrong above is right." in screen) is doubted
    assert ("was 0.303 mm meant?" in " ".join(screen.split())) is doubted
    assert "in all at" not in screen
    letter = letter_content(found, "mm", "2026-05-03")
    [row] = [gap["row"] for gap in letter["gaps"]]
    assert (row[-2:] == ["measured again first", ""]) is doubted
    assert (", then " in letter["charts"][0]["alt"]) is not doubted
    told = " ".join((*others, *letter["gaps"][0]["sentences"], *next_steps(found, Speaker.of(found.job))))
    assert ("too loose" in told) is not doubted
    assert ("If today's figures stand: " in told) is doubted


def test_nothing_stands_as_if_it_held_by_a_size_that_looks_wrong(tmp_path: Path) -> None:
    """H-10 may be a foil of 0.01 mm, or 0.01 in = 0.254 mm: which comes out counts in what it then reads."""
    drawer = "part,thickness_mm,on_hand\nH-05,0.10,0\nH-10,0.01,0\nH-20,0.20,1\n"
    found = decide(load_job(written(tmp_path, "mm", f"value = 0.36\n{HELD}", drawer=drawer)))
    said = headlines(found, Speaker.of(found.job))
    assert said[0] == "Measure H-10 itself before anything is fitted."
    assert "? by this size" in screen_text(found)
    assert "was 0.01 in meant" in " ".join(screen_text(found).split())
    letter = letter_content(found, "mm", "2026-05-03")
    assert letter["gaps"][0]["row"][-2:] == ["measured again first", ""]
    sheet = sheet_content(found, "mm", "2026-05-03")
    assert "Measure H-10 itself before anything is fitted." in sheet["warnings"]


@pytest.mark.parametrize(
    ("reads", "asked"),
    [
        # 0.60 is in and 0.02 to 0.08 is wanted: 3.03 asks for six times that, 38 windows: 0.303 was meant
        ("3.03 mm", True),
        # 12 times 0.08 is 0.96, and less than 0.08 with 0.60 more is no wonder
        ("0.67 mm", False),
        ("0.95 mm", False),
    ],
)
def test_a_point_slipped_with_a_pack_in_is_asked_about(tmp_path: Path, reads: str, asked: bool) -> None:
    # five pieces of 0.50 would bridge 2.5, so that the pieces alone excuse it
    job = written(tmp_path, "mm", f'value = "{reads} ± 0.01 mm"', window=(0.02, 0.08), sizes="0.1 0.5") / "job.toml"
    job.write_text(
        job.read_text() + '[[place]]\nname = "1"\npieces = { max = 7 }\ninstalled = ["S1", "S0"]\n', encoding="utf-8"
    )
    assert bool(cautions(tmp_path)) is asked


def test_a_term_of_a_sum_that_slipped_is_a_caution_whatever_else_lies_in_the_drawer(tmp_path: Path) -> None:
    """30.00 + 0.68 - 28.50 - 0.150 is 2.03, with the ring's 1.50 it were 0.68: gaskets of 0.80 go into no cap."""
    (tmp_path / "job.toml").write_text(
        'unit = "mm"\ndrawer = "d.csv"\nwindow = { min = 0.10, max = 0.30, source = "p" }\n[[place]]\nname = "cap"\n'
        'parts = ["S-*"]\n[[gap]]\nname = "play"\neffects = { cap = -1 }\nbuilt_up = [\n'
        '{ name = "bore", add = "30.68 mm ± 0.01 mm" }, { name = "bearing", take = "28.50 mm ± 0.01 mm" },\n'
        '{ name = "ring", take = "0.150 mm ± 0.005 mm" } ]\n'
    )
    (tmp_path / "d.csv").write_text("part,thickness_mm,on_hand\nS-10,0.10,2\nS-30,0.30,1\nG-80,0.80,4\n")
    [found] = cautions(tmp_path)
    # any of its terms may have slipped: no meaning of the sum is told
    assert found.code == "reading_far_off"


PULLS = "indicator = {{ readings = [{}], resolution = 0.01, error = 0.01 }}"


@pytest.mark.parametrize(
    ("pulls", "told"),
    [
        ("0.22, 0.23, 2.2", "pull 3 is 10 times the others"),
        ("0.22, 0.022, 0.23", "pull 2 is 1/10 of the others"),
        ("0.22, 5.6, 0.22, 0.23", "pull 2 is 24 times the others"),
    ],
)
def test_one_pull_far_from_the_others_is_asked_about(tmp_path: Path, pulls: str, told: str) -> None:
    """By hand: 2.2 is 9.6 times 0.23, 0.022 a tenth of 0.22, 5.6 mm is 0.22 in and 24 times 0.23."""
    (problem,) = stopped(written(tmp_path, "mm", PULLS.format(pulls)))
    assert told in problem.rule
    assert "checked = true" in problem.remedy
    load_job(written(tmp_path, "mm", PULLS.format(pulls) + "\nchecked = true"))


@pytest.mark.parametrize(
    "pulls", ["0.22, 0.23, 0.40", "0.05, 0.11, 0.9", "0.22, 2.2", "0, 0.01, 0.02", "4.1, 4.2, 4.1"]
)
def test_pulls_that_scatter_are_no_slip(tmp_path: Path, pulls: str) -> None:
    load_job(written(tmp_path, "mm", PULLS.format(pulls), window=(0, 5)))


def test_a_pull_after_fitting_is_asked_about_too(tmp_path: Path) -> None:
    job = load_job(written(tmp_path, "mm", PULLS.format("0.22, 0.23, 0.22")))
    with pytest.raises(InputError) as caught:
        readings_after(["1=0.22 0.23 2.2"], job)
    assert "pull 3 is 10 times the others" in caught.value.problems[0].rule
    assert readings_after(["1=0.22 0.23 2.2, checked"], job)["1"].best > 800_000


def test_what_a_seat_does_not_take_bridges_no_reading(tmp_path: Path) -> None:
    """A ring of 1.50 typed as 0.15: 30 + 0.68 - 28.5 - 0.15 is 2.03. Three S-30 take 0.9 off; the gasket is no shim."""
    dimensions = '{ name = "bore", add = 30 }, { name = "paper", add = 0.68 }, '
    dimensions += '{ name = "bearing", take = 28.5 }, { name = "ring", take = 0.15 }'
    gap = f'built_up = [{dimensions}]\n[[place]]\nname = "cap"\nparts = ["S-*"]'
    drawer = "part,thickness_mm,on_hand\nS-20,0.20,2\nS-30,0.30,2\nG-80,0.80,2\n"
    job = written(tmp_path, "mm", gap + "\n", drawer=drawer)
    text = (job / "job.toml").read_text(encoding="utf-8").replace("built_up", "effects = { cap = -1 }\nbuilt_up")
    (job / "job.toml").write_text(text, encoding="utf-8")
    (found,) = cautions(job)
    assert found.place == "1"
    # what slipped is a term: no tenth of the sum is offered
    assert not isinstance(found.fact, ReadingSuspect)
    (job / "job.toml").write_text(text.replace('parts = ["S-*"]', ""), encoding="utf-8")
    assert not cautions(job)


COVER = """
unit = "mm"
drawer = "d.csv"
window = {{ min = 0.05, max = {top}, source = "s" }}
[[place]]
name = "1"
pieces = {{ max = 3 }}
{key} = ["C-20", "C-10", "C-05"]
[[gap]]
name = "1"
cover_gap = {{ {read} }}
effects = {{ 1 = 1 }}
"""


@pytest.mark.parametrize(
    ("key", "read", "top", "meant"),
    [
        # with 0.35 in and 0.05 to 0.10 wanted a cover stands off by tenths, whatever six pieces of 0.20 would bridge
        ("installed", "go = 0.12, no_go = 0.14, shims_in = true", 0.10, ""),
        ("installed", "go = 1.2, no_go = 1.4, shims_in = true", 0.10, "was 0.13 mm meant?"),
        ("installed", "go = 1.2, no_go = 1.4, shims_in = true", 0.20, "was 0.13 mm meant?"),
        ("installed", "go = 0.40, no_go = 0.45, shims_in = true", 0.10, ""),
        # read bare it stands off by about what came out
        ("came_out", "go = 0.30, no_go = 0.32", 0.10, ""),
        ("came_out", "go = 3.0, no_go = 3.2", 0.10, "or 0.31 mm meant?"),
        # ... and where nobody says what did, by as much as its pack is thick: more than the drawer bridges is no slip
        ("came_out", "go = 1.9, no_go = 2.0", 0.10, ""),
        ("parts", "go = 1.9, no_go = 2.0", 0.10, ""),
        ("parts", "go = 12, no_go = 13", 0.10, "probably meant"),
    ],
)
def test_a_cover_that_stands_off_ten_times_too_far_is_asked_about(
    tmp_path: Path, key: str, read: str, top: float, meant: str
) -> None:
    drawer = "part,thickness_mm,on_hand\nC-05,0.05,3\nC-10,0.10,3\nC-20,0.20,2\n"
    job = write_job(tmp_path, COVER.format(key=key, read=read, top=top), None, d_csv=drawer)
    if "probably" in meant:
        assert meant in stopped(job)[0].rule
        return
    found = cautions(job)
    words = [finding_words(one, Speaker("mm")) for one in found]
    assert [meant in said for said in words] == ([True] if meant else []), words


def test_a_bare_cover_about_ten_times_its_window_and_above_every_stack_is_asked_about(tmp_path: Path) -> None:
    """0.24 to 0.26 typed ten times too large: with 0.15 to 0.30 to be left, three pieces of 0.30 bridge 1.20 mm."""
    gap = 'cover_gap = { go = 2.4, no_go = 2.6 }\neffects = { c = 1 }\n[[place]]\nname = "c"'
    (found,) = cautions(written(tmp_path, "mm", gap, sizes="0.05 0.10 0.20 0.30", window=(0.15, 0.30)))
    assert "8 times its window (0.30 mm): a decimal point may have slipped" in finding_words(found, Speaker("mm"))
    # three of 0.90 bridge it: a thick pack
    assert not cautions(written(tmp_path, "mm", gap, sizes="0.10 0.30 0.90", window=(0.15, 0.30)))


def test_beside_neighbours_an_inch_that_explains_them_is_told_and_no_point(tmp_path: Path) -> None:
    """0.021 in is 0.5334 mm, as its neighbours; 0.21 mm would lie inside, and leave it 0.23 too loose."""
    readings = [f'value = "{value} mm ± {off} mm"' for value, off in ((0.021, 0.004), (0.51, 0.01), (0.55, 0.01))]
    (found,) = cautions(written(tmp_path, "mm", *readings, sizes="0.05 0.10 0.20 0.30", window=(0.15, 0.30)))
    assert found.place == "1"
    assert "was 0.021 in (0.5334 mm) meant?" in finding_words(found, Speaker("mm"))


def test_a_reading_above_window_and_drawer_speaks_against_itself_and_not_against_its_window(tmp_path: Path) -> None:
    """0.05 to 0.07 times 25.4 is 1.27 to 1.78: with 0.20 in, no stack (0.90) makes up for it; the window is right."""
    gap = 'feeler = {{ go = {}, no_go = {} }}\n[[place]]\nname = "1"\ninstalled = ["S2"]'
    job = written(tmp_path, "mm", gap.format(1.3, 1.8), sizes="0.05 0.10 0.20 0.30", window=(0.15, 0.30))
    (found,) = cautions(job)
    assert "reads 1.55 mm, far from its window (0.30 mm)" in finding_words(found, Speaker("mm"))
    assert not cautions(written(tmp_path, "mm", gap.format(1.5, 1.6), sizes="0.05 0.10 0.20 0.30", window=(0.15, 0.30)))


@pytest.mark.parametrize(
    ("reading", "asked"),
    [
        ('value = "0.021 mm ± 0.01 mm"', "was 0.021 in (0.5334 mm) meant?"),
        ("indicator = { readings = [0.020, 0.021, 0.021], resolution = 0.001, error = 0.008 }", "was 0.02067 in"),
        # tight gaps as they are read: known finer, in whole steps, or as good as nothing
        ('value = "0.021 mm ± 0.001 mm"', ""),
        ('value = "0.02 mm ± 0.01 mm"', ""),
        ('value = "0.012 mm ± 0.015 mm"', ""),
        ("indicator = { readings = [0.020, 0.021, 0.021], resolution = 0.001, error = 0.001 }", ""),
        ("indicator = { readings = [0.02, 0.02, 0.01], resolution = 0.01, error = 0.013 }", ""),
    ],
)
def test_alone_too_more_digits_than_it_is_known_to_are_asked_about_before_metal_is(
    tmp_path: Path, reading: str, asked: str
) -> None:
    job = written(tmp_path, "mm", reading, sizes="0.05 0.10 0.20 0.30", window=(0.15, 0.30))
    words = [finding_words(one, Speaker("mm")) for one in cautions(job)]
    assert [asked in said for said in words] == ([True] if asked else []), words
    if asked:
        assert [reason.code for reason in decide(load_job(job)).reasons] == ["read_again_first"]


@pytest.mark.parametrize(
    ("unit", "pulls", "division", "asked"),
    [
        # 0.05 mm is 1.97 thou, and a dial of 0.1 thou shows no 0.053
        ("thou", "0.05, 0.053, 0.05", 0.1, "or 0.05 to 0.053 mm, was probably meant: that is less than one division"),
        # 0.018 in is 0.4572 mm, and a dial of 0.01 mm shows no 0.0177
        ("mm", "0.0177, 0.0185, 0.0177", 0.01, "or 0.0177 to 0.0185 in, was probably meant: that is finer than"),
        # half a division, a fifth of one, and what a finer dial shows
        ("mm", "0.005, 0.01, 0.005", 0.01, ""),
        ("mm", "0.004, 0.006, 0.006", 0.01, "caution"),
        ("mm", "0.017, 0.019, 0.018", 0.001, ""),
    ],
)
def test_pulls_finer_than_their_dial_shows_are_asked_about(
    tmp_path: Path, unit: str, pulls: str, division: float, asked: str
) -> None:
    reading = f"indicator = {{ readings = [{pulls}], resolution = {division}, error = {division} }}"
    window = (1, 3) if unit == "thou" else (0.10, 0.30)
    job = written(tmp_path, unit, reading, window=window)
    if asked == "caution":
        assert [one.code for one in cautions(job)] == ["reading_suspect"]
    elif not asked:
        assert not cautions(job)
    else:
        (problem,) = stopped(job)
        assert asked in problem.rule
        assert not cautions(written(tmp_path, unit, f"checked = true\n{reading}", window=window))


@pytest.mark.parametrize(
    ("second", "asked"),
    [
        # thou for mm: 0.46 mm is 18.1 thou; inches for mm: 0.018 in is 0.4572 mm; um
        ("go = 18, no_go = 18.5", "or 18 to 18.5 thou, was probably meant: its first reading (0.46 mm)"),
        ("go = 0.017, no_go = 0.018", "or 0.017 to 0.018 in, was probably meant"),
        ("value = 450", "0.45 mm, or 450 um, was probably meant"),
        ("value = 0.00045", "0.45 mm was probably meant"),
        ("go = 4.5, no_go = 4.7", "10 times its first reading (0.46 mm): a decimal point"),
        ("go = 0.045, no_go = 0.047", "reads 0.046 mm closed up, 1/10 of its first reading"),
        ("value = 0.046", "reads 0.046 mm closed up, 1/10 of its first reading"),
        # closing up takes of a gap, all of it too
        ("go = 0.05, no_go = 0.07", ""),
        ("value = 0.012", ""),
        ("value = 0", ""),
        ("value = -0.03", ""),
    ],
)
def test_a_second_reading_of_another_order_than_the_first_is_asked_about(
    tmp_path: Path, second: str, asked: str
) -> None:
    reading = f"feeler = {{ go = 0.45, no_go = 0.47 }}\nafter_cover = {{ {second} }}"
    job = written(tmp_path, "mm", reading)
    if "probably" in asked:
        (problem,) = stopped(job)
        assert problem.where == '[[gap]] 1 "1", after_cover'
        assert asked in problem.rule
    else:
        words = [finding_words(one, Speaker("mm")) for one in cautions(job)]
        assert [asked in said for said in words] == ([True] if asked else []), words
    load_job(written(tmp_path, "mm", f"checked = true\n{reading}"))


@pytest.mark.parametrize(
    ("bore", "ring", "told"),
    [
        # 30.68 - 28.5 - 1.5 is 0.68: a ring of 0.15 leaves 2.03, and only ten times that ring explains it
        ("30.68", "0.15", "far from its window (0.30 mm), and a slip in ring explains it: measure it again"),
        # 306.8 for 30.68 stops, and no tenth of the sum, 0.2768, is offered
        ("306.8", "1.5", "276.8 mm? a figure has probably slipped in bore: that is far above the window"),
    ],
)
def test_of_a_sum_the_term_that_slipped_is_told_and_no_meaning_of_the_sum(
    tmp_path: Path, bore: str, ring: str, told: str
) -> None:
    terms = (
        f'{{ name = "bore", add = {bore} }}, {{ name = "bearing", take = 28.5 }}, {{ name = "ring", take = {ring} }}'
    )
    job = written(tmp_path, "mm", f"built_up = [{terms}]", sizes="0.05 0.10 0.20 0.30 0.50")
    if "slipped in" in told:
        (problem,) = stopped(job)
        assert problem.rule.startswith(told)
    else:
        (found,) = cautions(job)
        assert told in finding_words(found, Speaker("mm"))


BUCKETS = "part,thickness_mm,on_hand\nK-270,2.70,1\nK-275,2.75,0\nK-280,2.80,1\nK-285,2.85,1\n"


@pytest.mark.parametrize(
    ("row", "asked"),
    [
        # by the number in its name, of which the others tell hundredths of a millimetre
        ("K-265,26.5,1", "and K-270, K-275, K-280 and 1 more are of another order: a decimal point"),
        ("K-265,0.265,1", "was 2.65 mm meant? Measure it"),
        # 2.65 mm is 0.1043 in, 104.3 thou and 2650 um
        ("K-265,0.1043,1", "0.1043 mm? 0.1043 in (2.649 mm) was probably meant: K-270, K-275, K-280 and their like"),
        ("K-265,104.3,1", "104.3 mm? 104.3 thou (2.649 mm) was probably meant"),
        ("K-265,2650,1", "2650 mm? 2650 um (2.65 mm) was probably meant"),
        ("K-265,0.00265,1", "0.00265 mm? 2.65 mm was probably meant"),
        ("K-265,2.65,1", ""),
        # worn, and a gasket of another series
        ("K-265,2.45,1", ""),
        ("G-25,0.25,1", ""),
        # numbers that tell no size: only what is ten times as thick as all that are alike
        ("K-9,26.5,1", "was 2.65 mm meant?"),
    ],
)
def test_a_size_that_its_series_speaks_against_is_asked_about(tmp_path: Path, row: str, asked: str) -> None:
    gap = 'value = 0.20\n[[place]]\nname = "1"\npieces = { min = 1, max = 1 }\ninstalled = ["K-275"]'
    job = written(tmp_path, "mm", gap, drawer=f"{BUCKETS}{row}\n")
    if "probably" in asked:
        (problem,) = stopped(job)
        assert (Path(problem.file).name, problem.where) == ("d.csv", "row 6, column thickness_mm")
        assert asked in problem.rule
        return
    words = [finding_words(one, Speaker("mm")) for one in cautions(job)]
    assert [asked in said for said in words] == ([True] if asked else []), words
    # the plan says it, though the piece is not fitted; a piece that was measured is believed
    assert ("K-265: is 26.50 mm" in screen_text(decide(load_job(job)))) is row.startswith("K-265,26.5")


@pytest.mark.parametrize(
    "rows", ["K20,0.20,1\nK035,0.035,1\nK30,0.30,1\nK50,0.50,1", "K5,0.50,1\nK10,0.10,1\nK20,0.20,1"]
)
def test_a_series_that_numbers_its_sizes_in_two_ways_is_not_asked_about(tmp_path: Path, rows: str) -> None:
    # 0.035 stands behind the point as 0.20 does; of so few as three none is asked about by its point
    assert not cautions(written(tmp_path, "mm", "value = 0.45", drawer=f"part,thickness_mm,on_hand\n{rows}\n"))


def test_a_size_of_a_catalogue_that_its_series_speaks_against_is_asked_about(tmp_path: Path) -> None:
    drawer = "part,thickness_mm,on_hand\n"
    rows = "part,thickness_mm,price\nC-10,0.10,1\nC-20,0.20,1\nC-30,{},1\nC-50,0.50,1\n"
    job = written(tmp_path, "mm", "value = 0.45", drawer=drawer)
    text = (job / "job.toml").read_text(encoding="utf-8")
    (job / "job.toml").write_text(f'catalogues = ["c.csv"]\n{text}', encoding="utf-8")
    for named, size in (("A", "0.0003"), ("B", "300")):
        (job / "c.csv").write_text(rows.format("0.30") + f"{named},{size},1\n", encoding="utf-8")
        (problem,) = stopped(job)
        assert problem.where == "row 6, column thickness_mm"
        assert "0.3 mm" in problem.rule
    for size, asked in (("0.30", ""), ("3.0", "is 3.00 mm by the catalogue, and C-10, C-20 and C-50"), ("300", "stop")):
        (job / "c.csv").write_text(rows.format(size), encoding="utf-8")
        if asked == "stop":
            (problem,) = stopped(job)
            assert (Path(problem.file).name, problem.where) == ("c.csv", "row 4, column thickness_mm")
            assert "300 um (0.3 mm) was probably meant: C-10, C-20, C-50" in problem.rule
            continue
        words = [finding_words(one, Speaker("mm")) for one in cautions(job)]
        assert [asked in said for said in words] == ([True] if asked else []), words


@pytest.mark.parametrize(
    ("unit", "sizes", "asked"),
    [
        # ten times as thick as all else and of no use; thousand times, where no unit is a thousandth
        ("mm", "0.05 0.10 0.30 5.0", "was 0.50 mm meant?"),
        ("thou", "2 4 8000", "8000 thou? 8 thou was probably meant"),
        ("mm", "0.0002 0.10 0.30", "0.0002 mm? 0.2 mm was probably meant"),
        ("mm", "0.05 0.10 0.30 2.5", ""),
    ],
)
def test_a_size_ten_or_a_thousand_times_off_is_asked_about(tmp_path: Path, unit: str, sizes: str, asked: str) -> None:
    job = written(tmp_path, unit, "value = 17" if unit == "thou" else "value = 0.45", sizes=sizes)
    if "probably" in asked:
        assert asked in stopped(job)[0].rule
        return
    words = [finding_words(one, Speaker("mm")) for one in cautions(job)]
    assert [asked in said for said in words] == ([True] if asked else []), words


@pytest.mark.parametrize(
    ("window", "reading", "sizes", "asked"),
    [
        # three gaps agree at a fifth of it, and no piece is so thick
        ((3.0, 6.0), "value = {}", "0.2 0.5", "is above all that is read, and every piece: was 0.30 to 0.60 mm meant?"),
        # blades 0.05 apart tell nothing of a window 0.012 wide: 0.012 in is 0.3048 mm
        (
            (0.012, 0.024),
            "feeler = {{ go = {}, no_go = 1.20 }}",
            "0.2 0.5",
            "is narrower than the blades that read it: was 0.012 to 0.024 in (0.3048 to 0.6096 mm) meant?",
        ),
        ((0.30, 0.60), "value = {}", "0.2 0.5", ""),
        # a spacer of 2 mm bridges it from below
        ((3.0, 6.0), "value = {}", "0.2 2.0", ""),
        # what shims open may read less than is allowed
        ((3.0, 6.0), "effects = {{ a = 1 }}\nvalue = {}", "0.2 0.5", ""),
    ],
)
def test_a_window_ten_times_off_or_narrower_than_its_blades_is_a_caution(
    tmp_path: Path, window: tuple[float, float], reading: str, sizes: str, asked: str
) -> None:
    place = '[[place]]\nname = "a"\n' if "effects" in reading else ""
    job = written(tmp_path, "mm", *(reading.format(value) for value in (1.15, 1.14)), window=window, sizes=sizes)
    with (job / "job.toml").open("a", encoding="utf-8") as file:
        file.write(place)
    words = [finding_words(one, Speaker("mm")) for one in cautions(job)]
    assert [asked in said for said in words] == ([True] if asked else []), words


def test_a_window_a_thousand_times_off_stops_where_no_unit_tells_so(tmp_path: Path) -> None:
    for unit, reading, window in (("thou", "value = 17", (4000, 12000)), ("mm", "value = 0.35", (0.0001, 0.0003))):
        [problem] = stopped(written(tmp_path, unit, reading, window=window))
        meant = "4 to 12 thou was" if unit == "thou" else "0.1 to 0.3 mm was"
        assert f"{meant} probably meant" in problem.rule


@pytest.mark.parametrize(
    ("reading", "asked"),
    [
        # 0.0209 in is 0.53086 mm; nobody knows a length to less than a micrometre
        ('value = "0.0209 mm ± 0.0004 mm"', "0.0209 mm? 0.5309 mm, or 0.0209 in, was probably meant"),
        ("feeler = { snug = 0.0209, step = 0.001 }", "0.0209 mm? 0.5309 mm, or 0.0209 in, was probably meant"),
        # 13.5 thou is 0.3429 mm
        ('value = "13.5 mm ± 0.2 mm"', "13.5 mm? 0.3429 mm, or 13.5 thou, was probably meant"),
        # play of 0.53 where 0.02 to 0.06 of preload is wanted, and no more than 0.10 can come out
        ("indicator = { readings = [0.5, 0.6, 0.5], resolution = 0.01, error = 0.01 }", "was 0.0533 mm meant?"),
    ],
)
def test_what_carries_a_unit_of_its_own_is_asked_about_too(tmp_path: Path, reading: str, asked: str) -> None:
    preload = reading.startswith("indicator")
    gap = f'{reading}\neffects = {{ a = 1 }}\n[[place]]\nname = "a"\ninstalled = ["S1"]' if preload else reading
    window = ("-0.06", "-0.02") if preload else (0.15, 0.30)
    job = written(tmp_path, "mm", gap, sizes="0.05 0.10 0.20 0.30", window=window)
    if preload:
        (found,) = cautions(job)
        assert asked in finding_words(found, Speaker("mm"))
    else:
        (problem,) = stopped(job)
        assert asked in problem.rule


@pytest.mark.parametrize(
    ("typed", "asked"),
    [
        # 0.40 to 0.42 less 0.20 is 0.20 to 0.22: 25.4 times as much, a tenth of it, and blades 0.001 apart
        ("5.1 to 5.5", "0.2087 mm was probably meant: 0.21 mm was predicted"),
        ("0.020 to 0.022", "0.21 mm was probably meant: 0.21 mm was predicted"),
        ("0.040 to 0.041", "no blades are so near to one another"),
        # tight by dirt, and a tenth of no prediction
        ("0.03 to 0.04", ""),
        ("0 to 0.02", ""),
        ("5.1 to 5.5, checked", ""),
    ],
)
def test_after_fitting_too_a_slip_is_asked_about(tmp_path: Path, typed: str, asked: str) -> None:
    job = load_job(written(tmp_path, "mm", "feeler = { go = 0.40, no_go = 0.42 }", sizes="0.20"))
    found = readings_after([f"1={typed}"], job)
    predicted = {"1": Bracket.between(200_000, 220_000)}
    if not asked:
        refuse_slips([f"1={typed}"], found, predicted, job)
        return
    with pytest.raises(InputError) as caught:
        refuse_slips([f"1={typed}"], found, predicted, job)
    assert asked in caught.value.problems[0].rule


def test_only_the_ends_of_a_series_can_be_off_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each size held against all others, the slow way, tells the same slips."""
    random, asked = Random(7), size_slips._ends
    slow = 0
    for _ in range(300):
        pieces, way = [], random.randrange(3)
        for number in range(random.randint(3, 9)):
            size = random.choice([5, 10, 15, 20, 25, 30, 40, 60, 100]) * 10_000
            name = (f"K{size // 10_000}", f"K{number}", f"K0{size // 10_000}")[way]
            size = int(size * random.choice([1, 1, 1, 1, 1, 1, 10, Fraction(1, 10), Fraction(254, 10), 1000]))
            part = Part(name, Bracket(Fraction(size), Fraction(size), Fraction(size)), marked=size)
            pieces.append((StockLine(part, 1, typed_in="mm"), name[1:]))
        monkeypatch.setattr(size_slips, "_ends", lambda of: {line.part.thickness.best for line, _ in of})
        told = list(size_slips._off_series(pieces, pieces))
        monkeypatch.setattr(size_slips, "_ends", asked)
        assert list(size_slips._off_series(pieces, size_slips._farthest(pieces))) == told
        slow += bool(told)
    assert slow > 20


@pytest.mark.parametrize(("beside", "slips"), [(202, ["K350"]), (215, []), (185, [])])
def test_every_number_of_one_size_bears_witness(beside: int, slips: list[str]) -> None:
    """K350 of 3.5 mm is ten times off where numbers tell sizes: not where K215 or K185 is of 0.20 mm as K200 is."""
    sizes = [(200, 200), (beside, 200), (201, 200), (250, 250), (400, 400), (350, 3500)]
    # rows of a table share their figures
    thick = {size: Bracket.between(size * 1000, size * 1000) for _, size in sizes}
    stock = [StockLine(Part(f"K{number}", thick[size]), 1, typed_in="mm") for number, size in sizes]
    assert [slip.line.part.name for slip in size_slips._off_their_series(stock)] == slips
