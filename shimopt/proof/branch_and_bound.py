"""Branch and bound in whole numbers: a level brought down, and what it cannot be below.

Every node is a range of the variables. Its relaxation proposes prices and values; the prices become a bound that holds
exactly (`exact_bounds`), and a node is left alone only when that bound says that nothing better is in it, or when the
answer read from its values, worked out again by plain arithmetic, reaches it. So nothing that is proven here rests on a
float or on a solver's word: one that errs or lies costs nodes, no more.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from heapq import heappop, heappush
from itertools import count
from typing import Self

import numpy as np

from shimopt.proof.exact_bounds import NO_END, Bound, Floats, Range, Sums, Wholes
from shimopt.proof.highs import Relaxation
from shimopt.watch import Limit

# so near to whole is whole, and the answer read from it is checked
_NEAR = 1e-6


@dataclass(frozen=True)
class Closing:
    """A level as a whole-number model: minimise `objective`, whose values are multiples of `unit`.

    `order` tells of every variable when it is branched on: 1 first, 2 where those are whole, 0 never. `read` works out
    the answer that values mean and gives its exact value; None where they mean none.
    """

    sums: Sums
    objective: Wholes
    unit: int
    within: Range
    order: Wholes
    read: Callable[[Floats], int | None]

    def bound_of(self, within: Range, relaxation: Relaxation) -> tuple[Bound | None, Floats | None]:
        """A bound of what lies within a range, and the values that the relaxation proposes there."""
        return bound_of(self.sums, self.objective, within, relaxation)

    def narrowed(self, bound: Bound, best: int) -> Self:
        """The same without what stands in no answer better than `best`, by this bound of it."""
        return replace(self, within=self.without_dear(self.within, bound, best))

    def without_dear(self, here: Range, bound: Bound, best: int) -> Range:
        """The range without the columns that stand in no better answer."""
        high = here.high.copy()
        high[: self.sums.columns][bound.too_dear(best)] = 0
        return Range(here.low, high)

    def with_room(self, here: Range, best: int) -> Range | None:
        """The range without what its rows alone rule out of answers better than `best`; None: they rule out all."""
        del best
        return here

    def apart(self, values: Floats, order: int) -> Floats:
        """How far from whole every variable of this order is; 0 where it is near enough."""
        apart = np.abs(values - np.rint(values))
        apart[(self.order != order) | (apart < _NEAR)] = 0.0
        return apart

    def split(self, here: Range, values: Floats | None) -> tuple[Range, Range] | None:
        """Two ranges that hold all whole answers of this one, the likelier first; None where all is settled."""
        for order in (1, 2):
            if values is not None:
                apart = self.apart(values, order)
                if apart.any():
                    at = int(np.argmax(apart))
                    return _parts(self, here, at, float(values[at]))
        free = np.flatnonzero((self.order > 0) & (here.low < here.high))
        if not len(free):
            return None
        at = int(free[np.argmin(self.order[free])])
        return _parts(self, here, at, int(here.high[at]) - 0.5 if values is None else float(values[at]))

    def settled(self, here: Range, least: int) -> int:
        """What nothing in a range that cannot be split is below, when its bound is `least`."""
        del here
        return least


def bound_of(
    sums: Sums, objective: Wholes, within: Range, relaxation: Relaxation
) -> tuple[Bound | None, Floats | None]:
    """A bound of what lies within a range, None where nothing does, and the values that the relaxation proposes."""
    relaxed = relaxation.solved(within)
    if relaxed is None:
        nothing = np.zeros(len(sums.limits), np.int64)
        return sums.bound(objective, nothing, within), None
    if relaxed.values is None:
        empty = sums.bound(np.zeros_like(objective), relaxed.prices, within)
        if empty is None or empty.fine > 0:
            return None, None
    return sums.bound(objective, relaxed.prices, within), relaxed.values


def closed(task: Closing, best: int, limit: Limit, relaxation: Relaxation | None = None) -> int:
    """What no answer is below, never above `best`, the value in hand; better ones are handed to `task.read`.

    It ends when that is `best`, or when the limit is reached. Parameters: relaxation, one that goes on from where it
    was, of a range that holds this one.
    """
    if (task.within.low > task.within.high).any():
        return best
    relaxation = relaxation or Relaxation(task.sums, task.objective, task.within)
    number = count()
    waiting: list[tuple[int, int, Range]] = []
    stuck = NO_END
    node: Range | None = task.within
    least = 0
    while True:
        if node is None:
            if not waiting or waiting[0][0] >= best:
                return min(best, stuck)
            least, _, node = heappop(waiting)
        if limit.over():
            return min(best, stuck, least, waiting[0][0] if waiting else NO_END)
        room, node = task.with_room(node, best), None
        if room is None:
            continue
        here = room
        bound, values = task.bound_of(here, relaxation)
        least = NO_END if bound is None else max(least, bound.rounded_up(task.unit))
        if bound is None or least >= best:
            continue
        here = task.without_dear(here, bound, best)
        if values is not None and not task.apart(values, 1).any():
            found = task.read(values)
            best = best if found is None else min(best, found)
            if least >= best:
                continue
        parts = task.split(here, values)
        if parts is None:
            stuck = min(stuck, task.settled(here, least))
            continue
        near, far = parts
        heappush(waiting, (least, next(number), far))
        node = near


def _parts(task: Closing, here: Range, at: int, value: float) -> tuple[Range, Range]:
    floor = min(max(int(np.floor(value + _NEAR)), int(here.low[at])), int(here.high[at]) - 1)
    below, above = here.high.copy(), here.low.copy()
    below[at] = floor
    chosen = here.high
    if at < task.sums.columns:
        # exactly one column of its group is 1: then no other is
        chosen = here.high.copy()
        chosen[: task.sums.columns][task.sums.group_of == task.sums.group_of[at]] = 0
        chosen[at] = 1
    above[at] = floor + 1
    down, up = Range(here.low, below), Range(above, chosen)
    return (up, down) if value - floor > 0.5 else (down, up)
