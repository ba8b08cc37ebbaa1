"""Uncertainty and chance against published worked examples, the source beside each.

JCGM 100:2008 is the Guide to the expression of uncertainty in measurement, JCGM 106:2012 the one on conformity.
"""

from __future__ import annotations

from fractions import Fraction
from math import sqrt

import pytest

from shimopt.probability import (
    Even,
    Normal,
    Sides,
    Student,
    acceptance,
    effective_dof,
    half_width,
    probability,
    scaled,
    standard_uncertainty,
    triangular,
)
from shimopt.probability.errors_of import Error

UM = 1_000  # nm


def fraction(number: str | float) -> Fraction:
    return Fraction(str(number))


def test_the_end_gauge_of_the_guide_has_its_published_uncertainty() -> None:
    """JCGM 100, H.1: l = l_s + d - l_s (delta_alpha theta + alpha_s delta_theta), inputs of table H.1 [nm].

    u = 31.664 nm and 16.75 degrees of freedom from the unrounded inputs, recomputed with two libraries (the guide
    rounds to 32 nm and 16).
    """
    length, alpha, theta = Fraction(50_000_623), fraction("11.5e-6"), fraction("-0.1")
    inputs: list[Error] = [
        Student(Fraction(25) ** 2, 18),  # l_s, the standard
        Student(fraction("5.8") ** 2, 24),  # d, repeated observations
        Student(fraction("3.9") ** 2, 5),  # d, random effects of the comparator
        Student(fraction("6.7") ** 2, 8),  # d, systematic effects of the comparator
        # difference of the coefficients, ±1e-6/K, known to 10 %: 50 degrees of freedom; sensitivity -l_s theta
        scaled(Student(fraction("1e-6") ** 2 / 3, 50), -length * theta),
        # difference of the temperatures, ±0.05 K, known to 50 %: 2 degrees of freedom; sensitivity -l_s alpha_s
        scaled(Student(fraction("0.05") ** 2 / 3, 2), -length * alpha),
    ]
    assert standard_uncertainty(inputs) == pytest.approx(31.664, abs=0.0005)
    assert effective_dof(inputs) == pytest.approx(16.75, abs=0.005)


@pytest.mark.parametrize(
    ("error", "divisor"),
    [
        ((Even(Fraction(1000)),), sqrt(3)),  # JCGM 100, 4.3.7
        (triangular(Fraction(1000)), sqrt(6)),  # 4.3.9
        ((Even(Fraction(1000, 2)),), sqrt(12)),  # F.2.2.1: a resolution of 1000 is ±500
    ],
)
def test_the_factors_of_the_guide(error: tuple[Error, ...], divisor: float) -> None:
    assert standard_uncertainty(error) == pytest.approx(1000 / divisor, rel=1e-12)


def test_errors_of_one_standard_add_up_and_do_not_average_out() -> None:
    """JCGM 100, 5.2.2, example (from memory, recomputed): ten resistors calibrated with one standard, u = 0.1 each.

    Their sum has u = 1.0, not 0.316.
    """
    one = Normal(fraction("0.1") ** 2)
    assert standard_uncertainty([scaled(one, Fraction(10))]) == pytest.approx(1.0)
    assert standard_uncertainty([one] * 10) == pytest.approx(0.316, abs=0.0005)


def test_a_trapezoid_has_the_published_coverage_factor() -> None:
    """EA-4/02, S10 (from memory, recomputed): rectangles of 25 and 50 µm; k = 1.83 at 95 %."""
    errors = [Even(Fraction(25 * UM)), Even(Fraction(50 * UM))]
    factor = half_width(errors, Fraction(95, 100)) / standard_uncertainty(errors)
    assert factor == pytest.approx(1.834, abs=0.0005)
    # by hand: from 25 on the tail above x is (75 - x)² / (2 × 50 × 100), which is 2.5 % at 75 - sqrt(250)
    assert half_width(errors, Fraction(95, 100)) == pytest.approx((75 - sqrt(250)) * UM, abs=1)


