"""Uncertainty and chance against independent libraries: GTC, uncertainties, scipy."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from math import sqrt
from typing import Any

import numpy as np
import pytest
import uncertainties
from GTC import dof as gtc_dof
from GTC import type_b, ureal
from GTC import uncertainty as gtc_u
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from shimopt.probability import (
    Even,
    Normal,
    Student,
    acceptance,
    effective_dof,
    half_width,
    probability,
    scaled,
    smooth,
    standard_uncertainty,
)
from shimopt.probability.errors_of import Error
from tests.exact_chance import chance_between

NM = st.integers(1, 50_000)
DOF = st.integers(2, 40)


@st.composite
def budgets(draw: st.DrawFn) -> list[tuple[Error, Fraction]]:
    """Errors and how much each counts."""
    kinds = st.one_of(
        NM.map(lambda half: Even(Fraction(half))),
        NM.map(lambda u: Normal(Fraction(u) ** 2)),
        st.tuples(NM, DOF).map(lambda both: Student(Fraction(both[0]) ** 2, both[1])),
    )
    factors = st.fractions(-3, 3, max_denominator=50).filter(lambda f: f != 0)
    return draw(st.lists(st.tuples(kinds, factors), min_size=1, max_size=7))


def root(error: Error) -> float:
    assert isinstance(error, Normal | Student)
    return sqrt(error.square)


@settings(deadline=None, max_examples=50)
@given(budgets())
def test_random_budgets_have_the_uncertainty_and_the_degrees_of_freedom_of_gtc(
    budget: list[tuple[Error, Fraction]],
) -> None:
    total = ureal(0, 0)
    for error, factor in budget:
        if isinstance(error, Even):
            one = ureal(0, type_b.uniform(float(error.half)))
        else:
            one = ureal(0, root(error), error.dof if isinstance(error, Student) else float("inf"))
        total = total + float(factor) * one
    errors = [scaled(error, factor) for error, factor in budget]
    assert standard_uncertainty(errors) == pytest.approx(gtc_u(total), rel=1e-9)
    assert effective_dof(errors) == pytest.approx(gtc_dof(total), rel=1e-6)


@settings(deadline=None, max_examples=50)
@given(budgets())
def test_random_budgets_have_the_uncertainty_of_uncertainties(budget: list[tuple[Error, Fraction]]) -> None:
    total = sum(
        float(factor) * uncertainties.ufloat(0, float(error.half) / sqrt(3) if isinstance(error, Even) else root(error))
        for error, factor in budget
    )
    errors = [scaled(error, factor) for error, factor in budget]
    assert standard_uncertainty(errors) == pytest.approx(total.std_dev, rel=1e-9)


@settings(deadline=None, max_examples=40)
@given(st.integers(1, 1000), st.integers(1, 8), st.floats(-1, 1))
def test_equal_rectangles_are_scipys_irwin_hall_distribution(half: int, count: int, at: float) -> None:
    x = Fraction(at) * half * count
    ours = probability([Even(Fraction(half))] * count, None, x)
    assert float(ours) == pytest.approx(stats.irwinhall.cdf(float(x / half) / 2 + count / 2, count), abs=1e-7)


@settings(deadline=None, max_examples=40)
@given(st.lists(NM, min_size=1, max_size=6), st.floats(-1, 1), st.floats(0, 1))
def test_different_rectangles_are_what_slow_exact_convolution_makes_of_them(
    halves: list[int], at: float, width: float
) -> None:
    low = Fraction(at) * sum(halves)
    high = low + Fraction(width) * sum(halves)
    boxes = [(Fraction(-half), Fraction(half)) for half in halves]
    assert probability([Even(Fraction(h)) for h in halves], low, high) == chance_between(boxes, low, high)


@settings(deadline=None, max_examples=25)
@given(st.integers(100, 20_000), st.integers(100, 20_000), NM, DOF, st.floats(-1.5, 1.5))
def test_a_t_and_two_rectangles_are_what_scipy_integrates(
    first: int, second: int, scale: int, dof: int, at: float
) -> None:
    """The t-distribution's own antiderivative takes the first rectangle; adaptive quadrature the second."""
    x = at * (first + second + 2 * scale)

    def above(y: float) -> float:
        z = y / scale
        return float(scale * (z * stats.t.cdf(z, dof) + (dof + z * z) / (dof - 1) * stats.t.pdf(z, dof)))

    def one(y: float) -> float:
        return (above(y + first) - above(y - first)) / (2 * first)

    kinks = sorted({k for k in (x - first, x + first) if -second < k < second})
    found, _ = integrate.quad(lambda t: one(x - t), -second, second, points=kinks or None, limit=200, epsabs=1e-6)
    errors = [Student(Fraction(scale) ** 2, dof), Even(Fraction(first)), Even(Fraction(second))]
    assert probability(errors, None, Fraction(x)) == pytest.approx(found / (2 * second), abs=1e-6)


