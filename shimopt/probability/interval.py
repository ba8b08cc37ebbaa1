"""The symmetric interval that holds a given share of an error, and the zone in which an estimate may lie."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import lru_cache
from math import ceil, floor

from shimopt.probability.errors_of import Error, standard_uncertainty
from shimopt.probability.within import probability

__all__ = ["acceptance", "half_width"]


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
