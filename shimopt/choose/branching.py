"""Branching over a place's options: what costs more apart from what costs less, then thin ones from thick ones."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from shimopt.proof.branch_and_bound import Closing
from shimopt.proof.exact_bounds import NO_END, Floats, Range, Wholes
from shimopt.proof.room_in_rows import RoomInRows

# a share of a place's options so near to none is none
_TORN = 1e-6


@dataclass(frozen=True)
class Halving(Closing):
    """Branches over a place's options: cheap ones and dear ones apart, then thin and thick ones.

    `rank` is where an option stands from thin to thick; `rooms` are the rows of the sums with the objective.
    """

    rank: Wholes | None = None
    rooms: RoomInRows | None = None
    worked_out: Callable[[Sequence[int]], int | None] | None = None

    def with_room(self, here: Range, best: int) -> Range | None:
        """See `Closing`."""
        return here if self.rooms is None else self.rooms.left(here, best - 1)

    def split(self, here: Range, values: Floats | None) -> tuple[Range, Range] | None:
        """Two ranges, each with some of the options of the place that the relaxation tears most.

        What costs more at this level is parted from what costs less as long as any place is torn between such: once all
        that is settled the level's value stands, and mostly prices show that there is no such answer.
        """
        sums = self.sums
        left = here.high[: sums.columns] > 0
        counts = np.add.reduceat(left, sums.starts)
        if (counts <= 1).all():
            return None
        shares = left / counts[sums.group_of] if values is None else np.where(left, values[: sums.columns], 0.0)
        columns, at = self._by_cost(left, shares) or self._by_rank(left, counts, shares)
        parts = []
        for out in (columns[at:], columns[:at]):
            high = here.high.copy()
            high[out] = 0
            parts.append(Range(here.low, high))
        first, second = parts
        return (first, second) if shares[columns[:at]].sum() >= 0.5 else (second, first)

    def _by_cost(self, left: npt.NDArray[np.bool_], shares: Floats) -> tuple[Wholes, int] | None:
        """The options of the place whose cost is most torn, cheap ones first, and how many are; None: none is torn."""
        sums, cost = self.sums, self.objective[: self.sums.columns]
        least = np.minimum.reduceat(np.where(left, cost, NO_END), sums.starts)
        above = np.where(left, cost - least[sums.group_of], 0)
        dear = np.add.reduceat(np.where(above > 0, shares, 0.0), sums.starts)
        cheap = np.add.reduceat(shares, sums.starts) - dear
        # what parting them is worth: a place torn between far costs before one torn between near ones
        worth = np.add.reduceat(shares * above, sums.starts) * (cheap > _TORN) * (dear > _TORN)
        group = int(np.argmax(worth))
        if not worth[group] > 0:
            return None
        columns = np.flatnonzero(left & (sums.group_of == group))
        columns = columns[np.argsort(cost[columns], kind="stable")]
        return columns, int((cost[columns] == least[group]).sum())

    def _by_rank(self, left: npt.NDArray[np.bool_], counts: Wholes, shares: Floats) -> tuple[Wholes, int]:
        """The options of the place that is most torn, from thin to thick, and where to part them."""
        sums = self.sums
        most = np.maximum.reduceat(shares, sums.starts)
        group = int(np.argmin(np.where(counts > 1, most, 2.0)))
        columns = np.flatnonzero(left & (sums.group_of == group))
        if self.rank is not None:
            columns = columns[np.argsort(self.rank[columns], kind="stable")]
        weights = np.cumsum(shares[columns])
        at = int(np.searchsorted(weights, weights[-1] / 2)) + 1
        return columns, min(max(at, 1), len(columns) - 1)

    def settled(self, here: Range, least: int) -> int:
        """One option is left of every place: that choice, worked out; `least` where it says nothing."""
        if self.worked_out is None:
            return least
        value = self.worked_out(np.flatnonzero(here.high[: self.sums.columns] > 0).tolist())
        return NO_END if value is None else value
