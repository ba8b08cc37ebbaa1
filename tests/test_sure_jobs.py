"""Whole jobs in which it matters how sure a reading is: preload, chance, shift, heat, one micrometer, the gauge."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from rich.cells import cell_len

from shimopt.job import load_job
from shimopt.planner import Decision, decide
from shimopt.reasons import gauges
from shimopt.render.json.plan_json import plan_object
from shimopt.render.screens.layout import UNICODE
from shimopt.render.screens.plan_screen import screen_lines
from shimopt.seats import screen as screened
from tests.job_files import write_job

ALL_READINGS = Path(__file__).parent / "data" / "all-readings"


def planned(
    folder: Path,
    gap: str,
    *,
    top: str = "",
    window: tuple[object, object] = (0.1, 0.3),
    unit: str = "mm",
    drawer: str = "part,thickness_mm,on_hand\nS-10,0.1,4\n",
) -> Decision:
    low, high = window
    job = f'unit = "{unit}"\ndrawer = "drawer.csv"\n{top}\n[window]\nmin = {low}\nmax = {high}\nsource = "sheet 7"\n'
    return decide(load_job(write_job(folder, f'{job}\n[[gap]]\nname = "drum"\n{gap}\n', drawer)))


def the_gap(found: Decision) -> dict[str, Any]:
    (gap,) = plan_object(found)["gaps"]
    assert isinstance(gap, dict)
    return gap


def screen(found: Decision, unit: str | None = None, width: int = 80) -> str:
    return "\n".join(text for text, _ in screen_lines(found, unit or found.job.unit, width, UNICODE))


def said(found: Decision, unit: str | None = None) -> str:
    """The screen as one line, however it was folded."""
    return " ".join(screen(found, unit).split())


# covers and preload


def test_twenty_seven_under_the_cover_take_24_or_25_for_a_preload_of_2_to_3(tmp_path: Path) -> None:
    """The trade's own question: gap 0.027, preload 0.002 to 0.003: 0.025 or 0.029 of shims? 24 to 25, never 29."""
    drawer = "part,thickness_thou,on_hand\nR25,25,1\nR29,29,1\n"
    found = planned(tmp_path, "cover_gap = { value = 27 }", window=(-3, -2), unit="thou", drawer=drawer)
    gap = the_gap(found)
    assert gap["needed"] == {"least": 0.6096, "most": 0.635}  # 24 and 25 thou by hand
    assert plan_object(found)["places"][0]["stack"][0]["part"] == "R25"
    assert gap["after"]["best"] == -0.0508
    text = screen(found)
    assert "preload 2" in text
    assert "window preload 2 to 3 thou" in text
    assert "-2" not in text
    assert "-27" not in text


def test_above_its_window_more_shim_under_a_cover_cannot_help(tmp_path: Path) -> None:
    found = planned(tmp_path, "cover_gap = { value = 0.05 }", window=(-0.3, -0.1))
    assert the_gap(found)["verdict"] == "outside"
    assert [reason.code for reason in found.reasons] == ["above_window"]
    assert "0.05 mm too loose. More shim cannot help" in said(found)


def test_a_cover_that_needs_more_shim_than_there_is_says_what_is_nearest(tmp_path: Path) -> None:
    found = planned(tmp_path, "cover_gap = { go = 0.75, no_go = 0.80 }", window=(-0.3, -0.25))
    # by hand: 3 pieces make 0.3; -0.775 + 0.3 = -0.475, 0.175 under
    assert the_gap(found)["nearest"]["off"] == 0.175
    assert "would leave it 0.175 mm too tight" in said(found)


def test_under_a_cover_a_piece_too_thick_makes_it_too_loose(tmp_path: Path) -> None:
    drawer = "part,thickness_mm,on_hand\nS-50,0.5,1\n"
    found = planned(tmp_path, "cover_gap = { value = 0.40 }", window=(-0.2, -0.1), drawer=drawer)
    # by hand: -0.4 + 0.5 = 0.1, which is 0.2 over -0.1
    assert "S-50, 0.50 mm) would make it play 0.10 mm, 0.20 mm too loose" in said(found)


# what decides


