"""All clusters of a large job as arrays: places in one row, cluster after cluster, and the balances that tie them.

A cluster here is what shares nothing with the rest but the drawer: one place and its gap, or the places of a balance.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shimopt.choose.priced.tables import OF_GAPS, OF_STACKS, Ints, Tables, tables_of
from shimopt.fit import Screening
from shimopt.job import Balance, Job, clusters_of
from shimopt.stacks import Scale

__all__ = ["LEVELS", "Fleet", "fleet_of"]

# the levels that a choice without purchases can differ in
_MOST_MEMBERS = 500
LEVELS = (*OF_GAPS, *OF_STACKS, "excess", "spread")


@dataclass(frozen=True)
class Fleet:
    """Places in the order of their clusters.

    `places` are indices of the job's places; `kind` their kinds; `offset` what is taken off an estimate before it is
    compared [ticks]; `start` where each cluster begins, and the end; by cluster: `tied`, whether a balance ties it, and
    `within`, the spread from which there is excess [ticks], -1 where none is stated. `lines` are the stock lines that
    can run out, `supply` how many pieces there are of each.
    """

    job: Job
    scale: Scale
    tables: Tables
    places: Ints
    kind: Ints
    offset: Ints
    start: Ints
    within: Ints
    tied: np.ndarray
    lines: Ints
    supply: Ints

    @cached_property
    def cluster_of(self) -> Ints:
        """By place, its cluster."""
        return np.repeat(np.arange(len(self.start) - 1), np.diff(self.start))

    @cached_property
    def scarce_uses(self) -> Ints:
        """By row of the tables, what it takes of the lines that can run out."""
        return np.ascontiguousarray(self.tables.uses[:, self.lines])

    def balance(self, cluster: int) -> Balance | None:
        """The balance that ties a cluster."""
        name = self.job.places[int(self.places[self.start[cluster]])].name
        return self.balance_of.get(self.job.moved_by[name][0].name) if self.tied[cluster] else None

    @cached_property
    def balance_of(self) -> Mapping[str, Balance]:
        """Balances by the gaps in them."""
        return {name: balance for balance in self.job.balances for name in balance.gaps}

    def contributions(self, chosen: Ints) -> tuple[Ints, Ints]:
        """What every cluster takes of the scarce lines, and adds to each of LEVELS, with one option per place."""
        tables, starts = self.tables, self.start[:-1]
        rows = tables.row[chosen]
        uses = (
            np.add.reduceat(self.scarce_uses[rows], starts, axis=0)
            if len(self.lines)
            else np.zeros((len(starts), 0), dtype=np.int64)
        )
        shares = np.concatenate([tables.of_gap[chosen], tables.of_stack[rows]], axis=1)
        levels = np.zeros((len(starts), len(LEVELS)), dtype=np.int64)
        levels[:, : shares.shape[1]] = np.add.reduceat(shares, starts, axis=0)
        even = tables.best[chosen] - self.offset
        spread = np.maximum.reduceat(even, starts) - np.minimum.reduceat(even, starts)
        aside = ~self.tied | (levels[:, 0] > 0)
        spread[aside] = 0
        excess = np.where((self.within >= 0) & ~aside, np.maximum(0, spread - self.within), 0)
        levels[:, -2], levels[:, -1] = excess, spread
        return uses, levels


def fleet_of(job: Job, scale: Scale, screening: Screening, supply: Mapping[int, int]) -> Fleet | None:
    """The clusters of a job; None where it holds some of another sort."""
    if job.equal or any(not cluster.alone for cluster in clusters_of(job)):
        return None
    gap_of = {cluster.places[0]: cluster.gaps[0] for cluster in clusters_of(job)}
    place_at = {gap_of[place.name]: at for at, place in enumerate(job.places)}
    balance_of: dict[str, Balance] = {}
    for balance in job.balances:
        for name in balance.gaps:
            if name in balance_of:
                return None
            balance_of[name] = balance
    if any(len(balance.gaps) > _MOST_MEMBERS for balance in job.balances):
        return None
    members: list[Sequence[str]] = [balance.gaps for balance in job.balances]
    members += [(name,) for name in place_at if name not in balance_of]
    members.sort(key=lambda names: min(place_at[name] for name in names))
    order = [name for names in members for name in names]
    places = [place_at[name] for name in order]
    tables, kinds = tables_of(
        job, scale, screening, [(job.places[at], job.gap[n]) for at, n in zip(places, order, strict=True)], supply
    )
    tied = np.array([names[0] in balance_of for names in members])
    within = [balance_of[names[0]].within if names[0] in balance_of else None for names in members]
    offsets = [balance_of[n].offset.get(n, 0) if n in balance_of else 0 for n in order]
    fleet_kinds = kinds
    most = np.zeros(len(job.stock), dtype=np.int64)
    # a line can run out where all places together could take more of it than there is
    widest = np.maximum.reduceat(tables.uses[tables.row], tables.first[:-1], axis=0)
    most = (widest[fleet_kinds]).sum(axis=0)
    there = np.array([supply[i] for i in range(len(job.stock))], dtype=np.int64)
    lines = np.flatnonzero(most > there)
    return Fleet(
        job,
        scale,
        tables,
        np.array(places),
        kinds,
        np.array([scale.ticks(o) for o in offsets], dtype=np.int64),
        np.concatenate([[0], np.cumsum([len(names) for names in members])]),
        np.array([-1 if w is None else scale.ticks(w) for w in within], dtype=np.int64),
        tied,
        lines,
        there[lines],
    )
