"""Every cluster's cheapest choice at given prices, all at once, in whole numbers: the sum is a true bound.

For any prices not below zero on what is scarce, no plan costs less than

    sum over clusters of the least priced cost  -  sum of price × supply

(weak duality). Prices are whole numbers of a fine unit, so the bound holds exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shimopt.choose.priced.fleet import Fleet
from shimopt.choose.priced.tables import OF_GAPS, Ints

__all__ = ["FAR", "Priced", "Pricer"]

# costs more than anything that can be chosen
FAR = 1 << 52
_COUNT = len(OF_GAPS)


@dataclass(frozen=True, slots=True)
class Priced:
    """The least priced cost of each cluster, and the option of each place that has it."""

    cost: Ints
    chosen: Ints

    @property
    def total(self) -> int:
        """The sum over all clusters, in parts that cannot run over."""
        half = 1 << 28
        return int((self.cost // half).sum()) * half + int((self.cost % half).sum())


class Pricer:
    """Prices all clusters of a fleet."""

    def __init__(self, fleet: Fleet) -> None:
        self.fleet = fleet
        tables = fleet.tables
        sizes = np.diff(fleet.start)
        self.lone = np.flatnonzero(~fleet.tied)
        self.tied = np.flatnonzero(fleet.tied)
        # members: kinds with an offset, of places in balances
        at = np.flatnonzero(np.repeat(fleet.tied, sizes))
        pairs = np.stack([fleet.kind[at], fleet.offset[at]], axis=1)
        self.members, inverse = np.unique(pairs, axis=0, return_inverse=True)
        self.member_of = np.full(len(fleet.kind), -1)
        self.member_of[at] = inverse.ravel()
        # options of members in order of (member, value), and the grid of values
        first = tables.first
        spans = [np.arange(first[k], first[k + 1]) for k, _ in self.members]
        option = np.concatenate(spans) if spans else np.zeros(0, dtype=np.int64)
        member = np.repeat(np.arange(len(spans)), [len(s) for s in spans])
        even = tables.best[option] - np.repeat(self.members[:, 1], [len(s) for s in spans]) if spans else option
        inside = ~tables.outside[option]
        self.out_option = np.full(len(spans), -1)
        self.out_option[member[~inside]] = option[~inside]
        option, member, even = option[inside], member[inside], even[inside]
        self.values, value = np.unique(even, return_inverse=True)
        if not len(self.values):  # nothing can be inside: a grid all the same, on which nothing lies
            self.values = np.zeros(1, dtype=np.int64)
        order = np.lexsort((option, value, member))
        self.option = option[order]
        cell = (member * len(self.values) + value)[order]
        self.cells, self.cell_start = np.unique(cell, return_index=True)
        self.cell_end = np.append(self.cell_start[1:], len(cell))
        self.shape = (len(spans), len(self.values))
        self.first_of_kind = first[:-1]
        self.within = np.unique(fleet.within[self.tied])
        self.batches = [
            (within, size, found)
            for within in self.within
            for size in np.unique(sizes[self.tied])
            if len(found := self.tied[(sizes[self.tied] == size) & (fleet.within[self.tied] == within)])
        ]
        self.apart = np.abs(self.values[:, None] - self.values[None, :])

    def priced(self, prices: Ints, weights: Ints) -> Priced:
        """Cheapest choices at `prices` of the scarce lines and `weights` of LEVELS."""
        fleet, tables = self.fleet, self.fleet.tables
        cost = self.costs(prices, weights)
        least = np.minimum.reduceat(cost, self.first_of_kind)
        total = np.zeros(len(fleet.tied), dtype=np.int64)
        chosen = np.full(len(fleet.kind), -1)
        # the first option of each kind with the least cost
        if len(self.lone):
            hit = np.flatnonzero(cost == np.repeat(least, np.diff(tables.first)))
            kinds = np.searchsorted(tables.first, hit, "right") - 1
            best = np.zeros(len(least), dtype=np.int64)
            best[kinds[::-1]] = hit[::-1]
            at = fleet.start[self.lone]
            total[self.lone] = least[fleet.kind[at]]
            chosen[at] = best[fleet.kind[at]]
        if len(self.tied):
            self._tied(cost, weights, total, chosen)
        return Priced(total, chosen)

    def costs(self, prices: Ints, weights: Ints) -> Ints:
        """What every option costs by itself."""
        fleet, tables = self.fleet, self.fleet.tables
        of_row = fleet.scarce_uses @ prices + tables.of_stack @ weights[_COUNT:-2]
        cost: Ints = of_row[tables.row] + tables.of_gap @ weights[:_COUNT]
        return cost

    def dearest(self, prices: Ints, weights: Ints) -> int:
        """What no choice of a cluster costs more than."""
        rows, gaps = self.fleet.scarce_uses.max(axis=0, initial=0), self.fleet.tables.of_gap.max(axis=0)
        stacks = self.fleet.tables.of_stack.max(axis=0)
        each = sum(int(a) * int(b) for a, b in zip((*rows, *gaps, *stacks), (*prices, *weights[:-2]), strict=True))
        widest = int(self.values[-1] - self.values[0]) if len(self.values) else 0
        largest = int(np.diff(self.fleet.start).max())
        return each * largest + widest * int(weights[-1] + weights[-2])

    def far(self, within: int, weights: Ints) -> Ints:
        """What it costs that the members of a balance lie so far apart, by lowest and highest value."""
        far: Ints = self.apart * weights[-1]
        if within >= 0:
            far = far + weights[-2] * np.maximum(0, self.apart - within)
        return far

    def by_value(self, cost: Ints) -> tuple[Ints, Ints]:
        """By member, the least cost of each value inside, and of staying outside; FAR where there is none."""
        table = np.full(self.shape, FAR)
        if len(self.cells):
            table.ravel()[self.cells] = np.minimum.reduceat(cost[self.option], self.cell_start)
        return table, np.where(self.out_option >= 0, cost[self.out_option], FAR)

    def _tied(self, cost: Ints, weights: Ints, total: Ints, chosen: Ints) -> None:
        fleet = self.fleet
        table, out = self.by_value(cost)
        pick = np.full(self.shape, -1)
        if len(self.cells):
            in_order, least = cost[self.option], table.ravel()[self.cells]
            hit = np.flatnonzero(in_order == np.repeat(least, self.cell_end - self.cell_start))
            cell = np.searchsorted(self.cell_start, hit, "right") - 1
            best = np.zeros(len(least), dtype=np.int64)
            best[cell[::-1]] = hit[::-1]
            pick.ravel()[self.cells] = self.option[best]
        any_inside, where_inside = table.min(axis=1), table.argmin(axis=1)
        messages: dict[int, tuple[Ints, Ints]] = {}
        for within, size, clusters in self.batches:
            at = fleet.start[clusters][:, None] + np.arange(size)
            who = self.member_of[at]
            far = self.far(int(within), weights)
            if size == 2:
                if within not in messages:
                    bent = within >= 0 and weights[-2] > 0
                    messages[within] = _messages(table, far) if bent else _slopes(table, self.values, weights[-1])
                sent, source = messages[within]
                both = sent[who[:, 0]] + table[who[:, 1]]
                second = both.argmin(axis=1)
                inside = both[np.arange(len(clusters)), second]
                value = np.stack([source[who[:, 0], second], second], axis=1)
            else:
                inside, value = _windows(table, far, who)
            picked = pick[who, value]
            # or at least one member is outside, and the balance set aside
            a, o = any_inside[who], out[who]
            take_out = o <= a
            extra = np.where(take_out, FAR, o - a)
            none_out = ~take_out.any(axis=1)
            cheapest = extra.argmin(axis=1)
            take_out[none_out, cheapest[none_out]] = True
            aside = np.where(take_out, np.minimum(o, FAR), a).sum(axis=1)
            better = aside < inside
            total[clusters] = np.where(better, aside, inside)
            set_aside = np.where(take_out, self.out_option[who], pick[who, where_inside[who]])
            chosen[at] = np.where(better[:, None], set_aside, picked)


def _messages(table: Ints, far: Ints) -> tuple[Ints, Ints]:
    """By member and value of its partner: the least of its own cost and that of being so far apart; and its value."""
    sent = np.empty_like(table)
    source = np.empty_like(table)
    for value in range(table.shape[1]):
        costs = table + far[:, value]
        source[:, value] = costs.argmin(axis=1)
        sent[:, value] = costs[np.arange(len(table)), source[:, value]]
    return np.minimum(sent, FAR), source


def _slopes(table: Ints, values: Ints, slope: int) -> tuple[Ints, Ints]:
    """The same where being apart costs so much a tick, however far: the least from below, and from above."""
    at = np.arange(len(values))
    sent, source = np.full_like(table, 2 * FAR), np.zeros_like(table)
    for way in (slice(None), slice(None, None, -1)):
        rise = np.abs(values[way] - values[way][0]) * slope
        lower = table[:, way] - rise
        least = np.minimum.accumulate(lower, axis=1)
        # the last place at which the least so far was reached
        where = np.maximum.accumulate(np.where(lower == least, at, 0), axis=1)
        costs = (least + rise)[:, way]
        better = costs < sent
        sent[better] = costs[better]
        source[better] = at[way][where][:, way][better]
    return np.minimum(sent, FAR), source


def _windows(table: Ints, far: Ints, who: Ints) -> tuple[Ints, Ints]:
    """By cluster, the least cost over all ranges of values that its members may lie in, and their values."""
    best = np.full(len(who), 4 * FAR)
    at_low = np.zeros(len(who), dtype=np.int64)
    at_high = np.zeros(len(who), dtype=np.int64)
    values = table.shape[1]
    for low in range(values):
        running = np.minimum.accumulate(table[:, low:], axis=1)
        costs = running[who].sum(axis=1) + far[low, low:]
        high = costs.argmin(axis=1)
        least = costs[np.arange(len(who)), high]
        better = least < best
        best[better], at_low[better], at_high[better] = least[better], low, low + high[better]
    span = np.arange(values)
    allowed = (span >= at_low[:, None]) & (span <= at_high[:, None])
    costs = np.where(allowed[:, None, :], table[who], 2 * FAR)
    return np.minimum(best, FAR), costs.argmin(axis=2)
