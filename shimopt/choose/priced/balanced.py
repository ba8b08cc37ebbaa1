"""Balances of three and more: the least cost over all ranges that the members' values may lie in.

A range begins and ends at values that some member can come to: each balance is looked at over its own values only.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shimopt.choose.priced.members import FAR, Costs, Members
from shimopt.choose.priced.pairs import apart
from shimopt.choose.priced.tables import Ints


@dataclass(frozen=True, slots=True)
class Own:
    """Balances over their own values.

    By balance `values`, in order, the last one repeated to fill the row; by balance, member and value, `cell`, its
    cell, -1 where the member cannot come to that value.
    """

    values: Ints
    cell: Ints

    def table(self, costs: Costs) -> Ints:
        """What the cells cost, FAR where there is none."""
        if not len(costs.cell):
            return np.full(self.cell.shape, FAR)
        return np.where(self.cell >= 0, costs.cell[self.cell], FAR)


def own_values(members: Members, who: Ints) -> Own:
    """The own values of balances of as many members each."""
    counts = np.diff(members.first)
    last = np.int64(members.widest + 1)
    found = np.sort(members.padded(members.value, int(last))[who].reshape(len(who), -1), axis=1)
    found[:, 1:][found[:, 1:] == found[:, :-1]] = last
    found = np.sort(found, axis=1)
    found = found[:, : max(1, int((found < last).sum(axis=1).max(initial=1)))]
    highest = np.where(found < last, found, 0).max(axis=1, keepdims=True)
    real = found < last
    values = np.where(real, found, highest)
    sort = np.broadcast_to(who[:, :, None], (*who.shape, values.shape[1]))
    wanted = np.broadcast_to(values[:, None, :], sort.shape)
    at = members.cell(sort, wanted)
    end = members.first[:-1][sort] + counts[sort]
    some = np.minimum(at, max(0, len(members.value) - 1))
    there = (at < end) & real[:, None, :]
    if len(members.value):
        there &= members.value[some] == wanted
    return Own(values, np.where(there, some, -1))


class Balanced:
    """Balances of as many members each: `who` they are, `within` the spread from which there is excess, or -1."""

    def __init__(self, members: Members, who: Ints, within: Ints) -> None:
        self.within, self.own = within, own_values(members, who)

    def cheapest(self, costs: Costs, slope: int, bend: int) -> tuple[Ints, Ints]:
        """By balance, the least cost of all inside, and the cells that have it; FAR where there are none."""
        values, table = self.own.values, self.own.table(costs)
        count, span = values.shape
        best = np.full(count, 4 * FAR)
        low, high = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64)
        for at in range(span):
            running = np.minimum.accumulate(table[:, :, at:], axis=2).sum(axis=1)
            running += apart(values[:, at:] - values[:, at, None], self.within[:, None], slope, bend)
            to = running.argmin(axis=1)
            least = running[np.arange(count), to]
            better = least < best
            best[better], low[better], high[better] = least[better], at, at + to[better]
        every = np.arange(span)
        allowed = (every >= low[:, None]) & (every <= high[:, None])
        chosen = np.where(allowed[:, None, :], table, 2 * FAR).argmin(axis=2)
        return np.minimum(best, FAR), np.take_along_axis(self.own.cell, chosen[:, :, None], axis=2)[:, :, 0]
