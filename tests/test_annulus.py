"""The area that two rings share, against polygons cut by another library and against areas known by hand."""

from __future__ import annotations

from fractions import Fraction
from math import acos, pi, sqrt

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import Point

from shimopt.seats.annulus import least_overlap, lens_area, shared_area

_SIDES = 4096  # of a quarter: a polygon of so many corners misses about 1e-7 of its circle


def ring(inner: float, outer: float, shift: float = 0.0):  # type: ignore[no-untyped-def]
    """A ring as shapely draws it."""
    centre = Point(shift, 0)
    whole = centre.buffer(outer, quad_segs=_SIDES)
    return whole.difference(centre.buffer(inner, quad_segs=_SIDES)) if inner else whole


rings = st.tuples(st.floats(0.5, 40), st.floats(0.2, 40)).map(lambda pair: (pair[0], pair[0] + pair[1]))


@settings(deadline=None, max_examples=60)
@given(rings, rings, st.floats(0, 30))
def test_the_shared_area_of_two_rings_is_that_of_the_cut_polygons(
    one: tuple[float, float], other: tuple[float, float], shift: float
) -> None:
    expected = ring(*one, shift).intersection(ring(*other)).area
    size = pi * max(one[1], other[1]) ** 2
    assert shared_area(one, other, shift) == pytest.approx(expected, abs=2e-6 * size)


def test_known_lenses() -> None:
    # two circles of radius 1, centres 1 apart: 2 pi / 3 - sqrt(3) / 2 (vesica piscis, by hand)
    assert lens_area(1, 1, 1) == pytest.approx(2 * pi / 3 - sqrt(3) / 2, abs=1e-12)
    assert lens_area(1, 1, 2) == 0
    assert lens_area(3, 1, 2) == pytest.approx(pi, abs=1e-12)
    assert lens_area(1, 1, 0) == pytest.approx(pi, abs=1e-12)
    # radii 5 and 5, 6 apart: 2 * 25 * acos(3/5) - 6 * 4 (by hand)
    assert lens_area(5, 5, 6) == pytest.approx(50 * acos(0.6) - 24, abs=1e-9)


def test_the_share_is_the_least_at_any_shift() -> None:
    mm = 1_000_000
    diameters = (Fraction(17 * mm), Fraction(23 * mm))
    share, area = least_overlap(diameters, diameters, Fraction(mm))
    # shifted by 1 mm against itself: radii 8.5 and 11.5, by the cut polygons
    expected = ring(8.5, 11.5, 1.0).intersection(ring(8.5, 11.5)).area
    assert float(area) == pytest.approx(expected, rel=1e-5)
    assert float(share) == pytest.approx(expected / ring(8.5, 11.5).area, rel=1e-5)
    assert least_overlap(diameters, diameters, Fraction(0))[0] == 1


@settings(deadline=None, max_examples=40)
@given(rings, rings, st.floats(0, 5), st.floats(0, 5))
def test_more_shift_never_raises_the_least_share(
    one: tuple[float, float], other: tuple[float, float], less: float, more: float
) -> None:
    def least(shift: float) -> Fraction:
        doubled = [(Fraction(a) * 2_000_000, Fraction(b) * 2_000_000) for a, b in (one, other)]
        return least_overlap(doubled[0], doubled[1], Fraction(shift) * 1_000_000)[0]

    low, high = sorted((less, more))
    # sampled at 33 shifts each: between them the share can dip by less than this
    assert least(high) <= least(low) + Fraction(1, 100)


@settings(deadline=None, max_examples=200)
@given(rings, rings, st.floats(0, 6))
@example((27.67231799256744, 28.67804384614461), (27.67231799256744, 28.67804384614461), 1.0057258535771725)
@example((1.050791917990949, 24.499137570097773), (23.448345652106823, 24.448345652106823), 1.050791917990949)
def test_where_only_the_far_end_is_looked_at_nothing_nearer_covers_less(
    one: tuple[float, float], other: tuple[float, float], far: float
) -> None:
    doubled = [(Fraction(a) * 2_000_000, Fraction(b) * 2_000_000) for a, b in (one, other)]
    _, area = least_overlap(doubled[0], doubled[1], Fraction(far) * 1_000_000)
    # the plain way: 33 shifts, each worked out
    expected = min(shared_area(one, other, far * step / 32) for step in range(33))
    assert float(area) == pytest.approx(expected, abs=1e-6)  # rounded to a millionth


def test_two_circles_that_just_cross_share_two_thin_segments() -> None:
    # by hand: circles of radius 1, h short of parting, share two segments of sagitta h/2 and chord 2 sqrt(h), each two
    # thirds of sagitta times chord in area (as a parabola's, for small h): 4/3 h sqrt(h) in all
    for d in (2 - 1e-5, 2 - 1e-6, 2 - 1e-8):
        h = 2 - d
        assert lens_area(1.0, 1.0, d) == pytest.approx(4 / 3 * h * sqrt(h), rel=2e-5)