def test_a_gap_that_is_likely_enough_is_inside_where_a_chance_decides(tmp_path: Path) -> None:
    """By hand: read 0.28 to 0.32 evenly, window to 0.316: 36 of 40 hundredths are inside, a chance of 0.9."""
    value = 'value = "0.30 mm ± 0.02 mm"\n'
    for chance, verdict in ((0.9, "inside"), (0.901, "unproven")):
        folder = tmp_path / str(chance)
        folder.mkdir()
        found = planned(
            folder,
            f"{value}decision = {{ chance = {chance} }}",
            window=(0.25, 0.316),
            drawer="part,thickness_mm,on_hand\nS-90,0.9,1\n",
        )
        gap = the_gap(found)
        assert (gap["chance"], gap["verdict"], gap["sure"]) == (0.9, verdict, False)
        assert found.outcome.doable is (verdict == "inside")
    assert "with a chance of 90.0 % where 90.1 % is asked" in said(found)


def test_what_is_only_sure_leaves_the_same_gap_unproven(tmp_path: Path) -> None:
    found = planned(
        tmp_path, 'value = "0.30 mm ± 0.02 mm"', window=(0.25, 0.316), drawer="part,thickness_mm,on_hand\nS-90,0.9,1\n"
    )
    assert (the_gap(found)["chance"], the_gap(found)["verdict"]) == (0.9, "unproven")


def test_a_gap_may_decide_otherwise_than_the_job(tmp_path: Path) -> None:
    found = planned(tmp_path, 'value = 0.2\ndecision = "sure"', top="decision = { chance = 0.9 }")
    assert the_gap(found)["decision"]["rule"] == "sure"
    same = planned(tmp_path, "value = 0.2", top="decision = { chance = 0.9 }")
    assert same.job.gaps[0].least_chance == Fraction(9, 10)


def test_guard_bands_are_shown(tmp_path: Path) -> None:
    """By hand: ±0.02 evenly; 95 % inside means at most a twentieth out: guard bands of 0.02 - 0.002 = 0.018."""
    found = planned(tmp_path, 'value = "0.30 mm ± 0.02 mm"\ndecision = { chance = 0.95 }')
    assert the_gap(found)["decision"]["accept"] == {"min": 0.118, "max": 0.282}
    assert the_gap(found)["decision"]["guard"] == {"min": 0.018, "max": 0.018}
    assert "for a chance of 95 % with exact pieces its best estimate has to come to 0.118 to 0.282 mm" in said(found)
    assert "guard bands of 0.018 mm" in said(found)


def test_a_window_too_narrow_for_the_gauge_is_said_with_what_would_do(tmp_path: Path) -> None:
    """By hand: ±0.02 evenly holds 95 % within ±0.019; a window of 0.03 needs that within ±0.015."""
    found = planned(tmp_path, 'value = "0.40 mm ± 0.02 mm"\ndecision = { chance = 0.95 }', window=(0.1, 0.13))
    gap = the_gap(found)
    assert gap["decision"]["possible"] is False
    assert gap["gauge"]["good"] is False
    assert gap["gauge"]["uncertainty"] == 0.019
    assert gap["gauge"]["reading_that_would_do"] == 0.015
    assert "there is no room: the window is too narrow for this gauge" in said(found)


# is the gauge good enough: step + 2 u <= window


def test_the_last_size_is_good_enough_where_it_serves(tmp_path: Path) -> None:
    found = planned(tmp_path, 'value = "0.51 mm ± 0.01 mm"')  # by hand: 0.22 to 0.40 of shim; at most 0.30 can be made
    assert the_gap(found)["gauge"]["good"] is True
    assert "a stack on hand serves" in said(found)
    none = planned(tmp_path, 'value = "0.71 mm ± 0.01 mm"')  # by hand: 0.42 to 0.60
    assert the_gap(none)["gauge"]["good"] is False
    assert "no stack that may go in is near enough" in said(none)


@pytest.mark.parametrize(
    ("half", "good", "words"),
    [
        # window 0.2, sizes 0.1 apart: u may be 0.05
        ("0.05", True, "the sizes step by 0.10 mm here, together 0.20 mm of a window 0.20 mm wide"),
        # the plan's stack of 0.3 is sure at this reading
        ("0.051", False, "good enough for this reading, not for every one"),
        ("0.051", False, "for every one, read it to ±0.05 mm"),
        ("0.1001", False, "no stack can be surely inside: the reading is known to ±0.1001 mm only"),
    ],
)
def test_the_gauge_is_judged_by_step_and_uncertainty(tmp_path: Path, half: str, good: bool, words: str) -> None:
    drawer = "part,thickness_mm,on_hand\nS-10,0.1,4\nS-40,0.4,1\n"
    found = planned(tmp_path, f'value = "0.50 mm ± {half} mm"', drawer=drawer)
    assert the_gap(found)["gauge"]["good"] is good
    assert words in said(found)


