"""Every cluster's cheapest choice at given prices, all at once, in whole numbers: the sum is a true bound.

For any prices not below zero on what is scarce, no plan costs less than

    sum over clusters of the least priced cost  -  sum of price × supply

(weak duality). Prices are whole numbers of a fine unit, so the bound holds exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from shimopt.choose.priced.fleet import LEVELS, Fleet, most_taken
from shimopt.choose.priced.members import FAR, Costs, members_of
from shimopt.choose.priced.priced_balances import Balanced, Pairs
from shimopt.choose.priced.tables import OF_GAPS, Ints
from shimopt.choose.priced.woven_prices import WovenPrices

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
        sizes = np.diff(fleet.start)
        of_several = np.concatenate([np.zeros(0, np.int64), *(woven.clusters for woven in fleet.woven)])
        self.lone = np.flatnonzero(~fleet.tied & ~_which(of_several, fleet.tied))
        # the most that any option takes of a line, and adds to a level
        tables = fleet.tables
        self._most = (
            most_taken(tables).max(axis=0)[fleet.lines],
            tables.of_gap.max(axis=0),
            tables.of_stack.max(axis=0),
        )
        self.members = members_of(fleet, fleet.tied)
        # of every shape its own: tables are as wide as the most values of its gaps
        self.woven = [WovenPrices(one, members_of(fleet, _which(one.clusters, fleet.tied))) for one in fleet.woven]
        self.tied = np.flatnonzero(fleet.tied)
        self.batches = [self._batch(int(size)) for size in np.unique(sizes[self.tied])]

    def _batch(self, size: int) -> tuple[Ints, Ints, Pairs | Balanced]:
        """Balances of so many: the clusters, their places, and what finds their values."""
        fleet = self.fleet
        clusters = self.tied[np.diff(fleet.start)[self.tied] == size]
        at = fleet.start[clusters][:, None] + np.arange(size)
        way = Pairs if size == 2 else Balanced
        return clusters, at, way(self.members, self.members.of[at], fleet.within[clusters])

    def priced(self, prices: Ints, weights: Ints) -> Priced:
        """Cheapest choices at `prices` of the scarce lines and `weights` of LEVELS."""
        fleet, tables = self.fleet, self.fleet.tables
        cost = self.costs(prices, weights)
        total = np.zeros(len(fleet.tied), dtype=np.int64)
        chosen = np.full(len(fleet.kind), -1)
        if len(self.lone):
            least = np.minimum.reduceat(cost, tables.first[:-1])
            # the first option of each kind with the least cost
            hit = np.flatnonzero(cost == np.repeat(least, np.diff(tables.first)))[::-1]
            best = np.zeros(len(least), dtype=np.int64)
            best[np.searchsorted(tables.first, hit, "right") - 1] = hit
            at = fleet.start[self.lone]
            total[self.lone] = least[fleet.kind[at]]
            chosen[at] = best[fleet.kind[at]]
        of_members, slopes = self.members.costs(cost), (int(weights[-1]), int(weights[-2]))
        for clusters, at, way in self.batches:
            inside, cells = way.cheapest(of_members, *slopes)
            aside, options = self._set_aside(of_members, self.members.of[at])
            better = aside < inside
            total[clusters] = np.where(better, aside, inside)
            picked = of_members.pick[cells] if len(of_members.pick) else options
            chosen[at] = np.where(better[:, None], options, picked)
        for one in self.woven:
            clusters = one.woven.clusters
            total[clusters], chosen[one.woven.at] = one.cheapest(one.members.costs(cost), *slopes)
        return Priced(total, chosen)

    def costs(self, prices: Ints, weights: Ints) -> Ints:
        """What every option costs by itself."""
        fleet, tables = self.fleet, self.fleet.tables
        of_row = np.append(prices, 0)[fleet.scarce_pieces].sum(axis=1) + tables.of_stack @ weights[_COUNT:]
        cost: Ints = of_row[tables.row] + tables.of_gap @ weights[:_COUNT]
        return cost

    @property
    def carries(self) -> bool:
        """Whether what all levels come to, with nothing priced, is far from what stands for "there is none"."""
        return self.dearest(np.zeros(len(self.fleet.lines), np.int64), np.ones(len(LEVELS), np.int64)) < FAR // 4

    def dearest(self, prices: Ints, weights: Ints) -> int:
        """What no choice of a cluster costs more than."""
        rows, gaps, stacks = self._most
        each = sum(int(a) * int(b) for a, b in zip((*rows, *gaps, *stacks), (*prices, *weights), strict=True))
        largest = int(np.diff(self.fleet.start).max())
        several = (len(one.woven.shape.scopes) * one.members.widest for one in self.woven)
        widest = max(self.members.widest, *several, 0)
        return each * largest + widest * int(weights[-1] + weights[-2])

    def _set_aside(self, costs: Costs, who: Ints) -> tuple[Ints, Ints]:
        """At least one member outside, and the balance set aside: the least cost, and the options that have it."""
        inside, outside = costs.inside[who], costs.outside[who]
        leave = outside <= inside
        extra = np.where(leave, FAR, outside - inside)
        none = ~leave.any(axis=1)
        leave[none, extra.argmin(axis=1)[none]] = True
        cost = np.where(leave, np.minimum(outside, FAR), inside).sum(axis=1)
        if not len(costs.pick):
            return cost, self.members.out[who]
        best = np.minimum(self.members.first[:-1] + costs.wide.argmin(axis=1), len(costs.pick) - 1)
        return cost, np.where(leave, self.members.out[who], costs.pick[best][who])


def _which(clusters: Ints, of: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Which of all clusters these are."""
    found = np.zeros(len(of), dtype=bool)
    found[clusters] = True
    return found