@settings(deadline=None, max_examples=15)
@given(st.lists(NM, min_size=1, max_size=2), NM, st.floats(-1.5, 1.5))
def test_a_normal_and_rectangles_are_what_scipy_integrates(halves: list[int], u: int, at: float) -> None:
    x = at * (sum(halves) + 2 * u)
    boxes = [(Fraction(-half), Fraction(half)) for half in halves]

    def integrand(z: float) -> float:
        return float(chance_between(boxes, None, Fraction(x - z * u))) * float(stats.norm.pdf(z))

    kinks = sorted({(x - sum(s)) / u for s in _corners(halves)})
    found, _ = integrate.quad(integrand, -8, 8, points=[k for k in kinks if -8 < k < 8] or None, limit=100)
    errors = [Normal(Fraction(u) ** 2), *(Even(Fraction(half)) for half in halves)]
    assert probability(errors, None, Fraction(x)) == pytest.approx(found, abs=1e-6)


def _corners(halves: list[int]) -> list[list[int]]:
    corners: list[list[int]] = [[]]
    for half in halves:
        corners = [[*corner, sign * half] for corner in corners for sign in (-1, 1)]
    return corners


def test_many_errors_of_all_kinds_agree_with_a_long_simulation() -> None:
    """Four million draws, seeded: a share is known to about ±0.00025 (one standard deviation); four are allowed."""
    random = np.random.default_rng(20260314)
    draws = 4_000_000
    total = random.uniform(-9000, 9000, draws) + random.uniform(-4000, 4000, draws) + random.normal(0, 3000, draws)
    total += 2500 * random.standard_t(4, draws) + 1200 * random.standard_t(2, draws)
    errors = [
        Even(Fraction(9000)),
        Even(Fraction(4000)),
        Normal(Fraction(3000) ** 2),
        Student(Fraction(2500) ** 2, 4),
        Student(Fraction(1200) ** 2, 2),
    ]
    for low, high in ((-5000, 8000), (-20_000, 0), (3000, 30_000)):
        share = np.mean((total >= low) & (total <= high))
        assert probability(errors, Fraction(low), Fraction(high)) == pytest.approx(share, abs=0.001)


@settings(deadline=None, max_examples=40)
@given(budgets(), st.sampled_from([Fraction(1, 2), Fraction(95, 100), Fraction(99, 100)]))
def test_the_interval_of_a_share_is_the_narrowest_that_holds_it(
    budget: list[tuple[Error, Fraction]], share: Fraction
) -> None:
    errors = [scaled(error, factor) for error, factor in budget]
    half = half_width(errors, share)
    assert probability(errors, Fraction(-half), Fraction(half)) >= share
    assert half == 0 or probability(errors, Fraction(1 - half), Fraction(half - 1)) < share


@settings(deadline=None, max_examples=40)
@given(budgets(), st.integers(0, 200_000), st.sampled_from([Fraction(3, 4), Fraction(95, 100)]))
def test_the_zone_of_acceptance_ends_where_the_chance_does(
    budget: list[tuple[Error, Fraction]], width: int, share: Fraction
) -> None:
    errors = tuple(scaled(error, factor) for error, factor in budget)

    def chance(best: Fraction) -> Fraction | float:
        return probability(errors, -best, width - best)

    zone = acceptance(errors, 0, width, share)
    if zone is None:
        assert chance(Fraction(width // 2)) < share
        return
    low, high = zone
    assert low is not None
    assert high is not None
    # symmetric errors: as far from one limit as from the other
    assert low == width - high
    assert chance(Fraction(low)) >= share
    assert low == 0 or chance(Fraction(low - 1)) < share


@pytest.mark.parametrize(("scale", "dof"), [(1, 2), (400, 5), (50_001, 2)])
def test_a_t_far_narrower_or_wider_than_a_normal_is_what_scipy_integrates_by_few_points(
    scale: int, dof: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The integral goes by the wider of the two: counted in the narrower it took points without end."""
    sizes: list[int] = []
    grid = smooth._grid

    def counted(*args: Any) -> Any:
        sizes.append(grid(*args)[0].size)
        return grid(*args)

    smooth._weighted.cache_clear()
    monkeypatch.setattr(smooth, "_grid", counted)
    normal = 50_000
    for at in (0.4, 1.9):
        x = at * (normal + scale)
        bends = [b for b in (-8 * normal / scale, 8 * normal / scale, x / scale) if abs(b) < 1e5]

        def integrand(z: float, x: float = x) -> float:
            return float(stats.norm.cdf((x - scale * z) / normal) * stats.t.pdf(z, dof))

        parts = [-1e5, -100.0, -10.0, *bends, 10.0, 100.0, 1e5]
        found = sum(integrate.quad(integrand, a, b, limit=200)[0] for a, b in pairwise(sorted(parts)))
        found += stats.t.cdf(-1e5, dof)  # below it all counts, above nothing of it
        ours = probability([Normal(Fraction(normal) ** 2), Student(Fraction(scale) ** 2, dof)], None, Fraction(x))
        assert ours == pytest.approx(found, abs=2e-7)
    assert max(sizes) < 2_000