@pytest.mark.parametrize(("half", "good"), [("0.025", True), ("0.026", False)])
def test_a_step_of_sizes_counts_by_how_far_it_moves_the_gap(tmp_path: Path, half: str, good: bool) -> None:
    """By hand: behind a lever of 1 to 2, sizes 0.1 apart step by 0.05 in the gap: u may be (0.1 - 0.05) / 2 = 0.025."""
    gap = f'value = "0.30 mm ± {half} mm"\neffects = {{ cap = -0.5 }}'
    drawer = "part,thickness_mm,on_hand\nS-30,0.3,1\nS-40,0.4,1\nS-50,0.5,1\n"
    found = planned(
        tmp_path, f'{gap}\n[[place]]\nname = "cap"\npieces = {{ max = 1 }}', window=(0.05, 0.15), drawer=drawer
    )
    gauge = the_gap(found)["gauge"]
    assert (gauge["good"], gauge["step"], gauge["step_in_gap"]) == (good, 0.1, 0.05)
    assert "the sizes step by 0.10 mm here, 0.05 mm in the gap" in said(found)
    if good:
        assert "together 0.10 mm of a window 0.10 mm wide" in said(found)


# shift, worst case throughout, one micrometer


def test_a_shift_widens_what_is_known_and_a_gap_may_state_its_own(tmp_path: Path) -> None:
    assert the_gap(planned(tmp_path, "value = 0.2", top='shift = "±0.01 mm"'))["reading"]["low"] == 0.19
    own = planned(tmp_path, 'value = 0.2\nshift = "+/-0.02 mm"', top='shift = "±0.01 mm"')
    assert the_gap(own)["reading"]["high"] == 0.22
    assert "shift between trial and final assembly: ±0.02 mm" in said(own)


def test_a_reading_without_a_tolerance_is_told_of_though_a_shift_widens_it(tmp_path: Path) -> None:
    found = planned(tmp_path, "value = 0.2", top="shift = 0.01")
    assert plan_object(found)["taken_as_exact"]["readings"] == {"count": 1, "of": 1}


def test_worst_case_throughout_makes_an_indicator_sure(tmp_path: Path) -> None:
    pulls = "indicator = { readings = [0.2, 0.21, 0.2], resolution = 0.01, error = 0.01 }"
    likely, worst = (planned(tmp_path, pulls, top=top) for top in ("", 'basis = "worst case"'))
    assert (the_gap(likely)["reading"]["basis"], the_gap(likely)["sure"]) == ("95 %", False)
    assert (the_gap(worst)["reading"]["basis"], the_gap(worst)["sure"]) == ("worst case", True)
    # both are told either way
    for key in ("worst_case", "at_95"):
        assert the_gap(likely)["reading_detail"][key] == the_gap(worst)["reading_detail"][key]
    assert the_gap(worst)["reading"]["high"] == the_gap(likely)["reading_detail"]["worst_case"]["high"]


MEASURED = "part,measured_mm,measuring_error_mm,on_hand\nS-10,0.1,0.004,3\n"


def test_pieces_of_one_micrometer_share_its_error(tmp_path: Path) -> None:
    """By hand: read exactly 0.5, three pieces of 0.1 ± 0.004, allowed up to 0.209.

    Shared, their sum is even over ±0.012: 21 of 24 are inside. Independent, the tail above 9 of a sum of three even
    spreads of ±4 is (12 - 9)³ / (6 × 8³).
    """
    shared = planned(tmp_path, "value = 0.5", window=(0.15, 0.209), drawer=MEASURED, top='micrometer = "±0.004 mm"')
    assert the_gap(shared)["chance"] == pytest.approx(21 / 24, abs=1e-9)
    apart = planned(tmp_path, "value = 0.5", window=(0.15, 0.209), drawer=MEASURED)
    assert the_gap(apart)["chance"] == pytest.approx(1 - 27 / (6 * 8**3), abs=1e-9)
    # the worst case adds up either way
    assert the_gap(shared)["after"] == the_gap(apart)["after"] == {"low": 0.188, "best": 0.2, "high": 0.212}
    assert "share its error" in said(shared)
    assert "name it (`micrometer`)" in said(apart)


