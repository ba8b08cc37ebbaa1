"""Stacks near a thickness: all whose thickness lies in a range, found by sorted sums, or some of them in a moment."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations_with_replacement

from shimopt.arithmetic.clearance import Stack
from shimopt.lengths import beyond

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


# so many beginnings of a stack are tried; of a longer list of sizes a few, evenly taken, begin stacks
_MOST_BEGINNINGS = 400


class NearSums:
    """The sizes of a seat, for stacks near a thickness.

    Parameters: sizes, by stock line, the thickness of a piece [ticks, above zero].
    """

    def __init__(self, sizes: Mapping[int, int]) -> None:
        self.lines = sorted(sizes, key=lambda line: (sizes[line], line))
        self.sizes = [sizes[line] for line in self.lines]

    def stacks(self, aim: int, left: Mapping[int, int], fewest: int, most: int) -> Iterator[Stack]:
        """A stack near `aim` [ticks] of each number of pieces from `fewest` to `most`; `left` is what may be used."""
        there = [at for at, line in enumerate(self.lines) if left[line] > 0]
        sizes = [self.sizes[at] for at in there]
        counts = [left[self.lines[at]] for at in there]
        for pieces in range(max(1, fewest), most + 1):
            found: tuple[int, Sequence[int]] | None = None
            for beginning in _beginnings(pieces - 1, counts):
                rest = aim - sum([sizes[at] for at in beginning])
                above = bisect_left(sizes, rest)
                # the next thicker and the next thinner piece that is left
                for beside in (range(above, len(sizes)), range(above - 1, -1, -1)):
                    at = next((at for at in beside if counts[at] > beginning.count(at)), None)
                    if at is not None and (found is None or abs(sizes[at] - rest) < found[0]):
                        found = abs(sizes[at] - rest), (*beginning, at)
            if found is not None:
                yield tuple(sorted(self.lines[there[at]] for at in found[1]))


def _beginnings(pieces: int, counts: Sequence[int]) -> Iterator[tuple[int, ...]]:
    few = min(len(counts), int(_MOST_BEGINNINGS ** (1 / pieces)) if pieces else 1)
    begun = [n * len(counts) // few for n in range(few)] if few else []
    for beginning in combinations_with_replacement(begun, pieces) if begun else ():
        if all(beginning.count(at) <= counts[at] for at in beginning):
            yield beginning
