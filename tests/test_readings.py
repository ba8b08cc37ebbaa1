"""From what instruments say to brackets: published figures, and sums by hand."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import sqrt

import pytest

from shimopt.errors import RefusedError
from shimopt.lengths import toleranced
from shimopt.probability import standard_uncertainty
from shimopt.readings import (
    Dial,
    Dimension,
    Reading,
    Spot,
    built_up_reading,
    cover_reading,
    feeler_reading,
    indicator_reading,
    value_reading,
)
from shimopt.readings.instruments import dial_error, micrometer_error

UM, MM, THOU = 1_000, 1_000_000, 25_400


def ends(reading: Reading) -> tuple[Fraction, Fraction, Fraction]:
    return reading.bracket.low, reading.bracket.best, reading.bracket.high


# Table H.2 of JCGM 100:2008 (from memory): five observations of a voltage, mean 4.9990 V, s of the mean 0.0032 V
VOLTS = [5007, 4994, 5005, 4990, 4999]


def test_repeats_have_the_mean_and_the_uncertainty_of_the_guide() -> None:
    reading = indicator_reading(Dial([v * UM for v in VOLTS], resolution=1 * UM, error=0))
    assert reading.bracket.best == 4_999 * UM
    repeats = next(term for term in reading.terms if term.code == "repeats")
    assert standard_uncertainty(repeats.errors) / UM == pytest.approx(3.2, abs=0.05)
    # by hand: squares 64 + 25 + 36 + 81 + 0 = 206, over 4 and over 5
    assert standard_uncertainty(repeats.errors) == pytest.approx(sqrt(206 / 20) * UM)


def test_resolution_and_error_join_the_repeats() -> None:
    """JCGM 100, 5.1.2: u² = s²/n + d²/12 + a²/3."""
    reading = indicator_reading(Dial([v * UM for v in VOLTS], resolution=10 * UM, error=15 * UM))
    by_hand = sqrt(206 / 20 + 10**2 / 12 + 15**2 / 3) * UM
    assert standard_uncertainty(reading.errors) == pytest.approx(by_hand)
    assert reading.basis == "95 %"
    half = reading.bracket.high - reading.bracket.best
    # a sum of several errors: k lies between that of a rectangle (1.65) and that of t with 4 degrees of freedom (2.78)
    assert 1.65 < half / by_hand < 2.78
    assert half == reading.bracket.best - reading.bracket.low


def test_the_worst_case_of_pulls_is_the_farthest_pull_the_resolution_and_the_error() -> None:
    reading = indicator_reading(Dial([v * UM for v in VOLTS], resolution=10 * UM, error=15 * UM), "worst case")
    # by hand: 4990 is 9 below the mean; half a graduation 5; error 15
    assert ends(reading) == ((4999 - 29) * UM, 4999 * UM, (4999 + 29) * UM)


def test_under_three_pulls_the_common_figure_stands_in_and_no_t_factor() -> None:
    reading = indicator_reading(Dial([210 * UM, 230 * UM], resolution=10 * UM, error=0), "worst case")
    # common practice, no source: ±0.01 mm on a rigid base; half a graduation is 0.005 mm
    assert ends(reading) == (205 * UM, 220 * UM, 235 * UM)
    assert [term.code for term in reading.terms if term.assumed] == ["repeatability"]
    likely = indicator_reading(Dial([210 * UM, 230 * UM], resolution=10 * UM, error=0))
    # by hand: rectangles of 10 and 5; the tail above x is (15 - x)² / (2 × 10 × 20), 2.5 % at 15 - sqrt(10)
    assert likely.bracket.high == pytest.approx((220 + 15 - sqrt(10)) * UM, abs=1)


def test_a_bracket_of_95_per_cent_is_rounded_outward_to_whole_nanometres() -> None:
    reading = indicator_reading(Dial([210 * UM, 211 * UM, 212 * UM + 1], resolution=10 * UM, error=7 * UM))
    low, best, high = ends(reading)
    assert low.denominator == high.denominator == 1
    assert best == Fraction(633 * UM + 1, 3)
    share_within = (best - low, high - best)
    assert abs(share_within[0] - share_within[1]) < 1


def test_a_lever_at_thirty_degrees_is_corrected_as_makers_tables_say() -> None:
    """Published tables of makers: 0.200 mm read are 0.196, 0.188 and 0.174 mm at 10, 20 and 30 degrees.

    Their factors are rounded to two places: 0.98, 0.94, 0.87.
    """
    for angle, movement in (("10", 196), ("20", 188), ("30", 174)):
        reading = indicator_reading(Dial([200 * UM] * 3, 10 * UM, 0, Decimal(angle)))
        assert reading.bracket.best / UM == pytest.approx(movement, abs=1.01)
    # by hand: cos 60 degrees is one half, of the reading and of its errors
    flat = indicator_reading(Dial([200 * UM] * 3, 10 * UM, 0, Decimal(60)), "worst case")
    assert ends(flat) == (97_500, 100_000, 102_500)


@pytest.mark.parametrize(
    ("dial", "words"),
    [
        (Dial([]), "at least one reading"),
        (Dial([1], resolution=0), "a resolution is above zero"),
        (Dial([1], resolution=-5), "a resolution is above zero"),
        (Dial([1], error=-1), "not negative"),
        (Dial([1], lever_angle=Decimal(90)), "below 90 degrees"),
        (Dial([1], lever_angle=Decimal(-1)), "from 0 to below 90 degrees"),
        (Dial([1], lever_angle=Decimal("89.5")), "shows nothing"),
        (Dial([1], error=5, travel=5), "`travel` stands for an error"),
        (Dial([1], resolution=10 * UM, travel=5 * MM, lever_angle=Decimal(30)), "dials with a plunger"),
        (Dial([1], resolution=7 * UM, travel=5 * MM), "no dial of this graduation"),
    ],
)
def test_an_indicator_that_cannot_be(dial: Dial, words: str) -> None:
    with pytest.raises(RefusedError, match=words):
        indicator_reading(dial)


@pytest.mark.parametrize(
    ("graduation", "travel", "error"),
    # JIS B 7503:2011, dials of 50 mm and more across: error over the entire range [µm]
    [
        (10, 1, 8),
        (10, 3, 10),
        (10, 5, 12),
        (10, 8, 15),
        (10, 10, 15),
        (10, 20, 25),
        (10, 30, 30),
        (10, 50, 40),
        (10, 100, 50),
        (5, 5, 12),
        (1, 1, 5),
        (1, 2, 7),
        (1, 5, 10),
    ],
)
def test_the_permissible_error_of_a_dial_is_that_of_the_standard(graduation: int, travel: int, error: int) -> None:
    assert dial_error(graduation * UM, travel * MM) == error * UM
    reading = indicator_reading(Dial([200 * UM] * 3, graduation * UM, travel=travel * MM), "worst case")
    assert reading.bracket.high == 200 * UM + error * UM + Fraction(graduation * UM, 2)


@pytest.mark.parametrize(
    ("lower_end", "error"),
    # DIN 863-1, table of permissible errors [µm] by the lower end of the range [mm]
    [
        (0, 4),
        (25, 4),
        (50, 5),
        (75, 5),
        (100, 6),
        (125, 6),
        (150, 7),
        (175, 7),
        (200, 8),
        (225, 8),
        (250, 9),
        (275, 9),
        (300, 10),
        (325, 10),
        (350, 11),
        (375, 11),
        (400, 12),
        (425, 12),
        (450, 13),
        (475, 13),
    ],
)
def test_the_permissible_error_of_a_micrometer_is_that_of_the_standard(lower_end: int, error: int) -> None:
    assert micrometer_error(Fraction(lower_end)) == error * UM


def dimension(name: str, sign: int, length: str, **more: Decimal) -> Dimension:
    return Dimension(name, sign, toleranced(length, "in"), **more)  # type: ignore[arg-type]


def test_dimensions_add_up_as_in_the_trade() -> None:
    """Worked in the trade (public manual): 1.008 + 0.030 - 0.686 - 0.080 = 0.272 in."""
    reading = built_up_reading(
        [
            dimension("bore", 1, "1.008 in ± 0.001 in"),
            dimension("gasket", 1, "0.030 in ± 0.002 in"),
            dimension("bearing", -1, "0.686 in ± 0.0005 in"),
            dimension("spacer", -1, "0.080 in ± 0.0005 in"),
        ]
    )
    assert reading.bracket.best == 272 * THOU
    assert reading.worst is not None
    # by hand: 1 + 2 + 0.5 + 0.5 = 4 thou at worst
    assert (reading.worst.low, reading.worst.high) == (268 * THOU, 276 * THOU)
    assert reading.likely == reading.bracket
    assert reading.bracket.high < reading.worst.high
    assert [term.amount / THOU for term in reading.terms] == [1008, 30, -686, -80]


def test_two_dimensions_have_the_trapezoids_bracket() -> None:
    """EA-4/02, S10 (from memory, recomputed): half-widths of 25 and 50, k = 1.834 at 95 %."""
    reading = built_up_reading(
        [
            Dimension("bore", 1, toleranced("42 mm ± 0.025 mm", "mm")),
            Dimension("ring", -1, toleranced("41 mm ± 0.050 mm", "mm")),
        ]
    )
    u = sqrt((25**2 + 50**2) / 3) * UM
    assert (reading.bracket.high - reading.bracket.best) / u == pytest.approx(1.834, abs=0.0005)


def test_a_dimension_without_a_tolerance_takes_the_common_figure_and_says_so() -> None:
    reading = built_up_reading([dimension("bore", 1, "1 in"), dimension("ring", -1, "0.9 in ± 0.001 in")], "worst case")
    # common practice, no source: four or five dimensions to ±0.04 mm, 0.01 mm each
    assert reading.bracket.high - reading.bracket.best == 10 * UM + THOU
    assert [term.assumed for term in reading.terms] == [True, False]


def test_a_gasket_given_free_is_crushed() -> None:
    crush = {"crush": Decimal(25), "crush_half": Decimal(5)}
    reading = built_up_reading([Dimension("gasket", 1, toleranced("0.8 mm ± 0.02 mm", "mm"), **crush)], "worst case")
    # by hand: 0.8 × 0.75 = 0.6; at worst thickest 0.82 × 0.80 = 0.656, and the bracket is even about its middle
    assert ends(reading) == (544 * UM, 600 * UM, 656 * UM)


@pytest.mark.parametrize(("shape", "k"), [("triangular", sqrt(6)), ("normal", 2.0)])
def test_a_stated_tolerance_is_spread_as_the_job_says(shape: str, k: float) -> None:
    """Triangle: JCGM 100, 4.3.9. Normal: ± is two standard uncertainties, as certificates state it (6.3.3)."""
    reading = value_reading(toleranced("0.35 mm ± 0.01 mm", "mm"), shape)  # type: ignore[arg-type]
    assert standard_uncertainty(reading.errors) == pytest.approx(10 * UM / k)
    # a triangle is bounded, a normal distribution is not
    assert reading.basis == ("worst case" if shape == "triangular" else "95 %")
    half = 10 * UM if shape == "triangular" else 1.959964 / 2 * 10 * UM
    assert reading.bracket.high - reading.bracket.best == pytest.approx(half, abs=1)


def test_blade_errors_widen_the_bracket_leaf_by_leaf() -> None:
    reading = feeler_reading([Spot(10 * THOU, 11 * THOU, blade_error=254, leaves=3)])
    # by hand: three leaves of ±0.01 thou
    assert ends(reading) == (10 * THOU - 762, Fraction(21 * THOU, 2), 11 * THOU + 762)


def test_a_blade_error_makes_no_gap_less_than_nothing() -> None:
    reading = feeler_reading([Spot(no_go=2 * THOU, blade_error=254)])
    assert ends(reading) == (0, THOU, 2 * THOU + 254)


def test_a_cover_gap_is_read_as_a_preload() -> None:
    reading = cover_reading([Spot(27 * THOU, 28 * THOU)], None)
    assert ends(reading) == (-28 * THOU, Fraction(-55 * THOU, 2), -27 * THOU)
    assert ends(cover_reading([], toleranced("27 thou", "thou"))) == (-27 * THOU,) * 3


def test_a_shift_widens_the_bracket() -> None:
    moved = value_reading(toleranced("0.35 mm ± 0.01 mm", "mm")).moved_by(20 * UM)
    assert ends(moved) == (320 * UM, 350 * UM, 380 * UM)
    # JCGM 100, 5.1.2: 10²/3 + 20²/3
    assert standard_uncertainty(moved.errors) == pytest.approx(sqrt(500 / 3) * UM)
    likely = indicator_reading(Dial([210 * UM] * 2, 10 * UM, 0)).moved_by(20 * UM)
    assert likely.worst is not None
    # by hand: 10 for how it repeats, 5 for the graduation, 20
    assert likely.worst.high == (210 + 35) * UM
    assert 20 * UM < likely.bracket.high - likely.bracket.best < 35 * UM


def test_the_worst_case_of_an_indicator_is_never_narrower_than_95_per_cent() -> None:
    """Three pulls, by hand: mean 16.5, s 0.5, s of the mean 0.2887; t with 2 degrees of freedom at 95 % is 4.303.

    4.303 from a table of Student's t. At worst 1.242 + 0.25 + 0.5, more than the farthest pull (0.5) would make it.
    """
    reading = indicator_reading(Dial([16_000 * UM, 17_000 * UM, 16_500 * UM], 500 * UM, 500 * UM))
    assert reading.worst is not None
    assert reading.likely is not None
    assert (reading.worst.high - reading.worst.best) / UM == pytest.approx(250 + 500 + 4.303 * 500 / sqrt(3), abs=0.5)
    assert reading.likely.high < reading.worst.high
