"""The probability that a sum of independent errors lies within limits, and the limits that hold a given share of it.

Exact where all errors are bounded, else right to 1e-7.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import ceil, floor, sqrt

from shimopt.probability.errors_of import Error, Even, Normal, Sides, Student, standard_uncertainty
from shimopt.probability.evenly import MOST_CORNERS, corner_count, share_up_to
from shimopt.probability.smooth import smooth_share_up_to


@dataclass(frozen=True, slots=True)
class _Sum:
    """A sum that is symmetric about `centre`, and its share of a mixture."""

    share: Fraction
    centre: Fraction
    halves: tuple[Fraction, ...]
    normal: Fraction
    students: tuple[tuple[Fraction, int], ...]

    @property
    def bounded(self) -> bool:
        return not self.normal and not self.students

    def up_to(self, x: Fraction, *, with_x: bool) -> Fraction | float:
        """The probability of at most x, or of less than x."""
        x = x - self.centre
        if self.bounded and not self.halves:
            return Fraction(int(x >= 0 if with_x else x > 0))
        if self.bounded and corner_count(self.halves) <= MOST_CORNERS:
            return share_up_to(self.halves, x)
        return smooth_share_up_to(
            tuple(float(half) for half in self.halves),
            sqrt(self.normal),
            tuple((sqrt(square), dof) for square, dof in self.students),
            float(x),
        )


@lru_cache(maxsize=4096)
def _sums(errors: tuple[Error, ...]) -> tuple[_Sum, ...]:
    """The errors' sum as a mixture of symmetric sums: one, doubled by every best estimate off its middle."""
    halves = sorted((e.half for e in errors if isinstance(e, Even) and e.half), reverse=True)
    normal = sum((e.square for e in errors if isinstance(e, Normal)), Fraction(0))
    students = tuple(sorted((e.square, e.dof) for e in errors if isinstance(e, Student) and e.square))
    sums = [_Sum(Fraction(1), Fraction(0), tuple(halves), normal, students)]
    for error in errors:
        if isinstance(error, Sides):
            sums = [part for one in sums for part in (_side(one, -error.below), _side(one, error.above))]
    return tuple(sums)


def _side(one: _Sum, end: Fraction) -> _Sum:
    """Half of the mixture, spread evenly from the best estimate to `end`."""
    halves = tuple(sorted((*one.halves, abs(end) / 2), reverse=True)) if end else one.halves
    return _Sum(one.share / 2, one.centre + end / 2, halves, one.normal, one.students)


def probability(errors: Sequence[Error], low: Fraction | None, high: Fraction | None) -> Fraction | float:
    """The probability that the sum of independent errors lies in low..high, ends included (None: no such end) [nm].

    An exact fraction where every error is bounded; with normal or Student errors a float, right to 1e-7.
    """
    total: Fraction | float = Fraction(0)
    for one in _sums(tuple(errors)):
        above = Fraction(1) if high is None else one.up_to(Fraction(high), with_x=True)
        below = Fraction(0) if low is None else one.up_to(Fraction(low), with_x=False)
        total += one.share * (above - below)
    return total if isinstance(total, Fraction) else min(1.0, max(0.0, total))


def half_width(errors: Sequence[Error], share: Fraction) -> int:
    """The least whole number of nanometres h such that the sum of the errors lies in ±h with at least this share."""
    held = tuple(errors)

    def holds(h: int) -> bool:
        return probability(held, Fraction(-h), Fraction(h)) >= share

    if holds(0):
        return 0
    high = max(1, ceil(2 * standard_uncertainty(held)))
    while not holds(high):
        high *= 2
    return _first(0, high, holds)


def _first(low: int, high: int, holds: Callable[[int], bool]) -> int:
    """The least number above `low` that holds, where `high` holds and whatever is above one that holds does too."""
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high


@lru_cache(maxsize=4096)
def acceptance(
    errors: tuple[Error, ...], low: int | None, high: int | None, share: Fraction
) -> tuple[int | None, int | None] | None:
    """The zone of best estimates that lie in low..high with at least this share, in whole nanometres; None: no zone.

    The way from a limit to the zone is the guard band (JCGM 106:2012, 8.3.2). An end is None where the window has none.
    `share` is above one half.
    """

    def holds(best: int) -> bool:
        return (
            probability(
                errors, None if low is None else Fraction(low - best), None if high is None else Fraction(high - best)
            )
            >= share
        )

    if low is not None and high is not None:
        middle = next((m for m in (floor(Fraction(low + high, 2)), ceil(Fraction(low + high, 2))) if holds(m)), None)
        if middle is None:
            return None
        least = low if holds(low) else _first(low, middle, holds)
        most = high if holds(high) else -_first(-high, -middle, lambda best: holds(-best))
        return least, most
    end, inwards = (low, 1) if low is not None else (high, -1)
    if end is None or holds(end):
        return low, high
    reach = max(1, ceil(2 * standard_uncertainty(errors)))
    while not holds(end + inwards * reach):
        reach *= 2
    limit = end + inwards * _first(0, reach, lambda h: holds(end + inwards * h))
    return (limit, None) if low is not None else (None, limit)
