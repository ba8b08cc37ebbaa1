"""What one more reading is worth: against every pair of blades worked through by hand, and jobs written with each."""

from __future__ import annotations

import json
from fractions import Fraction
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.stats import norm
from scipy.stats import t as student

from shimopt.job import load_job
from shimopt.ordering import another_reading
from shimopt.ordering.another_reading import could_be_read, further_readings
from shimopt.planner import decide
from shimopt.render.papers.letter import letter_content
from shimopt.render.screens.layout import UNICODE
from shimopt.render.screens.short_screen import short_lines
from shimopt.render.screens.why_screen import short_why_lines, why_lines
from tests.command import Run
from tests.job_files import edited, write_job
from tests.jobs import gap, job, shim, window

HUNDREDTH = 10_000  # nm

JOB = """\
title = "Ferry hoist"
unit = "mm"
drawer = "drawer.csv"
catalogues = ["catalogue.csv"]

[window]
min = 0.10
max = 0.16
source = "hoist book, page 9"

[stacks]
most_pieces = 1

[[supplier]]
name = "Kestrel Shim Works"
postage = 6.50

[[gap]]
name = "drum"
feeler = { go = 0.35, no_go = 0.40 }
"""
DRAWER = "part,thickness_mm,on_hand\nS-23,0.23,1\n"
CATALOGUE = """\
part,thickness_mm,price,currency,supplier
S-23,0.23,1.20,EUR,Kestrel Shim Works
S-25,0.25,1.20,EUR,Kestrel Shim Works
"""


def hoist(folder: Path, *edits: tuple[str, str]) -> Path:
    return write_job(folder, edited(*edits, of=JOB), DRAWER, catalogue_csv=CATALOGUE)


def every_stack(sizes: dict[int, int]) -> set[int]:
    """How thick every stack of up to two pieces is, of so many of each size."""
    pieces = [size for size, count in sizes.items() for _ in range(count)]
    return {0, *pieces, *(one + other for one, other in combinations(pieces, 2))}