@pytest.mark.parametrize(
    ("value", "u", "low", "high", "published"),
    [
        ("13.6", "1.8", "12.5", "16.3", 0.6626297865),  # JCGM 106, 7.4 (0.66)
        ("-5.47", "0.05", None, "-5.40", 0.9192433408),  # JCGM 106, 7.3.3, example 1 (0.92; inputs from memory)
        ("509.7", "8.6", "490", None, 0.9890095474),  # JCGM 106, 7.3.3, example 2 (0.99; inputs from memory)
        # test vectors of an open metrology program: the probability of being outside is 0.01242 and 0.10574
        ("10", "0.4", "9", "11", 1 - 0.01242),
        ("10.5", "0.4", "9", "11", 1 - 0.10574),
        ("12.0", "0.4", "9", "11", 1 - 0.99379),
    ],
)
def test_the_probability_of_conformity(value: str, u: str, low: str | None, high: str | None, published: float) -> None:
    limits = [None if limit is None else fraction(limit) - fraction(value) for limit in (low, high)]
    found = probability([Normal(fraction(u) ** 2)], *limits)
    assert found == pytest.approx(published, abs=1e-5 if round(published, 5) == published else 1e-6)


@pytest.mark.parametrize(
    ("share", "factor"),
    # JCGM 106, 8.3.2: one-sided guard bands in u, quantiles of the normal distribution
    [("0.8", 0.8416), ("0.9", 1.2816), ("0.95", 1.6449), ("0.99", 2.3263), ("0.999", 3.0902)],
)
def test_one_sided_guard_bands(share: str, factor: float) -> None:
    u = 1_000_000
    zone = acceptance((Normal(Fraction(u) ** 2),), 0, None, fraction(share))
    assert zone is not None
    assert zone[0] is not None
    assert zone[0] / u == pytest.approx(factor, abs=5e-5)
    assert zone[1] is None


@pytest.mark.parametrize(("width", "factor"), [(4, 1.7962), (6, 1.6449)])
def test_two_sided_guard_bands(width: int, factor: float) -> None:
    """Computed from the normal distribution: 1.796 u at a window of 4 u, as one-sided from 6 u on."""
    u = 1_000_000
    zone = acceptance((Normal(Fraction(u) ** 2),), 0, width * u, fraction("0.95"))
    assert zone is not None
    low, high = zone
    assert low is not None
    assert high is not None
    assert low / u == pytest.approx(factor, abs=5e-5)
    assert width - high / u == pytest.approx(factor, abs=5e-5)


def test_below_392_u_there_is_no_acceptance_zone() -> None:
    """Recomputed: the normal distribution holds 95 % within ±1.95996 u, so a window needs 3.91993 u."""
    u = 1_000_000
    error = (Normal(Fraction(u) ** 2),)
    assert acceptance(error, 0, 3_919_900, fraction("0.95")) is None
    assert acceptance(error, 0, 3_920_000, fraction("0.95")) is not None


def test_half_the_probability_lies_on_each_side_of_a_best_estimate() -> None:
    """By hand: best 2 above low, 6 below high; half of 1/2 is within 1 below, 1/6 of 1/2 within 1 above."""
    error = [Sides(Fraction(2000), Fraction(6000))]
    assert probability(error, Fraction(-2000), Fraction(0)) == Fraction(1, 2)
    assert probability(error, Fraction(-1000), Fraction(1000)) == Fraction(1, 4) + Fraction(1, 12)
    # a best estimate at the very end: half the probability is there
    assert probability([Sides(Fraction(0), Fraction(10))], Fraction(0), Fraction(0)) == Fraction(1, 2)


def test_both_ends_of_a_window_are_inside() -> None:
    assert probability([], Fraction(0), Fraction(0)) == 1
    assert probability([], Fraction(0), Fraction(5)) == 1
    assert probability([], Fraction(1), None) == 0
    # by hand: an even spread of ±10 around the limit of a window 19 wide is outside for half, or a twentieth
    assert probability([Even(Fraction(10))], Fraction(-9), Fraction(10)) == Fraction(19, 20)
