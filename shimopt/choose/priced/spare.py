"""Which options a plan near the bound could hold at all: priced, they cost little more than the cheapest choice."""

from __future__ import annotations

import numpy as np

from shimopt.choose.priced.balanced import own_values
from shimopt.choose.priced.members import FAR
from shimopt.choose.priced.pairs import apart
from shimopt.choose.priced.pricing import Pricer
from shimopt.choose.priced.tables import Ints

__all__ = ["within_reach"]

# of so many options of a place the solver is shown the most promising
_MOST = 40


def within_reach(  # a bound in five parts, and how much of it is wanted
    pricer: Pricer, prices: Ints, weights: Ints, clusters: Ints, room: int, most: int | None = _MOST
) -> dict[int, Ints]:
    """By place of these clusters, the options that some choice of the cluster holds which costs at most `room` more.

    Every other option can be struck: a plan that holds it costs more than the bound and `room` together.
    `most` is how many of a place are told, the most promising; None for all.
    """
    fleet, tables = pricer.fleet, pricer.fleet.tables
    cost = pricer.costs(prices, weights)
    members = pricer.members
    costs_of = members.costs(cost)
    found: dict[int, Ints] = {}
    for cluster in clusters.tolist():
        at = np.arange(fleet.start[cluster], fleet.start[cluster + 1])
        spans = [np.arange(tables.first[k], tables.first[k + 1]) for k in fleet.kind[at]]
        if not fleet.tied[cluster]:
            above = cost[spans[0]] - cost[spans[0]].min()
            found[int(at[0])] = _few(spans[0], above, room, tables.of_gap, most)
            continue
        who = members.of[at]
        own = own_values(members, who[None, :])
        values = own.values[0]
        far = apart(
            np.maximum(0, values[None, :] - values[:, None]),
            int(fleet.within[cluster]),
            int(weights[-1]),
            int(weights[-2]),
        )
        inside = _inside_beside(own.table(costs_of)[0], far)
        aside = _aside_beside(costs_of.inside[who], costs_of.outside[who])
        above = []
        for i, (place, span) in enumerate(zip(at.tolist(), spans, strict=True)):
            value = np.searchsorted(values, tables.best[span] - fleet.offset[place] - members.lowest)
            value = np.minimum(value, len(values) - 1)
            outside = tables.outside[span]
            whole = np.minimum(inside[i][value], aside[i][0])
            above.append(cost[span] + np.where(outside, aside[i][1], whole))
        least = min(int(costs.min()) for costs in above)
        for place, span, costs in zip(at.tolist(), spans, above, strict=True):
            found[place] = _few(span, costs - least, room, tables.of_gap, most)
    return found


def _few(options: Ints, above: Ints, room: int, of_gap: Ints, most: int | None) -> Ints:
    """Those within room; of very many the cheapest, and among like ones those that leave their gap surer."""
    near = np.flatnonzero(above <= room)
    if most is not None and len(near) > most:
        shares = of_gap[options[near]]
        near = np.sort(near[np.lexsort((shares[:, 3], shares[:, 2], above[near]))[:most]])
    return options[near]


def _inside_beside(table: Ints, far: Ints) -> list[Ints]:
    """By member and its value: the least that the others and the spread cost while all are inside."""
    values = table.shape[1]
    least = np.full((len(table), values, values), 2 * FAR)
    for low in range(values):
        least[:, low, low:] = np.minimum.accumulate(table[:, low:], axis=1)
    both = least.sum(axis=0) + far
    found = []
    for i in range(len(table)):
        others = np.minimum(both - least[i], FAR)
        others[np.tril_indices(values, -1)] = FAR
        # the least over all ranges from at most the value to at least the value
        reached = np.minimum.accumulate(others, axis=0)
        reached = np.minimum.accumulate(reached[:, ::-1], axis=1)[:, ::-1]
        found.append(np.diagonal(reached).copy())
    return found


def _aside_beside(inside: Ints, out: Ints) -> list[tuple[int, int]]:
    """By member: the least that the others cost while the balance is set aside, this one being inside or outside."""
    found = []
    for i in range(len(inside)):
        others = [j for j in range(len(inside)) if j != i]
        any_way = sum(min(int(inside[j]), int(out[j])) for j in others)
        extra = min(max(0, int(out[j]) - int(inside[j])) for j in others)
        found.append((min(any_way + extra, FAR), min(any_way, FAR)))
    return found