@settings(max_examples=15)
@given(
    st.integers(20, 40),
    st.integers(3, 9),
    st.integers(0, 6),
    st.integers(2, 8),
    st.dictionaries(st.integers(10, 40), st.integers(1, 2), min_size=1, max_size=3),
    st.integers(1, 4),
)
def test_every_pair_of_blades_is_weighed_and_tried(
    low: int, width: int, least: int, room: int, sizes: dict[int, int], step: int
) -> None:
    """In hundredths of a millimetre, every stack tried with each pair of blades."""
    high, most = low + width, least + room
    ends = (Fraction(end, 100) for end in (low, high, least, most))
    reads, to, above, below = map(str, map(float, ends))
    hoist_gap = gap("drum", reads, to, window(above, below, unit="mm"), unit="mm")
    stock = [shim(str(size / 100), count, unit="mm") for size, count in sizes.items()]
    decision = decide(job([hoist_gap], stock, most=2, unit="mm"))
    assume(could_be_read(decision, "drum"))
    blades = next(way for way in further_readings(decision, "drum", step * HUNDREDTH) if way.by == "blades")
    total, settled = Fraction(0), Fraction(0)
    pairs = range(low // step * step, -(-high // step) * step, step)
    for go, told in zip(pairs, blades.told, strict=True):
        from_, until = max(go, low), min(go + step, high)
        share = Fraction(until - from_, width)
        sure = any(go - stack >= least and go + step - stack <= most for stack in every_stack(sizes))
        assert told.read.low == go * HUNDREDTH
        assert told.share == share
        assert told.sure is sure
        if told.fits:
            # the length that is inside, of that which both readings leave
            stack = sum(round(decision.job.stock[line].part.thickness.best) // HUNDREDTH for line in told.stack)
            inside = max(0, min(until, most + stack) - max(from_, least + stack))
            assert told.chance == Fraction(inside, until - from_)
        total, settled = total + share, settled + share * sure
    assert total == 1
    assert blades.settles == settled


def test_a_hoist_worked_by_hand(run: Run, tmp_path: Path) -> None:
    """0.35 to 0.40 less 0.23 leaves 0.12 to 0.17 of 0.10 to 0.16: inside in four fifths of the bracket.

    Blades 0.01 apart: in four of five pairs S-23 is surely inside; of 0.39 to 0.40 it would leave 0.16 to 0.17, its
    middle outside, so S-25 is ordered: 6.50 + 1.20 = 7.70. Fitted as read: 1/5 × (120 + 7.70) = 25.54. Ordered: 0.25
    leaves 0.10 to 0.15, so 7.70 and never again. Read again first: 1/5 × 7.70 = 1.54. Saved: 7.70 - 1.54 = 6.16.
    """
    _, out, _ = run("why", hoist(tmp_path), "drum", "--strip-down", "120", "--json")
    told = json.loads(out)["gaps"][0]["read_again"]
    assert {way["way"]: (way["now"], way["again"], way["cost"]) for way in told["ways"]} == {
        "fit": (0, 0.2, 25.54),
        "all": (7.7, 0, 7.7),
    }
    blades = told["readings"][0]
    assert (blades["by"], blades["step"], blades["settles"], blades["again"], blades["cost"]) == (
        "blades",
        0.01,
        0.8,
        0,
        1.54,
    )
    assert told["best"] == {"by": "blades", "step": 0.01, "saves": 6.16}


LATCH = JOB.replace("most_pieces = 1", "most_pieces = 3").replace("6.50", "5.20").replace("0.16", "0.20")
ONE_ON_HAND = "part,thickness_mm,measured_mm,measuring_error_mm,on_hand\nS-20,0.20,0.215,0.002,2\n"
THICK = "S-25,0.25,2.60,5,EUR,Kestrel Shim Works\n"
THIN = "S-10,0.10,2.40,5,EUR,Kestrel Shim Works\n"


@pytest.mark.parametrize(
    ("offered", "drawer", "ways", "read_again"),
    [
        # 0.40 to 0.45 less 0.25 is 0.15 to 0.20; with blades 0.01 apart 0.215 ± 0.002 serves 0.40 to 0.41 alone
        (THICK, ONE_ON_HAND, {"all": (7.8, 0, 7.8)}, (0, 6.24)),
        # three of 0.10 leave 0.10 to 0.15, for less
        (THICK + THIN, ONE_ON_HAND, {"all": (7.6, 0, 7.6)}, (0, 6.08)),
        # 0.24 serves 0.40 to 0.44, 0.31 from 0.41 on: one of both for whatever it reads, so no parcel is needed; today
        # 0.24 leaves 0.16 to 0.21, outside in a fifth
        (
            THICK,
            "part,thickness_mm,on_hand\nS-24,0.24,1\nS-31,0.31,1\n",
            {"fit": (0, 0.2, 24), "sure": (7.8, 0, 7.8)},
            (0, 0),
        ),
    ],
)
def test_what_a_parcel_makes_surely_inside_is_not_stripped_down_again(
    run: Run,
    tmp_path: Path,
    offered: str,
    drawer: str,
    ways: dict[str, tuple[float, float, float]],
    read_again: tuple[float, float],
) -> None:
    """0.40 to 0.45 of 0.10 to 0.20, by hand: postage 5.20 and a pack; a strip-down 120."""
    catalogue = f"part,thickness_mm,price,pack,currency,supplier\n{offered}"
    text = edited(("go = 0.35, no_go = 0.40", "go = 0.40, no_go = 0.45"), of=LATCH)
    folder = write_job(tmp_path, text, drawer, catalogue_csv=catalogue)
    account = json.loads(run("why", folder, "drum", "--strip-down", "120", "--blades", "0.01mm", "--json")[1])["gaps"][
        0
    ]
    told = account["read_again"]
    assert {way["way"]: (way["now"], way["again"], way["cost"]) for way in told["ways"]} == ways
    assert (told["readings"][0]["again"], told["readings"][0]["cost"]) == pytest.approx(read_again)
    (said,) = (answer["sentences"] for answer in account["words"] if answer["about"] == "Read again")
    assert ("Order what makes it surely inside (7.80 EUR): not stripped down again, 7.80 EUR on average." in said) is (
        "sure" in ways
    )


def test_it_is_said_in_why_and_in_no_plan(run_unfolded: Run, tmp_path: Path) -> None:
    folder = hoist(tmp_path)
    settles = "One more reading with blades 0.01 mm apart would settle it 8 times in 10"
    _, out, _ = run_unfolded("why", folder, "drum", "--strip-down", "120")
    assert settles in out
    assert "Fit S-23: stripped down again in 20.0 % of cases, 25.54 EUR on average." in out
    assert "Best read it again with blades 0.01 mm apart first; that saves 6.16 EUR on average." in out
    assert "Where it then reads 0.35 to 0.39 mm, fit S-23; where it then reads 0.39 to 0.40 mm, order" in out
    assert f"{settles} and" in run_unfolded("why", folder, "drum")[1]
    assert settles in run_unfolded("why", folder, "--full")[1]
    assert settles not in run_unfolded("plan", folder)[1]
    as_coarse = "Blades 0.05 mm apart are as coarse as what it was read by: they tell little more."
    assert as_coarse in run_unfolded("why", folder, "drum", "--strip-down", "120", "--blades", "0.05mm")[1]
    assert "are as coarse" not in out


@pytest.mark.parametrize(("go", "no_go", "sure"), [(0.35, 0.36, True), (0.38, 0.39, True), (0.39, 0.40, False)])
def test_a_plan_of_what_is_read_then_says_the_same(
    run: Run, tmp_path: Path, go: float, no_go: float, *, sure: bool
) -> None:
    folder = hoist(tmp_path, ("go = 0.35, no_go = 0.40", f"go = {go}, no_go = {no_go}"))
    _, out, _ = run("plan", folder, "--json")
    assert json.loads(out)["gaps"][0]["sure"] is sure


def test_without_a_stated_cost_parcels_alone_count(run_unfolded: Run, tmp_path: Path) -> None:
    """Fitted as read 1/5 × 7.70; and without postage nothing is said of money."""
    _, out, _ = run_unfolded("why", hoist(tmp_path), "drum", "--strip-down", "0")
    assert "Fit S-23: stripped down again in 20.0 % of cases, 1.54 EUR on average." in out
    assert "Only parcels are counted" in out
    terms = '[[supplier]]\nname = "Kestrel Shim Works"\npostage = 6.50\n'
    _, out, _ = run_unfolded("why", hoist(tmp_path, (terms, "")), "drum", "--strip-down", "0")
    assert "would settle it 8 times in 10" in out
    assert "What a parcel costs is not known: " in out


@pytest.mark.parametrize(
    "reading",
    [
        "feeler = { go = 0.33, no_go = 0.38 }",  # surely inside
        "value = 0.395",  # taken as exact
    ],
)
def test_what_no_reading_makes_surer_is_not_read_again(run: Run, tmp_path: Path, reading: str) -> None:
    folder = hoist(tmp_path, ("feeler = { go = 0.35, no_go = 0.40 }", reading))
    _, out, _ = run("why", folder, "drum", "--strip-down", "120", "--json")
    account = json.loads(out)["gaps"][0]
    assert account["read_again"] is None
    assert "Read again" not in [answer["about"] for answer in account["words"]]


@pytest.mark.parametrize(("step", "rule"), [("0.01", "carries its own unit"), ("0 mm", "blades are some way apart")])
def test_blades_are_a_length(run_unfolded: Run, tmp_path: Path, step: str, rule: str) -> None:
    code, _, err = run_unfolded("why", hoist(tmp_path), "drum", "--blades", step)
    assert code == 2
    assert rule in err


def test_a_gauge_that_is_known_to_be_off_at_times_settles_nothing_for_certain(run: Run, tmp_path: Path) -> None:
    """Blades repeat to 4 µm: of 0.38 to 0.39 S-23 leaves 0.15 to 0.16, and some of that is above 0.16.

    By plain sums over what the gap reads today (even in 0.35 to 0.40, and normal) and where it lies in a pair.
    """
    folder = hoist(tmp_path, ('unit = "mm"', 'unit = "mm"\nrepeatability = { feeler = "0.004 mm" }'))
    told = json.loads(run("why", folder, "drum", "--strip-down", "120", "--json")[1])["gaps"][0]["read_again"]
    steps = (np.arange(2_000) + 0.5) / 2_000
    above = {go: norm.sf((0.39 - (go + 0.01 * steps)) / 0.004).mean() for go in (0.35, 0.36, 0.37, 0.38)}
    today = 0.35 + 0.05 * steps
    edges = [0.35, 0.36, 0.37, 0.38, 0.39]
    up_to = [norm.cdf((edge - today) / 0.004).mean() for edge in edges]
    # what reads less than 0.35 leaves less than 0.12: inside as surely
    shares = dict(zip(above, np.diff([0.0, *up_to[1:]]), strict=True))
    # S-25 is ordered for all of it: below 0.35 it leaves less than 0.10, above 0.41 more than 0.16
    ordered = next(way for way in told["ways"] if way["way"] == "all")
    outside = float((norm.cdf((0.35 - today) / 0.004) + norm.sf((0.41 - today) / 0.004)).mean())
    assert (ordered["again"], ordered["cost"]) == pytest.approx((outside, 7.70 + 120 * outside), abs=1e-3)
    blades = told["readings"][0]
    # where it then reads 0.39 or more S-25 is ordered, which is outside above 0.41
    dearer = {go: norm.sf((0.41 - (go + 0.01 * steps)) / 0.004).mean() for go in (0.39, 0.40)}
    up_to_40 = norm.cdf((0.40 - today) / 0.004).mean()
    fails = (up_to_40 - up_to[-1]) * dearer[0.39] + (1 - up_to_40) * dearer[0.40]
    fails += sum(shares[go] * above[go] for go in above)
    assert blades["again"] == pytest.approx(fails, abs=2e-4)
    assert blades["settles"] == pytest.approx(sum(shares.values()), abs=1e-3)
    assert blades["cost"] == pytest.approx(120 * blades["again"] + 7.70 * (1 - sum(shares.values())), abs=0.01)


def test_without_a_catalogue_a_strip_down_still_counts(run: Run, tmp_path: Path) -> None:
    """1/5 × 120; with blades 0.01 apart none is fitted wrongly, and what nothing serves counts nothing either way."""
    folder = hoist(tmp_path, ('catalogues = ["catalogue.csv"]\n', ""))
    told = json.loads(run("why", folder, "drum", "--strip-down", "120", "--json")[1])["gaps"][0]["read_again"]
    assert [(way["way"], way["again"], way["cost"]) for way in told["ways"]] == [("fit", 0.2, 24.0)]
    assert told["best"] == {"by": "blades", "step": 0.01, "saves": 24.0}
    assert [outcome["way"]["way"] for outcome in told["readings"][0]["outcomes"]] == ["fit"] * 4 + ["none"]


def test_what_a_dial_could_show_is_all_of_it(tmp_path: Path) -> None:
    """Read by a dial its errors have no end: what lies beyond the outcomes counts to the last on either side."""
    pulls = "indicator = { readings = [0.37, 0.39, 0.38, 0.38], resolution = 0.01, error = 0.01 }"
    decision = decide(load_job(hoist(tmp_path, ("feeler = { go = 0.35, no_go = 0.40 }", pulls))))
    dial = next(way for way in further_readings(decision, "drum") if way.by == "dial")
    assert (dial.by, dial.step) == ("dial", 1_000)
    assert float(sum(told.share for told in dial.told)) == pytest.approx(1, abs=1e-9)
    assert 0 < dial.settles < 1


# s = 11.547 µm: t of 2 degrees of freedom is 4.303, ± 28.7 µm of three pulls
UNEVEN = "indicator = { readings = [0.37, 0.39, 0.37], resolution = 0.001, error = 0.001 }"


def test_more_pulls_are_weighed_by_students_t(tmp_path: Path) -> None:
    """Of six pulls the mean stands off that of three by t (2) × s √(3 / 3 / 6) = 4.71 µm, a prediction from a sample.

    S-23 leaves 0.1467 of 0.10 to 0.16, known to s / √6 × 2.571 = 12.1 µm and some tenths of the dial's own: sure where
    the mean moves by some 1.2 µm or less. P(t < 1.2 / 4.71) = 0.59; each graduation moves that by 0.08 at most.
    """
    decision = decide(load_job(hoist(tmp_path, ("feeler = { go = 0.35, no_go = 0.40 }", UNEVEN))))
    pulls = next(way for way in further_readings(decision, "drum") if way.by == "pulls")
    assert float(sum(told.share for told in pulls.told)) == pytest.approx(1, abs=1e-9)
    assert float(pulls.settles) == pytest.approx(float(student.cdf(1.2 / 4.714, 2)), abs=0.08)


def test_one_more_pull_is_told_by_name(run_unfolded: Run, tmp_path: Path) -> None:
    """Of four pulls the mean stands off that of three by t (2) × s √(1 / 3 / 4) = 3.33 µm.

    Known to s / √4 × 3.182 = 18.4 µm of t (3), beyond the 13.3 µm that 0.1467 is below 0.16: sure where the mean comes
    5.1 µm lower and some tenths for the dial's own. P(t < -5.4 / 3.33) = 0.12.
    """
    folder = hoist(tmp_path, ("feeler = { go = 0.35, no_go = 0.40 }", UNEVEN))
    pull = next(way for way in further_readings(decide(load_job(folder)), "drum") if way.by == "pull")
    assert float(sum(told.share for told in pull.told)) == pytest.approx(1, abs=1e-9)
    assert float(pull.settles) == pytest.approx(float(student.cdf(-5.4 / 3.333, 2)), abs=0.04)
    said = run_unfolded("why", folder, "drum")[1]
    words = (
        "with one more pull of the same dial would settle it 1 time in 10 and with three more pulls of the same dial 5"
    )
    assert words in said


@pytest.mark.parametrize(
    ("pulls", "said"),
    [
        # what does not repeat is not mended by a finer dial
        ("readings = [0.37, 0.39, 0.37], resolution = 0.01", "drum again with the same dial, three more pulls"),
        ("readings = [0.37, 0.39, 0.37], resolution = 0.001, error = 0.001", "drum again with the same dial"),
        # what repeats is
        ("readings = [0.38, 0.38, 0.38], resolution = 0.02, error = 0.02", "Read drum with a finer gauge."),
    ],
)
def test_a_finer_dial_is_named_only_where_it_tells_more(
    run_unfolded: Run, tmp_path: Path, pulls: str, said: str
) -> None:
    folder = hoist(tmp_path, ("feeler = { go = 0.35, no_go = 0.40 }", f"indicator = {{ {pulls} }}"))
    out = run_unfolded("plan", folder)[1]
    assert said in out
    letter = str(letter_content(decide(load_job(folder)), "mm", "2026-05-03"))
    assert ("once more before it runs" in letter) is ("same dial" in said)
    assert ("more finely" in letter) is ("finer" in said)


ARMS = """\
unit = "thou"
drawer = "drawer.csv"
window = { min = 4, max = 12, source = "sheet" }
[[gap]]
name = "left arm"
feeler = { go = 17, no_go = 18 }
[[gap]]
name = "right arm"
feeler = { go = 9.5, no_go = 10.5 }
[[balance]]
name = "both arms"
gaps = ["left arm", "right arm"]
within = 2
"""


def test_what_has_to_match_says_so(run_unfolded: Run, tmp_path: Path) -> None:
    """17.5 - 10 is 7.5 and 10 reads as allowed: 2.5 apart where 2 are asked, so S-02 goes in; of 13 it would leave 11,
    3.5 apart."""
    folder = write_job(tmp_path, ARMS, "part,thickness_thou,on_hand\nS-02,2,4\nS-10,10,1\n")
    assert "Inside by itself, fitted to match both arms." in run_unfolded("plan", folder)[1]
    why = run_unfolded("why", folder, "right arm")[1]
    assert "A reading wholly within 4 to 12 thou would need no shim, if that leaves both arms within 2 thou." in why
    assert "by their best estimate, if that leaves both arms within 2 thou." in why
    letter = str(letter_content(decide(load_job(folder)), "thou", "2026-05-03"))
    assert "Else a clearance that is already right is left alone." in letter


def test_what_a_further_reading_tells_is_worked_out_once_for_all_screens(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Six screens and papers of one plan; a gap whose seat alone decides is not planned anew for any outcome."""
    asked: list[str] = []
    planned, weighed = another_reading.chosen_stacks, another_reading._weighed
    monkeypatch.setattr(
        another_reading, "_weighed", lambda gap, *rest: [asked.append(gap.name), weighed(gap, *rest)][1]
    )
    monkeypatch.setattr(another_reading, "chosen_stacks", lambda job: [asked.append("a plan"), planned(job)][1])
    decision = decide(load_job(hoist(tmp_path)))
    assert asked == []
    for width in (60, 100):
        short_why_lines(decision, "mm", width)
        why_lines(decision, ["drum"], "mm", width)
        short_lines(decision, "mm", width, UNICODE)
    # blades and a dial, each once
    assert asked == ["drum", "drum"]
