"""From a mix to a plan: clusters that the mix takes whole stay so, and the few that it splits are chosen exactly.

The split ones and a handful of neighbours get what the others leave over, with all their options that a plan near the
bound could hold; the solver knows the bound and stops as soon as it is as good as reached.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from shimopt.candidates import Option, PlaceOptions
from shimopt.choose.asking import proposal
from shimopt.choose.model import build_model
from shimopt.choose.priced.fleet import LEVELS, Fleet
from shimopt.choose.priced.tables import OF_GAPS, OF_STACKS, Ints
from shimopt.job import Job
from shimopt.proof.rows import Row

__all__ = ["chosen_exactly"]


def chosen_exactly(
    fleet: Fleet,
    plan: Ints,
    free: Ints,
    reach: Mapping[int, Ints],
    level: int,
    held: Mapping[int, int],
    bound: int,
    gap: int,
    nodes: int,
) -> Ints | None:
    """A plan that differs from `plan` in the clusters `free` only and keeps to supply and held levels.

    None where none was found. Parameters: reach, by place of these clusters, its options to choose from; bound, what
    the level cannot be below; gap, how far above it is good enough; nodes, the most search nodes.
    """
    fixed = np.ones(len(fleet.tied), dtype=bool)
    fixed[free] = False
    uses, levels = fleet.contributions(plan)
    left = dict(zip(fleet.lines.tolist(), (fleet.supply - uses[fixed].sum(axis=0)).tolist(), strict=True))
    rest = levels[fixed].sum(axis=0)
    if any(there < 0 for there in left.values()):
        return None
    part, options, columns = _part(fleet, free, reach, left)
    supply = {i: left.get(i, 10**9) for i in range(len(part.stock))}
    model = build_model(part, fleet.scale, options, supply)
    rows = list(model.rows)
    for other, value in held.items():
        terms = {at: f for at, f in model.levels[LEVELS[other]].items() if f}
        room = value - int(rest[other])
        if terms:
            rows.append(Row(terms, room))
        elif room < 0:
            return None
    objective = {at: f for at, f in model.levels[LEVELS[level]].items() if f}
    if objective:
        rows.append(Row({at: -f for at, f in objective.items()}, int(rest[level]) - bound))
    at_now = {option: column for column, option in enumerate(columns)}
    start = [at_now.get(int(plan[at]), group[0]) for at, group in zip(_places(fleet, free), model.groups, strict=True)]
    found = proposal(model, rows, objective, start, nodes, gap)
    if found is None:
        return None
    new = plan.copy()
    for place, column in zip(_places(fleet, free), found, strict=True):
        new[place] = columns[column]
    return new


def _places(fleet: Fleet, clusters: Ints) -> list[int]:
    return [at for c in clusters.tolist() for at in range(int(fleet.start[c]), int(fleet.start[c + 1]))]


def _part(
    fleet: Fleet, free: Ints, reach: Mapping[int, Ints], left: Mapping[int, int]
) -> tuple[Job, list[PlaceOptions], list[int]]:
    """These clusters as a job of their own, with what is left over for them."""
    job, tables = fleet.job, fleet.tables
    options, columns, places, gaps = [], [], [], []
    for at in _places(fleet, free):
        place = job.places[int(fleet.places[at])]
        gap = job.moved_by[place.name][0]
        places.append(place)
        gaps.append(gap)
        here = []
        for option in reach[at].tolist():
            row = int(tables.row[option])
            share = dict(zip(OF_GAPS, tables.of_gap[option].tolist(), strict=True))
            share |= dict(zip(OF_STACKS, tables.of_stack[row].tolist(), strict=True))
            here.append(Option(tables.stacks[row], int(tables.best[option]), share["outside"] > 0, share))
            columns.append(option)
        options.append(PlaceOptions(place.name, gap.name, tuple(here)))
    names = {gap.name for gap in gaps}
    balances = tuple(balance for c in free.tolist() if (balance := fleet.balance(c)) is not None)
    installed = [0] * len(job.stock)
    for place in places:
        for i in place.installed:
            installed[i] += 1
    stock = tuple(
        replace(line, on_hand=left[i] - installed[i]) if i in left else replace(line, on_hand=10**9)
        for i, line in enumerate(job.stock)
    )
    assert all(set(balance.gaps) <= names for balance in balances)
    return Job(job.title, job.unit, tuple(gaps), tuple(places), balances, stock, job.priority), options, columns
