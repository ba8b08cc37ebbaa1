"""What the rows of a model rule out by themselves: columns that stand in no answer, whatever the others are.

Every answer holds one column of each group, so that a row comes to no less than the least of every group and of every
helper added up. What a row has room for beyond that is the most by which a column may be above the least of its group.
Striking one may raise the least of its group in other rows: it goes on until nothing more is struck. All sums are sums
of whole numbers.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from shimopt.proof.exact_bounds import Floats, Range, Sums, Wholes

# sums of whole numbers of 64 bits stay right below this
_LARGEST = float(1 << 60)
_ABOVE_ALL = 1 << 61


class RoomInRows:
    """The rows of `sums`, and that `objective` comes to no more than so much, looked at group by group."""

    def __init__(self, sums: Sums, objective: Wholes) -> None:
        self.sums = sums
        costs = np.flatnonzero(objective)
        self.last = len(sums.limits)
        row_of = np.concatenate([sums.row_of, np.full(len(costs), self.last)])
        at = np.concatenate([sums.at, costs])
        factors = np.concatenate([sums.factors, objective[costs]])
        of_helpers = at >= sums.columns
        self.helper_row, self.helper, self.helper_factor = row_of[of_helpers], at[of_helpers], factors[of_helpers]
        row_of, at, factors = row_of[~of_helpers], at[~of_helpers], factors[~of_helpers]
        # entries of one row and group side by side
        order = np.lexsort((sums.group_of[at], row_of))
        self.row_of, self.at, self.factors = row_of[order], at[order], factors[order]
        group = sums.group_of[self.at]
        new = np.ones(len(self.at), bool)
        new[1:] = (np.diff(self.row_of) != 0) | (np.diff(group) != 0)
        self.starts, self.part = np.flatnonzero(new), np.cumsum(new) - 1
        self.part_row, self.part_group = self.row_of[self.starts], group[self.starts]

    def left(self, within: Range, most: int) -> Range | None:
        """The range less what stands in no answer whose objective comes to `most` or less; None: there is none."""
        sums = self.sums
        room, small = self._room_beside_columns(within, most)
        left = within.high[: sums.columns] > 0
        before = -1
        while before != (before := int(left.sum())):
            counts = np.add.reduceat(left, sums.starts) if len(sums.starts) else np.zeros(0, np.int64)
            if not counts.all():
                return None
            if not len(self.starts):
                break
            there = left[self.at]
            least = np.minimum.reduceat(np.where(there, self.factors, _ABOVE_ALL), self.starts)
            # who is not named in a row adds nothing to it
            unnamed = np.add.reduceat(there, self.starts) < counts[self.part_group]
            least = np.where(unnamed, np.minimum(least, 0), least)
            rest = room.copy()
            np.subtract.at(rest, self.part_row, least)
            if (rest[small] < 0).any():
                return None
            open_row = small[self.row_of]
            left[self.at[open_row & (self.factors - least[self.part] > rest[self.row_of])]] = False
            left &= ~self._unnamed_above(unnamed & small[self.part_row] & (-least > rest[self.part_row]))
        high = within.high.copy()
        high[: sums.columns][~left] = 0
        return Range(within.low, high)

    def _room_beside_columns(self, within: Range, most: int) -> tuple[Wholes, npt.NDArray[np.bool_]]:
        """By row, what columns may come to when helpers come to their least, and which sums stay in 64 bits."""
        size: Floats = np.zeros(self.last + 1)
        if len(self.starts):
            np.add.at(size, self.part_row, np.maximum.reduceat(np.abs(self.factors.astype(float)), self.starts))
        ends = (within.low[self.helper], within.high[self.helper])
        reach = np.maximum(*(np.abs(end.astype(float)) for end in ends)) * np.abs(self.helper_factor.astype(float))
        np.add.at(size, self.helper_row, reach)
        limits = np.append(self.sums.limits, min(max(most, -_ABOVE_ALL), _ABOVE_ALL))
        small = size + np.abs(limits.astype(float)) < _LARGEST
        room = np.where(small, limits, 0)
        tame = small[self.helper_row]
        factor = np.where(tame, self.helper_factor, 0)
        np.subtract.at(room, self.helper_row, np.minimum(*(factor * np.where(tame, end, 0) for end in ends)))
        return room, small

    def _unnamed_above(self, parts: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
        """The columns that are not named in some of these parts of rows, though of their group."""
        groups = np.bincount(self.part_group[parts], minlength=len(self.sums.starts))
        named = np.bincount(self.at[parts[self.part]], minlength=self.sums.columns)
        return np.asarray(named < groups[self.sums.group_of])