def test_a_micrometers_error_is_that_of_pieces_that_state_none(tmp_path: Path) -> None:
    drawer = "part,measured_mm,on_hand\nS-10,0.1,3\n"
    stated = planned(tmp_path, "value = 0.3", drawer=drawer, top='micrometer = { name = "no. 3", error = 0.002 }')
    assert stated.job.stock[0].part.thickness.low == 98_000
    # DIN 863-1: 4 µm to 25 mm
    standard = planned(tmp_path, "value = 0.3", drawer=drawer, top='micrometer = { range = "0 to 25 mm" }')
    assert standard.job.stock[0].part.thickness.low == 96_000


def test_unmeasured_pieces_are_called_independent(tmp_path: Path) -> None:
    found = planned(tmp_path, "value = 0.5", drawer="part,thickness_mm,tolerance_mm,on_hand\nS-10,0.1,0.01,3\n")
    assert "Unmeasured pieces are taken as independent of each other" in said(found)


# heat


HOT = (
    'value = 0.35\nheat = { housing = { material = "aluminium 356.0", length = "120 mm" }, shaft = [{ material = '
    '"steel 1040", length = "120 mm" }], from = "20 degC", to = "80 degC"%s }'
)


def test_heat_gives_the_clearance_hot(tmp_path: Path) -> None:
    """Handbook coefficients (Callister, table B.6), by hand: 10.2 millionths × 120 mm × 60 K = 0.07344 mm."""
    found = planned(tmp_path, HOT % "")
    assert the_gap(found)["heat"]["growth"] == 0.07344
    assert the_gap(found)["heat"]["after_hot"]["best"] == pytest.approx(the_gap(found)["after"]["best"] + 0.07344)
    assert "no window is stated for that" in said(found)


def test_a_plan_satisfies_the_window_when_hot(tmp_path: Path) -> None:
    """By hand: hot 0.20 to 0.30 means cold 0.12656 to 0.22656; 0.35 less two pieces of 0.1 is 0.15."""
    found = planned(tmp_path, HOT % ', window = { min = 0.2, max = 0.3, source = "hot sheet" }')
    gap = the_gap(found)
    assert gap["window"]["min"] == 0.12656
    assert gap["window"]["max"] == 0.22656
    assert gap["heat"]["window_cold"] == {"min": 0.1, "max": 0.3, "least": 0.1}
    assert gap["after"]["best"] == 0.15
    assert 0.2 <= gap["heat"]["after_hot"]["low"] <= gap["heat"]["after_hot"]["high"] <= 0.3
    # without the hot window one piece is enough
    assert found.outcome.levels["pieces"] == 2
    assert planned(tmp_path, HOT % "").outcome.levels["pieces"] == 1


def test_a_coefficient_may_be_given(tmp_path: Path) -> None:
    heat = 'heat = { housing = { coefficient = 10.2e-6, length = "120 mm" }, from = "293.15 K", to = "176 degF" }'
    assert the_gap(planned(tmp_path, f"value = 0.2\n{heat}"))["heat"]["growth"] == 0.07344


# all together


@pytest.fixture(scope="module")
def everything() -> Decision:
    return decide(load_job(ALL_READINGS))


def test_every_kind_of_reading_is_planned_in_one_job(everything: Decision) -> None:
    kinds = {gap["reading_detail"]["kind"] for gap in plan_object(everything)["gaps"]}
    assert kinds == {"value", "feeler", "indicator", "built_up", "cover_gap"}
    assert everything.proven
    assert all(0.9 < gap["chance"] <= 1 for gap in plan_object(everything)["gaps"])


def test_every_bracket_is_explained_term_by_term(everything: Decision) -> None:
    text = " ".join(screen(everything).split())
    for gap in plan_object(everything)["gaps"]:
        reading = {**gap["reading"], **gap["reading_detail"]}
        assert reading["terms"]
        for term in reading["terms"]:
            assert " ".join(term["words"].split()) in text
        # the worst case of what is estimated is the sum of its terms, rounded outward to whole nanometres
        if reading["at_95"] is not None:
            total = sum(term["error"] for term in reading["terms"])
            assert reading["worst_case"]["high"] - reading["best"] == pytest.approx(total, abs=2e-6)
            assert sum(term["amount"] for term in reading["terms"]) == pytest.approx(reading["best"], abs=1e-6)


