"""The sum of even spreads, exactly: its distribution is a polynomial between corners, worked out in whole numbers.

For independent errors spread evenly over ±a1 ... ±an, the probability of a sum up to x is

    1 / (n! 2^n a1...an) × sum over all signs e of (e1...en) (x + e1 a1 + ... + en an)^n, where the bracket is above 0

(repeated integration of a product of steps; for n = 2 it is the trapezoid).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from math import comb, factorial, lcm, prod

MOST_CORNERS = 4096


def corner_count(halves: Sequence[Fraction]) -> int:
    """How many corners the distribution has at most: spreads of equal width share theirs."""
    return prod(count + 1 for count in Counter(halves).values())


@lru_cache(maxsize=4096)
def _corners(halves: tuple[Fraction, ...]) -> tuple[int, tuple[tuple[int, int], ...], int]:
    """Common denominator of the half-widths, corners with their signed weights, and the divisor of the sum."""
    unit = lcm(*(half.denominator for half in halves))
    found: dict[int, int] = {0: 1}
    for half, count in Counter(halves).items():
        width = half.numerator * (unit // half.denominator)
        added: Counter[int] = Counter()
        for at, weight in found.items():
            for minus in range(count + 1):
                added[at + (count - 2 * minus) * width] += weight * comb(count, minus) * (-1) ** minus
        found = added
    divisor = factorial(len(halves)) * prod(2 * half.numerator * (unit // half.denominator) for half in halves)
    return unit, tuple(sorted((at, weight) for at, weight in found.items() if weight)), divisor


def share_up_to(halves: tuple[Fraction, ...], x: Fraction) -> Fraction:
    """The probability that the sum of even spreads of these half-widths (at least one, none 0) is at most `x` [nm]."""
    reach = sum(halves)
    if x <= -reach:
        return Fraction(0)
    if x >= reach:
        return Fraction(1)
    unit, corners, divisor = _corners(halves)
    # whole numbers throughout: x in steps of 1 / (unit × its own denominator)
    at, fine, power = x.numerator * unit, x.denominator, len(halves)
    total = 0
    for corner, weight in corners:
        above = at + corner * fine
        if above > 0:
            total += weight * above**power
    return Fraction(total, divisor * fine**power)
