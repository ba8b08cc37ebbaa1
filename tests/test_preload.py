"""Preload as it is said: typed without a sign in a window and after fitting, and never shown as a bare minus."""

from __future__ import annotations

import contextlib
import io
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from shimopt.arithmetic.needed import Span
from shimopt.cli import main
from shimopt.job import load_job
from shimopt.job.gap import Window
from shimopt.lengths import Bracket
from shimopt.planner import decide
from shimopt.recording import readings_after, slip_after
from shimopt.render.papers.sheet import sheet_content
from shimopt.render.pictures.gap_picture import job_picture
from shimopt.words.letter_answer import answer_words, gap_status
from shimopt.words.read_steps import read_steps
from shimopt.words.sheet_words import torque_words
from shimopt.words.speaker import Speaker
from shimopt.words.standing import Standing
from tests.job_files import edited, problems_of, write_job

THOU = 25_400
WINDOW = "min = 4\nmax = 12"


@pytest.mark.parametrize(
    ("stated", "signed"),
    [
        ("preload = [2, 3]", Window(-3 * THOU, -2 * THOU, "works drawings 1931, sheet 7")),
        # 0.002 in is 50,800 nm, 3 thou 76,200, 2.4 thou 60,960
        ('preload = ["0.002 in", 3]\ntarget = 2.4', Window(-76_200, -50_800, "works drawings 1931, sheet 7", -60_960)),
        ("preload = [0, 1]", Window(-THOU, 0, "works drawings 1931, sheet 7")),
    ],
)
def test_a_window_said_as_a_preload_lies_below_zero(tmp_path: Path, stated: str, signed: Window) -> None:
    job = load_job(write_job(tmp_path, edited((WINDOW, stated))))
    assert job.gaps[0].window == signed


@pytest.mark.parametrize(
    ("stated", "where", "rule", "remedy"),
    [
        ("preload = [3, 2]", "[window], preload", "the first end of a preload is the smaller one", "swap them"),
        ("preload = [-3, -2]", "[window], preload", "a preload is said without a sign", "take the minus out"),
        ("preload = 2", "[window], preload", "a preload goes from so much to so much", "preload = [2, 3]"),
        ("preload = [2, 3]\nmin = 4", "[window]", "a preload or by min and max, not both", "keep one"),
        ("preload = [2, 3]\ntarget = -2", "[window]", "a preload is said without a sign", "take the minus out"),
        ("preload = [2, 3]\ntarget = 5", "[window]", "the target lies outside min and max", "aim inside"),
    ],
)
def test_what_cannot_be_a_preload_is_refused(tmp_path: Path, stated: str, where: str, rule: str, remedy: str) -> None:
    (problem,) = problems_of(write_job(tmp_path, edited((WINDOW, stated))))
    assert problem.where == where
    assert rule in problem.rule
    assert remedy in problem.remedy


@pytest.mark.parametrize(
    ("typed", "low", "best", "high"),
    [
        ("preload 2 to 3 thou", -3, Fraction(-5, 2), -2),
        ("preload 2 to 3", -3, Fraction(-5, 2), -2),
        # read by a blade 17 to 18 at first, so known to half a thou
        ("preload 2 thou", Fraction(-5, 2), -2, Fraction(-3, 2)),
        ("preload 2 thou ± 1 thou", -3, -2, -1),
        ("preload 1 to play 2 thou", -1, Fraction(1, 2), 2),
        ("play 9 to 10 thou", 9, Fraction(19, 2), 10),
    ],
)
def test_a_preload_after_fitting_is_typed_as_it_is_said(
    tmp_path: Path, typed: str, low: Fraction, best: Fraction, high: Fraction
) -> None:
    job = load_job(write_job(tmp_path))
    found = readings_after([f"upper 1={typed}"], job)["upper 1"]
    assert (found.low, found.best, found.high) == (low * THOU, best * THOU, high * THOU)


# -- what is shown ---------------------------------------------------------------------------------------------------

ROOT = Path(__file__).parents[1]
LOADED = [
    ROOT / "demo_data" / "slipway-winch",
    ROOT / "demo_data" / "fulling-mill",
    ROOT / "tests" / "data" / "all-readings",
    ROOT / "tests" / "data" / "crown-wheel",
    ROOT / "tests" / "data" / "advice" / "cover-no-row-serves",
]


