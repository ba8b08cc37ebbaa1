"""The area that two rings share when one is shifted.

The area common to two circles of radii r and s whose centres are d apart (the lens) is, where they cross,

    r² acos((d² + r² - s²) / 2dr) + s² acos((d² + s² - r²) / 2ds) - ½ sqrt((-d+r+s)(d+r-s)(d-r+s)(d+r+s))

and a ring is its outer circle less its inner one. The angles are taken from tan²(A/2) = (p - b)(p - c) / (p (p - a)),
the half-angle rule of a triangle with sides a, b, c and half perimeter p. Areas are irrational: they are worked out in
floats, and what is compared with a limit is rounded to a millionth first, so that no machine can decide otherwise than
another.
"""

from __future__ import annotations

from fractions import Fraction
from math import atan2, fsum, pi, sqrt

_STEPS = 32


def lens_area(r: float, s: float, d: float) -> float:
    """The area common to two circles, in the square of the unit of the lengths."""
    if d >= r + s:
        return 0.0
    if d <= abs(r - s):
        return pi * min(r, s) ** 2
    # half angles from the triangle's sides, and sums rounded once: an arc cosine near 1 loses half of all digits
    all_, less_d, less_r, less_s = (fsum(sides) for sides in ((d, r, s), (-d, r, s), (d, -r, s), (d, r, -s)))
    first = 2 * r * r * atan2(sqrt(less_d * less_r), sqrt(all_ * less_s))
    second = 2 * s * s * atan2(sqrt(less_d * less_s), sqrt(all_ * less_r))
    return first + second - sqrt(all_ * less_d * less_r * less_s) / 2


def ring_area(inner: float, outer: float) -> float:
    """The area of a ring between two radii."""
    return pi * (outer * outer - inner * inner)


def shared_area(ring: tuple[float, float], land: tuple[float, float], shift: float) -> float:
    """The area that a ring (inner and outer radius), shifted sideways, shares with a land.

    >>> round(shared_area((8, 11), (8, 11), 0.0), 3)  # the whole ring: pi * (121 - 64)
    179.071
    """
    (bore, edge), (inside, outside) = ring, land
    area = lens_area(edge, outside, shift) - lens_area(edge, inside, shift)
    return max(0.0, area - lens_area(bore, outside, shift) + lens_area(bore, inside, shift))


def least_overlap(
    ring: tuple[Fraction, Fraction], land: tuple[Fraction, Fraction], shift: Fraction
) -> tuple[Fraction, Fraction]:
    """The least share of the land that a ring covers at any shift up to `shift`, and that area [mm²].

    Parameters: ring and land as inner and outer diameters, shift, all in nm. Both results rounded to a millionth.
    """
    radii = [float(d) / 2_000_000 for d in (*ring, *land)]
    bore, edge, inside, outside = radii
    if bore >= edge or inside >= outside:
        return Fraction(0), Fraction(0)
    far = float(shift) / 1_000_000
    # a lens loses as much as its circles' common chord is long: where neither the part's edge crosses the land's inside
    # nor its bore the land's outside, a shift only ever takes away
    steps = (_STEPS,) if far <= min(abs(edge - inside), abs(outside - bore)) else range(_STEPS + 1)
    area = min(shared_area((bore, edge), (inside, outside), far * step / _STEPS) for step in steps)
    return _millionths(area / ring_area(inside, outside)), _millionths(area)


def _millionths(value: float) -> Fraction:
    return Fraction(round(value * 1_000_000), 1_000_000)
