"""Combinations of options of several places as arrays, and what each of them comes to, in whole numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, repeat

import numpy as np
import numpy.typing as npt

from shimopt.choose.coupling import Linked
from shimopt.choose.whole_model import Model
from shimopt.lengths import beyond
from shimopt.proof.exact_bounds import Wholes

# levels of which only all places together say what they come to
OF_ALL = ("bought", "unpriced", "cost")


def wholes(values: Sequence[int]) -> Wholes:
    """An array of whole numbers; of any size where sums of some of them could leave 64 bits."""
    large = max(map(abs, values), default=0) >= 1 << 50
    return np.array(values, dtype=object if large else np.int64)


@dataclass(frozen=True, slots=True)
class Block:
    """Some of a model's groups and combinations of their columns, a row for each combination."""

    groups: tuple[int, ...]
    columns: Wholes

    def uses(self, model: Model, lines: Sequence[int]) -> Wholes:
        """How many pieces of these stock lines each combination takes."""
        takes, line_at = np.zeros((len(self.columns), len(lines)), np.int64), {i: at for at, i in enumerate(lines)}
        for at in range(len(self.groups)):
            options, which = np.unique(self.columns[:, at], return_inverse=True)
            pieces = [
                row * len(lines) + line_at[i]
                for row, c in enumerate(options.tolist())
                for i in model.columns[c].stack
                if i in line_at
            ]
            if pieces:
                of_option = np.bincount(pieces, minlength=len(options) * len(lines))
                takes += of_option.reshape(len(options), len(lines))[which.ravel()]
        return takes


class Combined:
    """What combinations add to a level: that of their own options, of the gaps that only they move, and of the balances
    of only such gaps.

    Parameters: groups, numbers of the model's groups; columns, a row for each combination with a column for each group.
    """

    def __init__(self, model: Model, groups: Sequence[int], columns: Wholes) -> None:
        self.model, self.columns = model, columns
        self.at = {group: at for at, group in enumerate(groups)}

    def all_values(self, levels: Sequence[str]) -> dict[str, Wholes]:
        """By level, its value of each combination, every clearance worked out once; not those of `OF_ALL`."""
        found = {
            level: self._spreads(excess=level == "excess") if level in ("excess", "spread") else self.of_options(level)
            for level in levels
        }
        of_gaps = [level for level in levels if level in ("outside", "miss", "unproven", "doubt", "target")]
        for gap in chain.from_iterable(self.model.linked_from.get(group, ()) for group in self.at):
            if of_gaps and self.at.keys() >= set(gap.groups):
                shares = self._shares(gap, ends={"unproven", "doubt"} & set(of_gaps) != set())
                found |= {level: found[level] + shares[level] for level in of_gaps}
        return found

    def of_options(self, level: str) -> Wholes:
        """What the options of each combination add to a level by themselves."""
        total: Wholes = np.zeros(len(self.columns), np.int64)
        for group, at in self.at.items():
            columns = self.model.groups[group]
            # all options of a place tell of the same levels
            if level not in self.model.columns[columns.start].share:
                continue
            shares = wholes([self.model.columns[c].share.get(level, 0) for c in columns])
            if not shares.any():
                continue
            total = total + shares[self.columns[:, at] - columns.start]
        return total

    def moved(self, gap: Linked, end: int) -> Wholes:
        """By how much the options of each combination move one end of a gap."""
        total: Wholes = np.zeros(len(self.columns), np.int64)
        for group, moves in zip(gap.groups, gap.moves, strict=True):
            if group in self.at:
                total = total + self._of_column(group, {column: ends[end] for column, ends in moves.items()})
        return total

    def _of_column(self, group: int, numbers: Mapping[int, int]) -> Wholes:
        """A number of the column that each combination has of a group; 0 where there is none."""
        columns = self.model.groups[group]
        return wholes(list(map(numbers.get, columns, repeat(0))))[self.columns[:, self.at[group]] - columns.start]

    def _after(self, gap: Linked, end: int) -> Wholes:
        # sums over gaps may leave 64 bits where the reading or the window is that large
        judge = gap.judge
        kind = wholes([*judge.read, judge.min or 0, judge.max or 0, judge.target or 0]).dtype
        return np.full(len(self.columns), judge.read[end], kind) + self.moved(gap, end)

    def _shares(self, gap: Linked, *, ends: bool) -> dict[str, Wholes]:
        """What a gap adds to each level; to `unproven` and `doubt` only where its ends are looked at too."""
        best = self._after(gap, 1)
        low, high = (self._after(gap, end) if ends else best for end in (0, 2))
        if ends and gap.carried:
            wider = gap.wider(lambda by_column, at: self._of_column(gap.groups[at], by_column))
            low, high = low - wider, high + wider
        return gap.judge.shares((low, best, high))

    def _spreads(self, *, excess: bool) -> Wholes:
        model, total = self.model, np.zeros(len(self.columns), np.int64)
        for balance, groups, offset, within in chain.from_iterable(model.balances_from.get(g, ()) for g in self.at):
            if not self.at.keys() >= groups or (excess and within is None):
                continue
            outside, values = np.zeros(len(self.columns), bool), {}
            for name in model.job.gaps_behind(balance):
                values[name], out = self._estimate(name)
                outside |= out
            if balance.places:
                values = {name: self._thickness(name) for name in balance.places}
            even = [value - offset[name] for name, value in values.items()]
            spread = np.maximum.reduce(even) - np.minimum.reduce(even)
            if excess:
                spread = np.maximum(spread - (within or 0), 0)
            total = total + np.where(outside, 0, spread)
        return total

    def _estimate(self, gap: str) -> tuple[Wholes, npt.NDArray[np.bool_]]:
        """A gap's best estimate in each combination, and whether it is outside there."""
        model = self.model
        if gap in model.linked:
            after = self._after(model.linked[gap], 1)
            judge = model.linked[gap].judge
            return after, beyond(after, after, judge.min, judge.max) > 0
        group = model.places.index(gap)
        columns = model.groups[group]
        which = self.columns[:, self.at[group]] - columns.start
        outside = np.array([model.columns[c].outside for c in columns])
        return wholes([model.columns[c].best for c in columns])[which], outside[which]

    def _thickness(self, place: str) -> Wholes:
        group = self.model.place_of.index(place)
        columns = self.model.groups[group]
        return wholes([self.model.thickness(c) for c in columns])[self.columns[:, self.at[group]] - columns.start]

    def worth_it(self) -> npt.NDArray[np.bool_]:
        """Where places that are changed leave fewer gaps outside, and none gets too tight, or tighter, for it."""
        model, keeps = self.model, np.ones(len(self.columns), bool)
        for groups, gaps, most in model.ties.worth:
            if self.at.keys() >= {*groups}:
                stay = np.logical_and.reduce([self.columns[:, self.at[g]] == model.groups[g][0] for g in groups])
                outside = np.sum([self._off(gap) != 0 for gap in gaps], axis=0)
                keeps &= stay | (outside <= most)
        for gap, least in model.ties.tight:
            if self.at.keys() >= {*model.linked[gap].groups}:
                keeps &= (self._off(gap) >= least).astype(bool)
        return keeps

    def _off(self, gap: str) -> Wholes:
        return self.model.linked[gap].judge.off(self._after(self.model.linked[gap], 1))
