"""All stacks whose thickness lies in a range, found by sorted sums."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from shimopt.arithmetic.clearance import Stack
from shimopt.lengths import beyond

__all__ = ["TooManyError", "nearest_stack", "stacks_between"]

# beyond so many steps a search gives up: some seconds, and the same on every machine
_MOST_STEPS = 2_000_000
_MOST_NEAR = 50_000


class TooManyError(Exception):
    """There are more stacks in the range than were asked for."""


# the ends of the sum, the ends of the count and the cap are all of the question: a bundle of them would say no more
def stacks_between(
    sizes: Sequence[int],
    counts: Sequence[int],
    most: int,
    low: int | None,
    high: int | None,
    cap: int | None = None,
    *,
    fewest: int = 1,
) -> list[Stack]:
    """Every non-empty multiset of at most `most` pieces whose thickness lies in low..high (None: no such end).

    Parameters: sizes, thickness of each kind above zero [ticks]; counts, how many there are of each; cap, the most
    stacks to list; fewest, the fewest pieces of a stack. A stack is the sorted tuple of the kinds' indices. Raises
    TooManyError beyond the cap, or where the search would take too long.
    """
    by_size = sorted((size, kind) for kind, size in enumerate(sizes) if counts[kind] > 0)
    values = [size for size, _ in by_size]
    if not values:
        return []
    largest = values[-1]
    low = 0 if low is None else low
    high = largest * most if high is None else min(high, largest * most)
    found: list[Stack] = []
    steps = 0

    def take_last(first: int, chosen: tuple[int, ...], total: int) -> None:
        start = max(first, bisect_left(values, low - total))
        for at in range(start, bisect_right(values, high - total)):
            if len(chosen) + 1 >= fewest and chosen.count(at) < counts[by_size[at][1]]:
                found.append(tuple(sorted(by_size[i][1] for i in (*chosen, at))))
        if cap is not None and len(found) > cap:
            raise TooManyError

    def extend(first: int, chosen: tuple[int, ...], total: int, left: int) -> None:
        nonlocal steps
        steps += 1
        if steps > _MOST_STEPS:
            raise TooManyError
        take_last(first, chosen, total)
        if left == 1:
            return
        # even the largest pieces on top must be able to reach `low`
        start = max(first, bisect_left(values, low - total - (left - 1) * largest))
        for at in range(start, bisect_right(values, high - total)):
            if chosen.count(at) < counts[by_size[at][1]]:
                extend(at, (*chosen, at), total + values[at], left - 1)

    if high >= low and most > 0:
        extend(0, (), 0, most)
    return found


def nearest_stack(
    sizes: Sequence[int], counts: Sequence[int], most: int, low: int | None, high: int | None, *, fewest: int = 1
) -> Stack:
    """The stack, possibly empty, whose thickness is nearest to low..high; then fewest pieces, then first in order.

    The range is widened until something lies in it. Where that would take too long, stacks of fewer pieces are looked
    at only.
    """
    while True:
        try:
            return _nearest(sizes, counts, most, low, high, fewest)
        except TooManyError:
            most -= 1


def _nearest(
    sizes: Sequence[int], counts: Sequence[int], most: int, low: int | None, high: int | None, fewest: int
) -> Stack:

    def off(stack: Stack) -> int:
        total = sum(sizes[kind] for kind in stack)
        return beyond(total, total, low, high)

    reach = off(())
    step = max(1, min(sizes, default=1) // 4)
    while reach:
        step = min(step, reach)
        reach_low = None if low is None else low - step
        reach_high = None if high is None else high + step
        near = stacks_between(sizes, counts, most, reach_low, reach_high, _MOST_NEAR, fewest=fewest)
        if near or step == reach:
            return min([(), *near], key=lambda stack: (off(stack), len(stack), stack))
        step *= 2
    return ()
