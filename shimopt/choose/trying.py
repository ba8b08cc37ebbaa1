"""Every combination of the options that are left, worked out one by one in whole numbers: small jobs need no solver.

What is looked at here is decided whatever its numbers are. Combinations are built up place by place, so that what
there are no pieces for goes early; then each level keeps those that are best at it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from math import prod

import numpy as np
import numpy.typing as npt

from shimopt.arithmetic.outcome import cheapest_packs
from shimopt.choose.coupling import Linked
from shimopt.choose.model import Model

__all__ = ["Trial", "can_be_tried"]

# so many combinations are worked out, where places are few
_MOST = 1_000_000
_PLACES = 6

Wholes = npt.NDArray[np.int64]


def can_be_tried(alive: Sequence[Sequence[int]]) -> bool:
    """Whether the combinations of these options are few enough to look at each."""
    open_places = sum(len(group) > 1 for group in alive)
    return prod(map(len, alive)) * max(1, open_places) <= _MOST * _PLACES


def _wholes(values: Sequence[int]) -> Wholes:
    """An array of whole numbers; of any size where sums of some of them could leave 64 bits."""
    large = max(map(abs, values), default=0) >= 1 << 50
    return np.array(values, dtype=object if large else np.int64)


class Trial:
    """The combinations of a model's options that keep its rules: `columns` holds a row of columns for each."""

    def __init__(self, model: Model, alive: Sequence[Sequence[int]]) -> None:
        self.model = model
        columns = np.zeros((1, 0), np.int32)
        most: Counter[int] = Counter()
        for group in alive:
            here: Counter[int] = Counter()
            for c in group:
                here |= Counter(model.columns[c].stack)
            most.update(here)
        # what cannot run out need not be counted
        scarce = sorted(i for i, count in most.items() if count > model.supply[i])
        left = np.array([[min(model.supply[i], 1 << 40) for i in scarce]], np.int64)
        for group in alive:
            takes = np.array([[model.columns[c].stack.count(i) for i in scarce] for c in group], np.int64)
            takes = takes.reshape(len(group), len(scarce))
            old, new = np.divmod(np.arange(len(columns) * len(group)), len(group))
            left = left[old] - takes[new]
            there = (left >= 0).all(axis=1)
            left = left[there]
            columns = np.column_stack([columns[old[there]], np.array(group, np.int32)[new[there]]])
        self.columns = columns[self._tied(columns)]

    def _tied(self, columns: npt.NDArray[np.int32]) -> npt.NDArray[np.bool_]:
        """Which combinations keep to equal packs and to places that get none together."""
        ties = self.model.ties
        if not ties.equal and not any(
            self.model.columns[self.model.groups[at][0]].share.get("short") for groups in ties.together for at in groups
        ):
            return np.ones(len(columns), bool)
        return np.fromiter((ties.hold(self.model, row) for row in columns.tolist()), bool, len(columns))

    def keep(self, which: npt.NDArray[np.bool_]) -> None:
        """Only these from now on."""
        self.columns = self.columns[which]

    def values(self, level: str) -> Wholes:
        """A level's value of each combination."""
        if level in ("excess", "spread"):
            return self._spreads(excess=level == "excess")
        if level in ("bought", "unpriced", "cost"):
            return self._purchases(level)
        shares = _wholes([option.share.get(level, 0) for option in self.model.columns])
        total: Wholes = shares[self.columns].sum(axis=1)
        if level in ("outside", "miss", "unproven", "doubt", "target"):
            for gap in self.model.linked.values():
                total = total + self._share(gap, level)
        return total

    def _after(self, gap: Linked, end: int) -> Wholes:
        # sums over gaps may leave 64 bits where the reading or the window is that large
        judge = gap.judge
        kind = _wholes([*judge.read, judge.min or 0, judge.max or 0, judge.target or 0]).dtype
        total = np.full(len(self.columns), judge.read[end], kind)
        for group, moves in zip(gap.groups, gap.moves, strict=True):
            first = min(moves)
            by_column = [0] * (max(moves) - first + 1)
            for column, ends in moves.items():
                by_column[column - first] = ends[end]
            total = total + _wholes(by_column)[self.columns[:, group] - first]
        return total

    def _beyond(self, gap: Linked, low: Wholes, high: Wholes) -> Wholes:
        below = 0 if gap.judge.min is None else np.maximum(gap.judge.min - low, 0)
        return below + (0 * high if gap.judge.max is None else np.maximum(high - gap.judge.max, 0))

    def _share(self, gap: Linked, level: str) -> Wholes:
        best = self._after(gap, 1)
        if level == "target":
            return 0 * best if gap.judge.target is None else np.abs(best - gap.judge.target)
        miss = self._beyond(gap, best, best)
        if level == "miss":
            return miss
        if level == "outside":
            return (miss > 0).astype(np.int64)
        doubt = np.where(miss > 0, 0, self._beyond(gap, self._after(gap, 0), self._after(gap, 2)))
        return doubt if level == "doubt" else (doubt > 0).astype(np.int64)

    def _spreads(self, *, excess: bool) -> Wholes:
        model, total = self.model, np.zeros(len(self.columns), np.int64)
        group_of = {gap: at for at, gap in enumerate(model.places) if gap}
        bests, outs = _wholes([o.best for o in model.columns]), np.array([o.outside for o in model.columns])
        for balance in model.job.balances:
            if excess and balance.within is None:
                continue
            even, outside = [], np.zeros(len(self.columns), bool)
            for name in model.job.gaps_behind(balance):
                if name in model.linked:
                    after = self._after(model.linked[name], 1)
                    outside |= self._beyond(model.linked[name], after, after) > 0
                else:
                    after = bests[self.columns[:, group_of[name]]]
                    outside |= outs[self.columns[:, group_of[name]]]
                if not balance.places:
                    even.append(after - model.scale.ticks(balance.offset.get(name, 0)))
            for name in balance.places:
                thick = _wholes([model.thickness(c) for c in range(len(model.columns))])
                at = model.place_of.index(name)
                even.append(thick[self.columns[:, at]] - model.scale.ticks(balance.offset.get(name, 0)))
            spread = np.maximum.reduce(even) - np.minimum.reduce(even)
            if excess:
                spread = np.maximum(spread - model.scale.ticks(balance.within or 0), 0)
            total = total + np.where(outside, 0, spread)
        return total

    def _purchases(self, level: str) -> Wholes:
        model, total = self.model, np.zeros(len(self.columns), np.int64)
        uses: Counter[int] = Counter()
        for option in model.columns:
            uses |= Counter(option.stack)
        for i, most in uses.items():
            there = model.job.there[i]
            used = np.array([option.stack.count(i) for option in model.columns], np.int64)[self.columns].sum(axis=1)
            if most * len(model.groups) <= there:
                continue
            pieces = np.maximum(used - there, 0)
            if level == "bought":
                total = total + pieces
                continue
            packs = [cheapest_packs(model.job.stock[i].offers, n) for n in range(int(pieces.max(initial=0)) + 1)]
            worth = [int(p * model.price_unit) if level == "cost" else n for p, n in packs]
            total = total + _wholes(worth)[pieces]
        return total
