"""Which clusters a mix takes whole, and which few it splits between two choices."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shimopt.choose.priced.fleet import Fleet
from shimopt.choose.priced.master import Master
from shimopt.choose.priced.tables import Ints

# so many groups may a linear program have that only looks closer at what was split
_MOST_ROWS = 500


@dataclass(frozen=True, slots=True)
class Settled:
    """A choice of every cluster; `split`, those that the mix splits; `torn`, others about which it was undecided."""

    plan: Ints
    split: Ints
    torn: Ints


# a mix is spread over what prices know of it, and is looked at once: a class of these seven would live for one call
def settled(
    fleet: Fleet,
    groups: Sequence[Ints],
    taken: Sequence[Sequence[tuple[int, float]]],
    choices: Mapping[int, Ints],
    level: int,
    limits: Sequence[int],
    held: Sequence[int],
) -> Settled:
    """What a mix leaves open, looked at closer and closer until single clusters are split.

    Parameters: groups, the clusters of each group; taken, the choices that each mixes, with weights; choices, by
    number, one option per place; limits, what there is of the scarce lines, then the values of the levels `held`.
    """
    plan = np.empty(len(fleet.kind), dtype=np.int64)
    amounts = {number: _amounts(fleet, choice, held, level) for number, choice in choices.items()}
    done = np.zeros(len(fleet.tied), dtype=bool)
    used = np.zeros(len(limits), dtype=np.int64)
    torn: list[Ints] = []
    while True:
        parts: list[Ints] = []
        parents: list[Sequence[tuple[int, float]]] = []
        for clusters, mix in zip(groups, taken, strict=True):
            first = max(mix, key=lambda one: (one[1], -one[0]))[0]
            places = _places(fleet, clusters)
            plan[places] = choices[first][places]
            alike = np.ones(len(places), dtype=bool)
            for number, _ in mix:
                alike &= choices[number][places] == choices[first][places]
            same = np.logical_and.reduceat(alike, _starts(fleet, clusters))
            whole = clusters[same]
            done[whole] = True
            used += amounts[first][0][whole].sum(axis=0)
            if not same.all():
                parts.append(clusters[~same])
                parents.append(mix)
        if not parts or max(len(part) for part in parts) == 1:
            split = np.concatenate(parts) if parts else np.zeros(0, dtype=np.int64)
            left = np.concatenate(torn) if torn else np.zeros(0, dtype=np.int64)
            return Settled(plan, np.sort(split), np.setdiff1d(left, split))
        torn += parts
        pieces = max(1, _MOST_ROWS // len(parts))
        cut = [np.array_split(part, min(len(part), pieces)) for part in parts]
        groups = [piece for of_part in cut for piece in of_part]
        mixes = [mix for mix, of_part in zip(parents, cut, strict=True) for _ in of_part]
        master = Master(len(groups), [limit - there for limit, there in zip(limits, used.tolist(), strict=True)])
        for number in sorted({number for mix in mixes for number, _ in mix}):
            mine = [at for at, mix in enumerate(mixes) if any(number == n for n, _ in mix)]
            takes = np.zeros((len(groups), len(limits)), dtype=np.int64)
            costs = np.zeros(len(groups), dtype=np.int64)
            for at in mine:
                takes[at] = amounts[number][0][groups[at]].sum(axis=0)
                costs[at] = amounts[number][1][groups[at]].sum()
            master.add(number, takes, costs, mine)
        found = master.mixed()
        if found is None:
            return Settled(plan, np.sort(np.concatenate(parts)), np.zeros(0, dtype=np.int64))
        taken = found.taken


def _amounts(fleet: Fleet, choice: Ints, held: Sequence[int], level: int) -> tuple[Ints, Ints]:
    """By cluster, what a choice takes of the limits, and its cost at a level."""
    uses, levels = fleet.contributions(choice)
    return np.concatenate([uses, levels[:, list(held)]], axis=1), levels[:, level]


def _places(fleet: Fleet, clusters: Ints) -> Ints:
    """The places of clusters, cluster after cluster."""
    sizes = fleet.start[clusters + 1] - fleet.start[clusters]
    first = np.repeat(fleet.start[clusters] - np.concatenate([[0], np.cumsum(sizes)[:-1]]), sizes)
    return np.asarray(first + np.arange(sizes.sum()))


def _starts(fleet: Fleet, clusters: Ints) -> Ints:
    sizes = fleet.start[clusters + 1] - fleet.start[clusters]
    return np.concatenate([[0], np.cumsum(sizes)[:-1]])
