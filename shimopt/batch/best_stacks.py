"""The decision for many separate gaps at once: for each the stack that is best level by level, in whole numbers.

A gap alone, with every size in supply, is decided by these levels: outside, miss, unproven, doubt, pieces, cautions,
distance from the target, natural order. A stack is fitted only where it brings the best estimate inside; `doubt` (how
far the bracket stands out of the window) then settles `unproven` too, for a gap is unproven where there is any doubt.

For stacks of one kind, thickness s, best estimate b, bracket l..h, window min..max, doubt is
max(0, min - l + above + s) + max(0, h - max + below - s): flat between the two corners, rising with slope one outside
them. So the best of a kind is the one nearest to the target between the corners, or else the nearest beside them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import groupby

import numpy as np

from shimopt.batch.decimals import Flags, Whole
from shimopt.batch.stack_table import Kind, StackTable
from shimopt.job.gap import NO_LIMIT
from shimopt.lengths import beyond

# stands for a limit that a window does not have, or a target that there is none of
NONE = NO_LIMIT


@dataclass(frozen=True)
class Asked:
    """Gaps, one a row: bracket and window [half-nanometres].

    `min` is -NONE and `max` NONE where there is no such limit; `target` is NONE where there is none.
    """

    low: Whole
    best: Whole
    high: Whole
    min: Whole
    max: Whole
    target: Whole

    def __len__(self) -> int:
        return len(self.best)

    def take(self, rows: Whole | Flags | slice) -> Asked:
        """Some of the rows."""
        return Asked(*(column[rows] for column in self.columns()))

    def off(self, clearance: Whole) -> Whole:
        """How far clearances lie outside their windows, 0 inside."""
        return self.out(clearance, clearance)

    def out(self, low: Whole, high: Whole) -> Whole:
        """By how much ranges stand out of their windows, both ends together."""
        return beyond(low, high, self.min, self.max)

    @cached_property
    def untargeted(self) -> bool:
        """Whether any gap has no target."""
        return bool((self.target == NONE).any())

    def columns(self) -> tuple[Whole, ...]:
        """All six, in the order above."""
        return self.low, self.best, self.high, self.min, self.max, self.target


@dataclass(slots=True)
class _Found:
    """The best stack so far: doubt, distance from the target, row in the table (-1: none)."""

    doubt: Whole
    off: Whole
    stack: Whole

    def take(self, rows: Whole | Flags) -> _Found:
        return _Found(self.doubt[rows], self.off[rows], self.stack[rows])

    def put(self, rows: Whole, found: _Found) -> None:
        self.doubt[rows], self.off[rows], self.stack[rows] = found.doubt, found.off, found.stack


def decided(table: StackTable, asked: Asked) -> Whole:
    """For every gap the row of its stack in the table; 0, the empty stack, also where no stack brings it inside."""
    inside = asked.off(asked.best) == 0
    doubt = np.where(inside, asked.out(asked.low, asked.high), NONE)
    best = _Found(doubt, np.zeros_like(doubt), np.where(inside, 0, -1))
    rows = np.flatnonzero(_open(asked, best, _least_spread(table.kinds)))
    kinds = table.kinds
    for _, group in groupby(kinds, key=lambda kind: (kind.pieces, kind.cautions)):
        alike = tuple(group)
        kinds = kinds[len(alike) :]
        if not len(rows):
            break
        here = asked.take(rows)
        new = _best_of(alike[0], here)
        for kind in alike[1:]:
            _improve(new, _best_of(kind, here))
        held = best.take(rows)
        better = new.doubt < held.doubt
        best.put(rows[better], new.take(better))
        rows = rows[_open(here, best.take(rows), _least_spread(kinds))] if kinds else rows[:0]
    return np.maximum(best.stack, 0)


def _least_spread(kinds: tuple[Kind, ...]) -> int:
    return min((kind.below + kind.above for kind in kinds), default=0)


def _open(asked: Asked, best: _Found, spread: int) -> Flags:
    """Where a stack of more pieces, at least so wide, could still have less doubt.

    Whatever its thickness, its doubt is at least what the widths of bracket and stack exceed that of the window by.
    """
    floor = np.maximum(0, asked.high - asked.low + spread - (asked.max - asked.min))
    reachable = asked.best >= asked.min
    return (best.doubt > floor) & reachable


def _improve(best: _Found, new: _Found) -> None:
    """Take what is better: less doubt, then nearer to the target, then earlier in natural order."""
    better = (new.stack >= 0) & (
        (new.doubt < best.doubt)
        | ((new.doubt == best.doubt) & ((new.off < best.off) | ((new.off == best.off) & (new.stack < best.stack))))
    )
    np.copyto(best.doubt, new.doubt, where=better)
    np.copyto(best.off, new.off, where=better)
    np.copyto(best.stack, new.stack, where=better)


def _best_of(kind: Kind, asked: Asked) -> _Found:
    """The best stack of one kind for every gap; -1 where none brings the best estimate inside."""
    least, most = asked.best - asked.max, asked.best - asked.min
    one, two = asked.low - asked.min - kind.above, asked.high - asked.max + kind.below
    corner_low = np.clip(np.minimum(one, two), least, most)
    corner_high = np.clip(np.maximum(one, two), least, most)
    start, stop = np.searchsorted(kind.best, corner_low, "left"), np.searchsorted(kind.best, corner_high, "right")
    between = stop > start
    if between.all():
        return _done(kind, asked, _nearest(kind, asked, start, stop))
    found = _Found(np.full(len(asked), NONE), np.full(len(asked), NONE), np.full(len(asked), -1))
    if len(rows := np.flatnonzero(between)):
        some = asked.take(rows)
        found.put(rows, _done(kind, some, _nearest(kind, some, start[rows], stop[rows])))
    rows = np.flatnonzero(~between)
    found.put(rows, _beside(kind, asked.take(rows), start[rows], stop[rows], least[rows], most[rows]))
    return found


def _beside(kind: Kind, asked: Asked, start: Whole, stop: Whole, least: Whole, most: Whole) -> _Found:
    """Where no stack lies between the corners: the nearest on either side that still brings the estimate inside."""
    last = len(kind.best) - 1
    below, above = np.maximum(start - 1, 0), np.minimum(stop, last)
    one, two = _done(kind, asked, below), _done(kind, asked, above)
    one.stack[(start == 0) | (kind.best[below] < least)] = -1
    two.stack[(stop > last) | (kind.best[above] > most)] = -1
    one.doubt[one.stack < 0] = NONE
    _improve(one, two)
    return one


def _done(kind: Kind, asked: Asked, at: Whole) -> _Found:
    """What the stacks at these places of a kind do."""
    thick = kind.best[at]
    doubt = asked.out(asked.low - thick - kind.above, asked.high - thick + kind.below)
    off = np.abs(asked.best - thick - asked.target)
    if asked.untargeted:
        off[asked.target == NONE] = 0
    return _Found(doubt, off, kind.rank[at])


def _nearest(kind: Kind, asked: Asked, start: Whole, stop: Whole) -> Whole:
    """The place in start..stop (not empty) nearest to the target; among equals, and without one, first in order."""
    aimed = asked.best - asked.target
    right = np.searchsorted(kind.best, aimed, "left")
    below, above = np.clip(right - 1, start, stop - 1), np.clip(right, start, stop - 1)
    off_below, off_above = np.abs(kind.best[below] - aimed), np.abs(kind.best[above] - aimed)
    lower = (off_below < off_above) | ((off_below == off_above) & (kind.rank[below] < kind.rank[above]))
    at = np.where(lower, below, above)
    if asked.untargeted:
        free = np.flatnonzero(asked.target == NONE)
        at[free] = _first(kind, start[free], stop[free])
    return at


def _first(kind: Kind, start: Whole, stop: Whole) -> Whole:
    """The place in start..stop of the stack that comes first in natural order."""
    steps = np.frexp((stop - start).astype(np.float64))[1] - 1
    least = np.empty(len(start), np.int64)
    for step in range(len(kind.firsts)):
        rows = np.flatnonzero(steps == step)
        run = kind.firsts[step]
        least[rows] = np.minimum(run[start[rows]], run[stop[rows] - (1 << step)])
    place_of = np.empty(int(kind.rank.max()) + 1, np.int64)
    place_of[kind.rank] = np.arange(len(kind.rank))
    return place_of[least]
