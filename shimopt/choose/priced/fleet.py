"""All clusters of a large job as arrays: places in one row, cluster after cluster, and the balances that tie them.

A cluster here is what shares nothing with the rest but the drawer: one place and its gap, or the places of a balance.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import KW_ONLY, dataclass
from functools import cached_property
from itertools import pairwise
from math import gcd

import numpy as np
import numpy.typing as npt

from shimopt.candidates import Scale
from shimopt.choose.priced.tables import OF_GAPS, OF_STACKS, Ints, Tables, tables_of
from shimopt.job import Balance, Job
from shimopt.seats import Screening

_MOST_MEMBERS = 500
# the levels in which choices can differ where nothing is bought
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
    _: KW_ONLY
    places: Ints
    kind: Ints
    offset: Ints
    start: Ints
    within: Ints
    tied: npt.NDArray[np.bool_]
    lines: Ints
    supply: Ints

    @cached_property
    def scarce_pieces(self) -> Ints:
        """By row of the tables, its pieces by their number among the lines that can run out; other pieces the next."""
        number = np.full(self.tables.none + 1, len(self.lines))
        number[self.lines] = np.arange(len(self.lines))
        return np.ascontiguousarray(number[self.tables.pieces])

    @cached_property
    def cluster_of(self) -> Ints:
        """By place, its cluster."""
        return np.repeat(np.arange(len(self.tied)), np.diff(self.start))

    def balance(self, cluster: int) -> Balance | None:
        """The balance that ties a cluster."""
        name = self.job.places[int(self.places[self.start[cluster]])].name
        return self.balance_of.get(self.job.moved_by[name][0].name) if self.tied[cluster] else None

    @cached_property
    def balance_of(self) -> Mapping[str, Balance]:
        """Balances by the gaps in them."""
        return {name: balance for balance in self.job.balances for name in balance.gaps}

    @cached_property
    def steps(self) -> tuple[int, ...]:
        """By level of LEVELS, what all that the level can come to is a whole multiple of."""
        tables, clusters = self.tables, self.cluster_of
        at = np.flatnonzero(self.tied[clusters])
        first, kind = tables.first, self.kind[at]
        # how far the values of a balance are from those of its first gap
        base = tables.best[first[self.kind]] - self.offset
        of_kind = [_divisor(tables.best[a:b] - tables.best[a]) for a, b in pairwise(first.tolist())]
        apart = _divisor(base[at] - base[self.start[clusters[at]]])
        spread = gcd(apart, *(of_kind[k] for k in set(kind.tolist())))
        excess = gcd(spread, *set(self.within[self.within >= 0].tolist()))
        alone = [_divisor(shares) for shares in (*tables.of_gap.T, *tables.of_stack.T)]
        return tuple(step or 1 for step in (*alone, excess, spread))

    def contributions(self, chosen: Ints) -> tuple[Ints, Ints]:
        """What every cluster takes of the scarce lines, and adds to each of LEVELS, with one option per place."""
        tables, starts = self.tables, self.start[:-1]
        rows = tables.row[chosen]
        each = len(self.lines) + 1
        taken = self.scarce_pieces[rows] + self.cluster_of[:, None] * each
        uses = np.bincount(taken.ravel(), minlength=len(starts) * each).reshape(len(starts), each)[:, :-1]
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

    def keeps(self, plan: Ints, held: Mapping[int, int]) -> bool:
        """Whether a plan keeps to the supply, and at these levels to these values."""
        uses, levels = self.contributions(plan)
        return bool((uses.sum(axis=0) <= self.supply).all()) and all(
            int(levels[:, level].sum()) <= value for level, value in held.items()
        )


def fleet_of(job: Job, scale: Scale, screening: Screening, supply: Mapping[int, int]) -> Fleet | None:
    """The clusters of a job; None where it holds some of another sort. Raises TooManyError.

    Another sort are places that act together, equal packs, gaps in several balances, balances of very many gaps, or of
    places.
    """
    clusters = job.clusters
    compared = [name for balance in job.balances for name in balance.gaps]
    if (
        not job.stock
        or not all(cluster.alone for cluster in clusters)
        or len(compared) > len(set(compared))
        or any(balance.places or len(balance.gaps) > _MOST_MEMBERS for balance in job.balances)
    ):
        return None
    place_of = {cluster.gaps[0]: at for at, cluster in enumerate(clusters)}
    loose = set(place_of) - set(compared)
    groups: list[tuple[Sequence[str], Balance | None]] = [(balance.gaps, balance) for balance in job.balances]
    groups += [((cluster.gaps[0],), None) for cluster in clusters if cluster.gaps[0] in loose]
    groups.sort(key=lambda group: min(place_of[name] for name in group[0]))
    names = [name for gaps, _ in groups for name in gaps]
    places = [place_of[name] for name in names]
    tables, kinds = tables_of(
        job, scale, screening, [(job.places[at], job.gap[name]) for at, name in zip(places, names, strict=True)], supply
    )
    offsets = [scale.ticks(balance.offset.get(name, 0)) if balance else 0 for gaps, balance in groups for name in gaps]
    within = [-1 if b is None or b.within is None else scale.ticks(b.within) for _, b in groups]
    # a line can run out where all places together could take more of it than there is
    most = most_taken(tables)[kinds].sum(axis=0)
    there = np.array([supply[i] for i in range(len(job.stock))], dtype=np.int64)
    lines = np.flatnonzero(most > there)
    return Fleet(
        job,
        scale,
        tables,
        places=np.array(places, dtype=np.int64),
        kind=kinds,
        offset=np.array(offsets, dtype=np.int64),
        start=np.cumsum([0, *(len(gaps) for gaps, _ in groups)], dtype=np.int64),
        within=np.array(within, dtype=np.int64),
        tied=np.array([balance is not None for _, balance in groups]),
        lines=lines,
        supply=there[lines],
    )


def most_taken(tables: Tables) -> Ints:
    """By kind and stock line, the most that one of its options takes."""
    kinds, each = len(tables.first) - 1, tables.none + 1
    first = np.repeat(np.arange(kinds), np.diff(tables.first))[:, None] * each
    most = np.zeros(kinds * each, dtype=np.int64)
    for times in range(1, tables.pieces.shape[1] + 1):
        most[(tables.at_least(times)[tables.row] + first).ravel()] = times
    return most.reshape(kinds, each)[:, :-1]


def _divisor(values: Ints) -> int:
    """What all of them are multiples of; 0 where all are 0."""
    return int(np.gcd.reduce(values, initial=0))