def told(folder: Path, out: Path) -> str:
    """All that is said of a job on screens and papers, without its pictures; an effect has a sign."""
    said = ""
    for command in (
        ["plan"],
        ["why"],
        ["letter", "-o", str(out / "letter.html")],
        ["sheet", "-o", str(out / "s.html")],
    ):
        with contextlib.redirect_stdout(io.StringIO()) as screen, pytest.raises(SystemExit):
            main([command[0], str(folder), *command[1:]])
        said += screen.getvalue()
    for page in out.glob("*.html"):
        text = re.sub(r"(?s)<style.*?</style>|<svg.*?</svg>", " ", page.read_text(encoding="utf-8"))
        said += re.sub(r"<[^>]+>", " ", text)
    said = re.sub(r"\s+", " ", said)
    return re.sub(r"effect of [^:]+: -[\d./]+|geometry would give -[\d./]+|\(effect -[\d./]+\)", "", said, flags=re.I)


@pytest.mark.parametrize("folder", LOADED, ids=lambda folder: folder.name)
def test_no_clearance_is_ever_shown_with_a_bare_minus(folder: Path, tmp_path: Path) -> None:
    found = re.findall(r".{30}(?<![\w.-])[-−]\d.{10}", told(folder, tmp_path))
    assert not found


def test_a_gap_with_a_preload_says_of_every_clearance_which_it_is(tmp_path: Path) -> None:
    said = told(ROOT / "demo_data" / "slipway-winch", tmp_path)
    assert "preload play 0.065 to 0.075 preload 0.012 to 0.042" in said
    assert "reads 0.07 mm of play where preload is wanted: 0.08 mm too loose" in said
    # of the other gap nothing can be a preload
    assert "backlash 0.250 to 0.300 0.111 to 0.169" in said


@pytest.mark.parametrize(
    ("start", "end", "said"),
    [
        (-27.5, -2.5, "from 27.5 to 2.5 thou of preload"),
        (-6.5, 8.5, "from preload 6.5 to play 8.5 thou"),
        (3, 4, "from 3 to 4 thou"),
    ],
)
def test_from_where_to_where_a_clearance_goes_in_words(start: float, end: float, said: str) -> None:
    assert Speaker("thou").from_to(Fraction(start) * THOU, Fraction(end) * THOU) == said


@pytest.mark.parametrize(
    ("most", "of", "said"),
    [
        (10, " of shim", "6 to 10 thou of shim"),
        (6, " of shim", "6 thou of shim"),
        (None, " of shim", "6 thou of shim or more"),
        (None, "", "6 thou or more"),
    ],
)
def test_how_thick_it_may_be_in_words(most: int | None, of: str, said: str) -> None:
    span = Span(Fraction(6 * THOU), None if most is None else Fraction(most * THOU))
    assert Speaker("thou").span(span, of) == said


def test_a_place_that_is_tighter_than_its_preload_is_told_so() -> None:
    """Read 0.09 mm of preload where 0.01 to 0.07 are wanted: 0.02 too tight. Read 0.005: 0.005 too loose."""
    say = Speaker("mm")
    assert say.misses(-90_000, 20_000, "under", True) == "0.09 mm of preload: 0.02 mm too tight"
    assert say.misses(-5_000, 5_000, "over", True) == "0.005 mm of preload: 0.005 mm too loose"
    assert say.misses(5_000, 1_000, "over", False) == "0.001 mm too loose"


# -- on paper --------------------------------------------------------------------------------------------------------


