"""Which options a plan near the bound could hold at all: priced, they cost little more than the cheapest choice."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from shimopt.choose.priced.members import FAR, Costs
from shimopt.choose.priced.priced_balances import apart, own_values
from shimopt.choose.priced.pricing import Pricer
from shimopt.choose.priced.tables import Ints

# of so many options of a place the solver is shown the most promising
_MOST = 20
# so many numbers are held at once
_AT_ONCE = 4_000_000


@dataclass(frozen=True, slots=True)
class PricedOptions:
    """The options of places, place after place, and how much more than its cheapest choice a cluster with each costs.

    `start` holds where the options of each of `places` begin, and the end.
    """

    places: Ints
    start: Ints
    option: Ints
    above: Ints

    def taken(self, kept: npt.NDArray[np.bool_]) -> dict[int, Ints]:
        """By place, the options that are kept."""
        ends = np.concatenate([[0], np.cumsum(kept)])[self.start[1:-1]]
        return dict(zip(self.places.tolist(), np.split(self.option[kept], ends), strict=True))

    def held_by(self, plan: Ints) -> npt.NDArray[np.bool_]:
        """Which options a plan holds."""
        return np.asarray(self.option == np.repeat(plan[self.places], np.diff(self.start)))


def priced_options(pricer: Pricer, prices: Ints, weights: Ints, clusters: Ints) -> PricedOptions:
    """All options of these clusters, priced."""
    fleet, tables = pricer.fleet, pricer.fleet.tables
    cost = pricer.costs(prices, weights)
    places = _ranges(fleet.start[clusters], np.diff(fleet.start)[clusters])
    counts = np.diff(tables.first)[fleet.kind[places]]
    start = np.concatenate([[0], np.cumsum(counts)])
    option = _ranges(tables.first[fleet.kind[places]], counts)
    above = cost[option]
    # where the options of each cluster begin
    sizes = np.diff(fleet.start)[clusters]
    first = start[np.cumsum(sizes) - sizes]
    tied = fleet.tied[clusters]
    costs, outside = pricer.members.costs(cost), tables.outside
    at_place = np.zeros(len(fleet.kind), dtype=np.int64)
    at_place[places] = np.arange(len(places))
    for some in _alike(clusters[tied], np.diff(fleet.start), pricer.members.most):
        at = fleet.start[some][:, None] + np.arange(np.diff(fleet.start)[some[0]])
        who = pricer.members.of[at]
        one_out, all_in = (beside.ravel() for beside in _aside_beside(costs.inside[who], costs.outside[who]))
        here = at_place[at.ravel()]
        mine = np.repeat(np.arange(len(here)), counts[here])
        spots = _ranges(start[here], counts[here])
        options = option[spots]
        if weights[-2:].any():
            values, inside = _inside_beside(pricer, some, who, costs, weights)
            # each cluster has its own values, in order: all of them in one row
            reach = pricer.members.widest + 2
            row, width = mine // at.shape[1], values.shape[1]
            value = tables.best[options] - (fleet.offset[places[here]] + pricer.members.lowest)[mine]
            keys = (values + np.arange(len(values))[:, None] * reach).ravel()
            found = np.searchsorted(keys, np.clip(value, 0, reach - 1) + row * reach) - row * width
            beside = np.minimum(inside.reshape(-1, width)[mine, found.clip(max=width - 1)], all_in[mine])
        else:
            # how far apart they are costs nothing: the others are at their own least
            others = costs.inside[who]
            others = np.minimum(others.sum(axis=1, keepdims=True) - others, FAR).ravel()
            beside = np.minimum(others, all_in)[mine]
        above[spots] += np.where(outside[options], one_out[mine], beside)
    for woven in pricer.woven:
        mask = np.isin(woven.woven.clusters, clusters)
        here = at_place[woven.woven.at[mask].ravel()]
        if len(here):
            mine, spots = np.repeat(np.arange(len(here)), counts[here]), _ranges(start[here], counts[here])
            others = woven.beside(woven.members.costs(cost), int(weights[-1]), int(weights[-2]))[mask]
            above[spots] += others.reshape(len(here), -1)[mine, woven.members.numbers(len(cost))[option[spots]]]
    if len(first):
        least = np.minimum.reduceat(above, first)
        above = above - np.repeat(least, np.diff(first, append=len(above)))
    return PricedOptions(places, start, option, above)


def within_reach(  # a bound in five parts
    pricer: Pricer, prices: Ints, weights: Ints, clusters: Ints, room: int
) -> dict[int, Ints]:
    """By place of these clusters, options that some choice of the cluster holds which costs at most `room` more.

    Every other option can be struck: a plan that holds it costs more than the bound and `room` together. Of very many
    the most promising are told.
    """
    found = priced_options(pricer, prices, weights, clusters)
    of_gap = pricer.fleet.tables.of_gap
    spans = zip(found.places.tolist(), pairwise(found.start.tolist()), strict=True)
    return {place: _few(found.option[a:b], found.above[a:b], room, of_gap) for place, (a, b) in spans}


def _ranges(first: Ints, counts: Ints) -> Ints:
    """So many whole numbers from each of the first on, one after the other."""
    ends = np.cumsum(counts)
    return np.asarray(np.repeat(first - ends + counts, counts) + np.arange(ends[-1] if len(ends) else 0))


def _alike(clusters: Ints, sizes: Ints, values: int) -> list[Ints]:
    """Clusters of as many places each, no more than can be looked at together."""
    found: list[Ints] = []
    for size in np.unique(sizes[clusters]).tolist():
        many = clusters[sizes[clusters] == size]
        together = max(1, _AT_ONCE // (size * (size * max(1, values)) ** 2))
        found += np.array_split(many, -(-len(many) // together))
    return found


def _few(options: Ints, above: Ints, room: int, of_gap: Ints) -> Ints:
    """Those within room; of very many the cheapest, and among like ones those that leave their gap surer."""
    within = np.flatnonzero(above <= room)
    if len(within) > _MOST:
        shares = of_gap[options[within]]
        within = np.sort(within[np.lexsort((shares[:, 3], shares[:, 2], above[within]))[:_MOST]])
    return options[within]


def _inside_beside(pricer: Pricer, clusters: Ints, who: Ints, costs: Costs, weights: Ints) -> tuple[Ints, Ints]:
    """By cluster its values; by cluster, member and value the least that the others and the spread cost, all inside."""
    own = own_values(pricer.members, who)
    table, values = own.table(costs), own.values
    wide = np.maximum(0, values[:, None, :] - values[:, :, None])
    both = apart(wide, pricer.fleet.within[clusters][:, None, None], int(weights[-1]), int(weights[-2]))
    for at in range(table.shape[1]):
        both += _least_in_ranges(table[:, at])
    none = np.tril(np.ones(both.shape[1:], dtype=bool), -1)
    found = np.empty_like(table)
    # member by member: what all of them cost in every range would be very many numbers
    for at in range(table.shape[1]):
        others = np.where(none, FAR, np.minimum(both - _least_in_ranges(table[:, at]), FAR))
        # the least over all ranges from at most the value to at least the value
        others = np.minimum.accumulate(others, axis=1)
        reached = np.minimum.accumulate(others[:, :, ::-1], axis=2)[:, :, ::-1]
        found[:, at] = np.diagonal(reached, axis1=1, axis2=2)
    return values, found


def _least_in_ranges(costs: Ints) -> Ints:
    """By cluster, the least of its costs from each value to each; more than any where there are none."""
    many = costs.shape[1]
    ranges = np.where(np.tri(many, k=-1, dtype=bool), 2 * FAR, costs[:, None, :])
    return np.asarray(np.minimum.accumulate(ranges, axis=2))


def _aside_beside(inside: Ints, out: Ints) -> tuple[Ints, Ints]:
    """By cluster and member: what the others cost at least, the balance set aside, this one outside or inside."""
    any_way = np.minimum(inside, out)
    extra = np.maximum(0, out - inside)
    others = any_way.sum(axis=1, keepdims=True) - any_way
    alone = np.eye(inside.shape[1], dtype=bool)
    least = np.where(alone, 4 * FAR, extra[:, None, :]).min(axis=2)
    return np.minimum(others, FAR), np.minimum(others + least, FAR)