def test_a_lever_shows_its_pulls_as_read_and_its_cosine_as_a_second_step(tmp_path: Path) -> None:
    """By hand: mean of 0.64 / 3 = 0.2133; cos 30° = 0.866025; 0.2133 × 0.866025 = 0.1848, which is 0.0286 less."""
    found = planned(tmp_path, "indicator = { readings = [0.21, 0.21, 0.22], lever_angle = 30 }")
    told = said(found)
    assert "mean of 3 pulls: 0.2133 mm" in told
    assert "lever at 30°: × cos 30° = 0.866025, 0.0286 mm less" in told
    # half the usual graduation of 0.01 mm, as on the dial
    assert "the dial can be read to ±0.005 mm (the usual graduation)" in told
    assert "the angle of the lever" in told
    assert "* so much 19 times in 20; what" in told
    terms = the_gap(found)["reading_detail"]["terms"]
    assert sum(term["amount"] for term in terms) == pytest.approx(0.184752, abs=2e-6)


def test_a_crush_without_a_range_is_taken_to_vary(tmp_path: Path) -> None:
    """By hand: a gasket of 0.80 crushed by 20 % is 0.64; 5 per cent of 0.80 + 0.01 is 0.0405 (common practice)."""
    told = said(planned(tmp_path, 'built_up = [{ name = "gasket", add = "0.80 mm ± 0.01 mm", crush = 20 }]'))
    assert "gasket, crushed by 20 %, 0.64 mm ±0.008 mm" in told
    assert "gasket is crushed as stated to ±5 per cent, ±0.0405 mm (common practice)" in told


def test_what_is_taken_as_exact_is_listed_in_full(everything: Decision) -> None:
    """Every reading and every size states its ±, or has the micrometer's; one lever, two materials of no stated ±."""
    exact = "Taken as exact, for no tolerance is stated: the angle of the lever and the coefficients of expansion."
    assert re.findall(r"Taken as exact[^.]*\.", said(everything)) == [exact]


def test_the_sources_of_coefficients_are_named(everything: Decision) -> None:
    told = said(everything)
    assert "Expansion in millionths per °C: aluminium 356.0: 21.5 and steel 1040: 11.3 (Callister, table B.6)" in told


def test_state_and_torque_are_printed(everything: Decision) -> None:
    text = " ".join(screen(everything).split())
    assert "Clamped: 20 N·m, gasket: none, faces oiled, at 20 °C, old hardware, turned 10 times to seat it" in text
    assert "read by K. Aas, on 2026-03-14, with lever indicator on a magnetic base" in text
    assert "thrust bearing: new hardware" in text
    assert "set to 15 lbf·ft = 180 lbf·in = 20.34 N·m" in text
    assert plan_object(everything)["state"]["when"] == "2026-03-14"


def test_few_pulls_are_a_caution(everything: Decision) -> None:
    cautions = [f["place"] for f in plan_object(everything)["findings"] if f["code"] == "few_pulls"]
    assert cautions == ["crank shaft"]


@pytest.mark.parametrize("width", [60, 80, 100])
@pytest.mark.parametrize("unit", ["mm", "thou"])
def test_the_screen_stays_within_its_width(everything: Decision, width: int, unit: str) -> None:
    assert all(cell_len(line) <= width for line in screen(everything, unit, width).split("\n"))


def test_what_was_in_and_goes_back_in_has_no_error_for_the_gauge(tmp_path: Path) -> None:
    """Read 0.35 ± 0.02 with P in, which is known to ± 0.05: with Q of exactly 0.20 beside it, 0.13 to 0.17, sure.

    Bare it would be 0.78 to 0.92, and no thickness is sure of 0.10 to 0.20 from there.
    """
    job = (
        'unit = "mm"\ndrawer = "drawer.csv"\n[[place]]\nname = "a"\ninstalled = ["P"]\n[[gap]]\nname = "a"\n'
        'value = "0.35 mm ± 0.02 mm"\nwindow = { min = 0.10, max = 0.20, source = "s" }\n'
    )
    found = load_job(write_job(tmp_path, job, "part,thickness_mm,tolerance_mm,on_hand\nP,0.50,0.05,0\nQ,0.20,,1\n"))
    gauge = gauges(found, screened(found), {0: 1, 1: 1})["a"]
    assert gauge.hit
    # and read at 0.15 with P in, it is inside as read, whatever P is
    as_read = write_job(tmp_path, job.replace("0.35", "0.15"), None)
    again = load_job(as_read)
    assert gauges(again, screened(again), {0: 1, 1: 1})["a"].code == "as_read"