def test_the_sheet_reads_a_preload_by_its_torque_and_play_by_pushing() -> None:
    # both read play today: the preload that is wanted is there only after the work; play between teeth is rocked
    winch = load_job(ROOT / "demo_data" / "slipway-winch")
    assert read_steps(winch)[2:] == [
        "preload: if it floats, push it to one end and hold it there while you read (either end, if the service data "
        "name none)",
        "preload: turn a little, read again: both readings must agree",
        "backlash: hold both still, blades between two teeth at their outer end: which one goes, which does not; at "
        "four places round: the smallest of the four counts, not their mean",
    ]
    # read by a dial there
    dial = load_job(ROOT / "tests" / "data" / "crown-wheel")
    assert read_steps(dial)[2] == (
        "backlash: hold the pinion, dial square on a tooth of the wheel at its outer end, rock the wheel without "
        "pushing it along its axis; at four places round: the smallest of the four counts, not their mean"
    )
    # one bucket shim lies under every valve: nothing floats there, as it may at a ring that was chosen by its thickness
    said = (
        "Have it stand as the service data say; what floats is held at one end while you read",
        "Turn a little, read again: both readings must agree",
    )
    valves = load_job(ROOT / "demo_data" / "twelve-valve")
    assert tuple(read_steps(valves)[2:]) == said
    two = replace(valves.places[0], most_pieces=2)
    with_two = replace(valves, places=(two, *valves.places[1:]), gaps=valves.gaps[:2])
    assert read_steps(with_two)[2:4] == [
        "1 inlet: if it floats, push it to one end and hold it there while you read (either end, if the service data "
        "name none)",
        f"1 exhaust: h{said[0][1:]}",
    ]
    # the crown wheel's bearings read 0.09 to 0.11 mm of preload
    wheel = load_job(ROOT / "tests" / "data" / "crown-wheel")
    assert read_steps(wheel)[3:] == [
        "A preload cannot be pushed: turn it with a spring balance or a torque gauge (box without oil, "
        "bearings just wetted, or as the maker states) and note the torque",
    ]
    # a cone found 0.37 mm tight, which is to have play: nothing to push, and no torque tells how tight
    tight = replace(winch.gaps[1].reading, bracket=Bracket.between(-380_000, -360_000))
    cone = replace(winch.gaps[1], name="cone", reading=tight)
    assert read_steps(replace(winch, gaps=(winch.gaps[0], cone)))[4:] == [
        "cone: it has no play to read; read it opened by a known amount, and take off by how much that opens it"
    ]
    plan, (preload, backlash) = decide(winch), winch.gaps
    assert torque_words(plan, preload) == (
        "running torque, box without oil, bearings just wetted, or as the maker states: ________"
    )
    # once for both packs, and for a preload only
    assert torque_words(plan, backlash) == ""
    told = [then["torque"] for place in sheet_content(plan, "mm", "2026-05-03")["places"] for then in place["then"]]
    assert [bool(words) for words in told] == [True, False]


def test_the_letter_calls_a_preload_one_and_names_the_packs() -> None:
    found = decide(load_job(ROOT / "demo_data" / "slipway-winch"))
    assert answer_words(found, Speaker.of(found.job)) == (
        "By calculation preload comes right: set by new packs at left cap and right cap. Backlash can be set for "
        "good only after that."
    )
    assert gap_status(found, found.job.gaps[0], Standing.of(found)) == "set by the packs at left cap and right cap"


def test_labels_of_a_picture_are_of_one_size() -> None:
    found = decide(load_job(ROOT / "demo_data" / "slipway-winch"))
    picture = job_picture(found, "mm")
    labels = re.findall(r'font-size="([\d.]+)"[^>]*>((?:found|then)(?! with)[^<]*|[\d.]+ to [\d.]+ mm)<', picture)
    assert " ".join(text for _, text in labels) == (
        "found play 0.065 to 0.075 mm then preload 0.012 to 0.042 mm found 0.25 to 0.30 mm "
        # 0.1116 to 0.1684 told outward in three digits
        "then 0.111 to 0.169 mm"
    )
    assert len({size for size, _ in labels}) == 1


def test_the_sheet_asks_for_a_second_reading_where_a_preload_may_be_hidden() -> None:
    hidden = [
        step
        for step in read_steps(load_job(ROOT / "tests" / "data" / "advice" / "bucket-step"))
        if "may hide a preload" in step
    ]
    assert hidden == [
        "ex right: read as from nothing, which may hide a preload: read it again with a thinner pack of known "
        "thickness in"
    ]
    assert not any("may hide" in step for step in read_steps(load_job(ROOT / "demo_data" / "swing-bridge")))


def test_what_comes_to_play_has_no_running_torque_to_write_down() -> None:
    """Six choices: gap 1 wants preload and comes to 1.001 to 1.015 mm of play: it cannot be turned by that."""
    found = decide(load_job(ROOT / "tests" / "data" / "gears" / "six-choices"))
    gap = found.job.gap["gap 1"]
    assert gap.window.wants_preload
    assert found.outcome.gaps["gap 1"].after.low > 0
    assert torque_words(found, gap) == ""


def test_a_bare_number_where_a_preload_was_predicted_is_asked_about(tmp_path: Path) -> None:
    """By itself it is play, and a record of it would have a good assembly taken apart."""
    gap = load_job(write_job(tmp_path, edited((WINDOW, "preload = [2, 3]")))).gaps[0]
    # 2.6 and 2.4 thou
    predicted = Bracket.between(-66_040, -60_960)

    def asked(text: str) -> str:
        found = readings_after([f"{gap.name}={text}"], load_job(tmp_path / "job.toml"))[gap.name]
        problem = slip_after(text, found, predicted, gap, "thou")
        return "" if problem is None else f"{problem.rule}; {problem.remedy}"

    assert "2.5 by itself is play: preload 2.5 was probably meant" in asked("2.5")
    assert f'if it has play, write it as "{gap.name}=play 2.5"' in asked("2.5")
    for text in ("preload 2.5", "play 2.5", "2.5, checked"):
        assert asked(text) == ""
