"""Balances of a large job: the least cost of all members' values together, each balance over its own few values.

Of two: with a cost of `slope` a tick apart and `bend` more a tick beyond `within`, a partner's best value below is the
least of its cost - slope × value, as long as it is near, and of its cost - (slope + bend) × value further off; above
likewise. So for every value of the second, four least costs over a stretch of the first's values are all that has to be
found. Of three and more: every range that the members' values may lie in begins and ends at values that some member
can come to.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shimopt.choose.priced.members import FAR, Costs, Members
from shimopt.choose.priced.tables import Ints


def apart(far: Ints, within: Ints | int, slope: int, bend: int) -> Ints:
    """What it costs that the members of a balance lie so far apart; within -1 knows no bend."""
    beyond = np.where(np.asarray(within) < 0, 0, np.maximum(0, far - within))
    return np.asarray(far * slope + beyond * bend, dtype=np.int64)


class Pairs:
    """Pairs of members: `who` are the two of each, `within` the spread from which there is excess, or -1."""

    def __init__(self, members: Members, who: Ints, within: Ints) -> None:
        self.members, self.within = members, within
        # pairs of the same members are priced once; beyond the widest there is nothing, and costs there stay small
        sorts, inverse = np.unique(
            np.column_stack([who, np.minimum(within, members.widest)]), axis=0, return_inverse=True
        )
        self.of = inverse.ravel()
        self.one, self.two, limit = sorts[:, 0], sorts[:, 1], sorts[:, 2]
        counts = np.diff(members.first)
        self.values = members.padded(members.value, 0)
        # a row for each cell of the second, one pair after another
        lengths = counts[self.two]
        self.pair = np.repeat(np.arange(len(sorts)), lengths)
        self.starts = np.cumsum(lengths) - lengths
        self.cell = np.arange(len(self.pair)) - np.repeat(self.starts - members.first[self.two], lengths)
        first, value = self.one[self.pair], members.value[self.cell]
        near = np.where(limit < 0, members.widest, limit)[self.pair]
        begin = members.first[first]
        self.below = members.cell(first, value, "right") - begin
        self.low = members.cell(first, value - near) - begin
        self.high = members.cell(first, value + near, "right") - begin
        self.limit = limit

    def cheapest(self, costs: Costs, slope: int, bend: int) -> tuple[Ints, Ints]:
        """By pair, the least cost of both inside, and the two cells that have it; FAR where there are none."""
        members, first = self.members, self.one[self.pair]
        value, own = members.value[self.cell], costs.cell[self.cell]
        none, end = np.zeros_like(self.low), np.diff(members.first)[first]
        low, high = (self.low, self.high) if bend else (none, end)
        down, up = costs.wide - slope * self.values, costs.wide + slope * self.values
        found = _least(down, first, low, self.below) + slope * value
        found = np.minimum(found, _least(up, first, self.below, high) - slope * value)
        if bend:
            steep = slope + bend
            back = bend * self.limit[self.pair]
            down, up = costs.wide - steep * self.values, costs.wide + steep * self.values
            found = np.minimum(found, _least(down, first, none, low) + steep * value - back)
            found = np.minimum(found, _least(up, first, high, end) - steep * value - back)
        whole = np.where(found + own < FAR // 2, found + own, FAR)
        least, second = np.full(len(self.one), FAR), np.zeros(len(self.one), dtype=np.int64)
        some = self.starts < np.append(self.starts[1:], len(self.pair))
        if some.any():
            least[some] = np.minimum.reduceat(whole, self.starts[some])
            hit = np.flatnonzero(whole == least[self.pair])[::-1]
            second[self.pair[hit]] = self.cell[hit]
        at = members.value[second] if len(members.value) else np.zeros_like(second)
        far = np.abs(self.values[self.one] - at[:, None])
        both = costs.wide[self.one] + apart(far, self.limit[:, None], slope, bend)
        partner = np.minimum(members.first[self.one] + both.argmin(axis=1), max(0, len(members.value) - 1))
        return least[self.of], np.column_stack([partner, second])[self.of]


def _least(costs: Ints, row: Ints, low: Ints, high: Ints) -> Ints:
    """The least of costs[row, low:high] for each entry; FAR where there is nothing in between."""
    layers = [costs]
    while 1 << len(layers) <= costs.shape[1]:
        reach = 1 << (len(layers) - 1)
        last = layers[-1].copy()
        last[:, :-reach] = np.minimum(last[:, :-reach], last[:, reach:])
        layers.append(last)
    length = np.maximum(1, high - low)
    layer = np.frexp(length.astype(float))[1] - 1
    stack = np.stack(layers).reshape(-1)
    width = costs.shape[1]
    base = (layer * len(costs) + row) * width
    # a stretch is two runs of a power of two, which may overlap
    ends = np.maximum(high - (1 << layer), 0), np.minimum(low, width - 1)
    found = np.minimum(stack[base + ends[0]], stack[base + ends[1]])
    return np.where(high > low, found, FAR)


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
        if not slope and not bend:
            # how far apart they are costs nothing: each at its own least
            picked = np.take_along_axis(self.own.cell, table.argmin(axis=2)[:, :, None], axis=2)[:, :, 0]
            return np.minimum(table.min(axis=2).sum(axis=1), FAR), picked
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
