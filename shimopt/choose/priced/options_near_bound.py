"""Which options a plan near the bound could hold at all: priced, they cost little more than the cheapest choice."""

from __future__ import annotations

import numpy as np

from shimopt.choose.priced.members import FAR, Costs
from shimopt.choose.priced.priced_balances import apart, own_values
from shimopt.choose.priced.pricing import Pricer
from shimopt.choose.priced.tables import Ints

# of so many options of a place the solver is shown the most promising
_MOST = 20
# so many numbers are held at once
_AT_ONCE = 4_000_000


def within_reach(  # a bound in five parts, and how much of it is wanted
    pricer: Pricer, prices: Ints, weights: Ints, clusters: Ints, room: int, most: int | None = _MOST
) -> dict[int, Ints]:
    """By place of these clusters, the options that some choice of the cluster holds which costs at most `room` more.

    Every other option can be struck: a plan that holds it costs more than the bound and `room` together.
    `most` is how many of a place are told, the most promising; None for all.
    """
    fleet, tables = pricer.fleet, pricer.fleet.tables
    cost = pricer.costs(prices, weights)
    found: dict[int, Ints] = {}
    tied = fleet.tied[clusters]
    for place in fleet.start[clusters[~tied]].tolist():
        span = np.arange(tables.first[fleet.kind[place]], tables.first[fleet.kind[place] + 1])
        found[place] = _few(span, cost[span] - cost[span].min(), room, tables.of_gap, most)
    sizes, costs, outside = np.diff(fleet.start), pricer.members.costs(cost), tables.outside
    for some in _alike(clusters[tied], sizes, pricer.members.most):
        at = fleet.start[some][:, None] + np.arange(sizes[some[0]])
        who = pricer.members.of[at]
        values, inside = _inside_beside(pricer, some, who, costs, weights)
        one_out, all_in = _aside_beside(costs.inside[who], costs.outside[who])
        for i, places in enumerate(at.tolist()):
            spans, above = [], []
            for j, place in enumerate(places):
                span = np.arange(tables.first[fleet.kind[place]], tables.first[fleet.kind[place] + 1])
                value = np.searchsorted(
                    values[i], tables.best[span] - (fleet.offset[place] + pricer.members.lowest)
                ).clip(max=values.shape[1] - 1)
                beside = np.minimum(inside[i, j][value], all_in[i, j])
                spans.append(span)
                above.append(cost[span] + np.where(outside[span], one_out[i, j], beside))
            least = min(int(of_place.min()) for of_place in above)
            for place, span, of_place in zip(places, spans, above, strict=True):
                found[place] = _few(span, of_place - least, room, tables.of_gap, most)
    return found


def _alike(clusters: Ints, sizes: Ints, values: int) -> list[Ints]:
    """Clusters of as many places each, no more than can be looked at together."""
    found: list[Ints] = []
    for size in np.unique(sizes[clusters]).tolist():
        many = clusters[sizes[clusters] == size]
        together = max(1, _AT_ONCE // (size * (size * max(1, values)) ** 2))
        found += np.array_split(many, -(-len(many) // together))
    return found


def _few(options: Ints, above: Ints, room: int, of_gap: Ints, most: int | None) -> Ints:
    """Those within room; of very many the cheapest, and among like ones those that leave their gap surer."""
    near = np.flatnonzero(above <= room)
    if most is not None and len(near) > most:
        shares = of_gap[options[near]]
        near = np.sort(near[np.lexsort((shares[:, 3], shares[:, 2], above[near]))[:most]])
    return options[near]


def _inside_beside(pricer: Pricer, clusters: Ints, who: Ints, costs: Costs, weights: Ints) -> tuple[Ints, Ints]:
    """By cluster its values; by cluster, member and value the least that the others and the spread cost, all inside."""
    own = own_values(pricer.members, who)
    table, values = own.table(costs), own.values
    many = values.shape[1]
    least = np.full((*table.shape, many), 2 * FAR)
    for low in range(many):
        least[:, :, low, low:] = np.minimum.accumulate(table[:, :, low:], axis=2)
    wide = np.maximum(0, values[:, None, :] - values[:, :, None])
    within = pricer.fleet.within[clusters][:, None, None]
    both = least.sum(axis=1) + apart(wide, within, int(weights[-1]), int(weights[-2]))
    others = np.minimum(both[:, None] - least, FAR)
    others[:, :, *np.tril_indices(many, -1)] = FAR
    # the least over all ranges from at most the value to at least the value
    reached = np.minimum.accumulate(others, axis=2)
    reached = np.minimum.accumulate(reached[:, :, :, ::-1], axis=3)[:, :, :, ::-1]
    return values, np.diagonal(reached, axis1=2, axis2=3)


def _aside_beside(inside: Ints, out: Ints) -> tuple[Ints, Ints]:
    """By cluster and member: what the others cost at least, the balance set aside, this one outside or inside."""
    any_way = np.minimum(inside, out)
    extra = np.maximum(0, out - inside)
    others = any_way.sum(axis=1, keepdims=True) - any_way
    alone = np.eye(inside.shape[1], dtype=bool)
    least = np.where(alone, 4 * FAR, extra[:, None, :]).min(axis=2)
    return np.minimum(others, FAR), np.minimum(others + least, FAR)
