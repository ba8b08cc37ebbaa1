"""The probability of being inside, the slow way: densities as pieces of polynomials, convolved one error after another.

Exact fractions throughout; shares no code with `shimopt.probability` and uses another method (that one sums corners).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import comb

__all__ = ["chance_between"]

# a function that is 0 left of its first knot: between knots a polynomial in x, its coefficients from the constant up
Pieces = list[tuple[Fraction, list[Fraction]]]


def _integral(pieces: Pieces) -> Pieces:
    """The integral from the far left."""
    found: Pieces = []
    total = Fraction(0)
    for at, (knot, poly) in enumerate(pieces):
        raised = [Fraction(0), *(c / (n + 1) for n, c in enumerate(poly))]
        raised[0] = total - _value(raised, knot)
        found.append((knot, raised))
        if at + 1 < len(pieces):
            total = _value(raised, pieces[at + 1][0])
    return found


def _value(poly: list[Fraction], x: Fraction) -> Fraction:
    return sum((c * x**n for n, c in enumerate(poly)), Fraction(0))


def _moved(pieces: Pieces, by: Fraction) -> Pieces:
    """The function x -> f(x - by)."""
    moved: Pieces = []
    for knot, poly in pieces:
        fresh = [Fraction(0)] * len(poly)
        for n, c in enumerate(poly):
            for k in range(n + 1):
                fresh[k] += c * comb(n, k) * (-by) ** (n - k)
        moved.append((knot + by, fresh))
    return moved


def _difference(left: Pieces, right: Pieces, scale: Fraction) -> Pieces:
    knots = sorted({knot for knot, _ in (*left, *right)})
    found: Pieces = []
    for knot in knots:
        one, other = _at(left, knot), _at(right, knot)
        size = max(len(one), len(other))
        padded = [poly + [Fraction(0)] * (size - len(poly)) for poly in (one, other)]
        found.append((knot, [(a - b) * scale for a, b in zip(*padded, strict=True)]))
    return found


def _at(pieces: Pieces, x: Fraction) -> list[Fraction]:
    return next((poly for knot, poly in reversed(pieces) if knot <= x), [Fraction(0)])


def chance_between(boxes: Sequence[tuple[Fraction, Fraction]], low: Fraction | None, high: Fraction | None) -> Fraction:
    """The probability that a sum of values, each spread evenly from its low to its high, lies in low..high."""
    fixed = sum((a for a, b in boxes if a == b), Fraction(0))
    wide = [(a, b) for a, b in boxes if a < b]
    if not wide:
        return Fraction(int((low is None or low <= fixed) and (high is None or fixed <= high)))
    # the distribution of a fixed value is a step; an even spread makes a ramp of it, and so on
    pieces: Pieces = [(fixed, [Fraction(1)])]
    for a, b in wide:
        raised = _integral(pieces)
        pieces = _difference(_moved(raised, a), _moved(raised, b), 1 / (b - a))

    def up_to(x: Fraction) -> Fraction:
        return _value(_at(pieces, x), x)

    return (Fraction(1) if high is None else up_to(high)) - (Fraction(0) if low is None else up_to(low))
