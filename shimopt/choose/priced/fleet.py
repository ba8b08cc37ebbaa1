"""All clusters of a large job as arrays: places in one row, cluster after cluster, and the balances that tie them.

A cluster here is what shares nothing with the rest but the drawer: one place and its gap, the places of a balance or
of several, or places with equal packs and what balances tie to them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass
from functools import cached_property
from itertools import pairwise
from math import gcd
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import Option, PlaceOptions, Scale
from shimopt.choose.priced.listed import Listed, can_be_listed, listed_cluster
from shimopt.choose.priced.tables import OF_GAPS, OF_ROWS, Ints, Tables, tables_of
from shimopt.choose.priced.woven import Woven, shapes_of, too_wide
from shimopt.job import Balance, Job
from shimopt.seats import Screening

# a balance of so many gaps is looked at whatever they come to; of more, where tables of what they come to are no larger
_MANY_MEMBERS, _MOST_NUMBERS = 500, 4_000_000
# the levels in which choices can differ where nothing is bought
LEVELS = (*OF_GAPS, *OF_ROWS)


@dataclass(frozen=True)
class Fleet:
    """Places in the order of their clusters.

    `places` are indices of the job's places; `kind` their kinds; `offset` what is taken off an estimate before it is
    compared [ticks]; `start` where each cluster begins, and the end; by cluster: `tied`, whether a balance ties it, and
    `within`, the spread from which there is excess [ticks], -1 where none is stated. `lines` are the stock lines that
    can run out, `supply` how many pieces there are of each. `woven` are the clusters that several balances tie, by
    their shape; `listed`, by its only place here, a cluster of which all combinations are options of that; `balances`
    those of each cluster; `there` how many pieces there are of every stock line.
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
    woven: Sequence[Woven]
    listed: Mapping[int, Listed]
    balances: Sequence[Sequence[Balance]]
    there: Mapping[int, int]

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

    def option(self, number: int) -> Option:
        """An option of the tables."""
        tables = self.tables
        row = int(tables.row[number])
        share = dict(zip(LEVELS, (*tables.of_gap[number].tolist(), *tables.of_stack[row].tolist()), strict=True))
        return Option(tables.stacks[row], int(tables.best[number]), share["outside"] > 0, share)

    def stacks(self, plan: Ints) -> dict[str, Stack]:
        """The stack of every place, in the order of the job."""
        job, rows = self.job, self.tables.row[plan].tolist()
        found: dict[int, Stack] = {}
        for at, (number, row) in enumerate(zip(self.places.tolist(), rows, strict=True)):
            if (of := self.listed.get(at)) is None:
                found[number] = self.tables.stacks[row]
            else:
                which = int(plan[at] - self.tables.first[self.kind[at]])
                found |= dict(zip(of.places, of.stacks[which], strict=True))
        return {place.name: found[at] for at, place in enumerate(job.places)}

    def options_of(self, kept: Mapping[int, Ints]) -> list[PlaceOptions]:
        """What every place of the job may hold, in its order, where these options are kept of those here."""
        found: dict[int, PlaceOptions] = {}
        for at, options in kept.items():
            number = int(self.places[at])
            if (of := self.listed.get(at)) is None:
                place = self.job.places[number].name
                gap = self.job.moved_by[place][0].name
                found[number] = PlaceOptions(place, gap, tuple(map(self.option, options.tolist())))
            else:
                found |= of.with_stacks((options - self.tables.first[self.kind[at]]).tolist())
        return [found[number] for number in range(len(self.job.places))]

    def plan_of(self, stacks: Mapping[str, Stack], among: Mapping[int, Ints]) -> Ints:
        """The plan that has these stacks, all of them among these options."""
        plan = np.empty(len(self.kind), dtype=np.int64)
        for at, options in among.items():
            if (of := self.listed.get(at)) is None:
                wanted = stacks[self.job.places[int(self.places[at])].name]
                here = (
                    option for option in options.tolist() if self.tables.stacks[int(self.tables.row[option])] == wanted
                )
                plan[at] = next(here)
            else:
                wanted_of = tuple(stacks[self.job.places[number].name] for number in of.places)
                plan[at] = self.tables.first[self.kind[at]] + of.number[wanted_of]
        return plan

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
        limits = {*self.within[self.within >= 0].tolist()}
        for woven in self.woven:
            kind = np.union1d(kind, self.kind[woven.at])
            apart = gcd(apart, *(_divisor(of.ravel()) for of in woven.differences(tables.best[first[self.kind]])))
            limits |= {*woven.within[woven.within >= 0].tolist()}
        spread = gcd(apart, *(of_kind[k] for k in set(kind.tolist())))
        excess = gcd(spread, *limits)
        alone = [_divisor(shares) for shares in (*tables.of_gap.T, *tables.of_stack.T)]
        # rows of clusters add to these two as well
        return tuple(step or 1 for step in (*alone[:-2], gcd(alone[-2], excess), gcd(alone[-1], spread)))

    def contributions(self, chosen: Ints) -> tuple[Ints, Ints]:
        """What every cluster takes of the scarce lines, and adds to each of LEVELS, with one option per place."""
        tables, starts = self.tables, self.start[:-1]
        rows = tables.row[chosen]
        each = len(self.lines) + 1
        taken = self.scarce_pieces[rows] + self.cluster_of[:, None] * each
        uses = np.bincount(taken.ravel(), minlength=len(starts) * each).reshape(len(starts), each)[:, :-1]
        shares = np.concatenate([tables.of_gap[chosen], tables.of_stack[rows]], axis=1)
        levels = np.add.reduceat(shares, starts, axis=0)
        even = tables.best[chosen] - self.offset
        spread = np.maximum.reduceat(even, starts) - np.minimum.reduceat(even, starts)
        aside = ~self.tied | (levels[:, 0] > 0)
        spread[aside] = 0
        excess = np.where((self.within >= 0) & ~aside, np.maximum(0, spread - self.within), 0)
        levels[:, -2] += excess
        levels[:, -1] += spread
        for woven in self.woven:
            excess, spread = woven.levels(tables.best[chosen], tables.outside[chosen])
            levels[woven.clusters, -2] += excess
            levels[woven.clusters, -1] += spread
        return uses, levels

    def keeps(self, plan: Ints, held: Mapping[int, int]) -> bool:
        """Whether a plan keeps to the supply, and at these levels to these values."""
        uses, levels = self.contributions(plan)
        return bool((uses.sum(axis=0) <= self.supply).all()) and all(
            int(levels[:, level].sum()) <= value for level, value in held.items()
        )


def fleet_of(
    job: Job, scale: Scale, screening: Screening, supply: Mapping[int, int], over: Callable[[], bool] = lambda: False
) -> Fleet | None:
    """The clusters of a job; None where it holds some of another sort, or it is `over`. Raises TooManyError.

    Another sort are places that act together but for equal packs, balances of very many gaps, or of places, and
    clusters of which there would be too much to list.
    """
    if not job.stock or not can_be_listed(job):
        return None
    if any(balance.places for balance in job.balances):
        return None
    groups, number_of = _groups(job), {place.name: at for at, place in enumerate(job.places)}
    listed: dict[int, Listed] = {}
    places: list[int] = []
    for group in groups:
        # combinations of packs are what takes long
        if listed and over():
            return None
        if group.packs:
            one = listed_cluster(
                job, scale, screening, supply, [number_of[name] for name in group.places], group.balances
            )
            if one is None:
                return None
            listed[len(places)] = one
            places.append(number_of[group.places[0]])
        else:
            places += [number_of[name] for name in group.places]
    rows = [listed.get(at, (job.places[n], job.moved_by[job.places[n].name][0])) for at, n in enumerate(places)]
    tables, kinds = tables_of(job, scale, screening, rows, supply)
    start = np.cumsum([0, *(1 if group.packs else len(group.places) for group in groups)], dtype=np.int64)
    woven = _woven(job, scale, groups, start)
    if any(too_wide(one.shape, _most_values(tables, kinds[one.at])) for one in woven):
        return None
    large = [kinds[a:b] for (a, b), group in zip(pairwise(start.tolist()), groups, strict=True) if group.tied]
    if any(len(of) * _all_values(tables, of) ** 2 > _MOST_NUMBERS for of in large if len(of) > _MANY_MEMBERS):
        return None
    single = [group.balances[0] if group.tied else None for group in groups]
    within = [-1 if b is None or b.within is None else scale.ticks(b.within) for b in single]
    offsets = [
        scale.ticks(b.offset.get(job.moved_by[name][0].name, 0)) if b else 0
        for b, group in zip(single, groups, strict=True)
        for name in (group.places[:1] if group.packs else group.places)
    ]
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
        start=start,
        within=np.array(within, dtype=np.int64),
        tied=np.array([group.tied for group in groups]),
        lines=lines,
        supply=there[lines],
        woven=woven,
        listed=listed,
        balances=[group.balances for group in groups],
        there=supply,
    )


def _most_values(tables: Tables, kinds: Ints) -> int:
    """The most values that options of any of these kinds come to."""
    ends = [(int(tables.first[kind]), int(tables.first[kind + 1])) for kind in set(kinds.ravel().tolist())]
    return max(len(np.unique(tables.best[a:b])) for a, b in ends)


def _all_values(tables: Tables, kinds: Ints) -> int:
    """How many values options of these kinds come to inside, in all."""
    inside = ~tables.outside & np.isin(np.repeat(np.arange(len(tables.first) - 1), np.diff(tables.first)), kinds)
    return len(np.unique(tables.best[inside]))


class _Group(NamedTuple):
    """Places that packs or balances tie, by name, and these balances; whether packs do."""

    places: Sequence[str]
    balances: Sequence[Balance]
    packs: bool

    @property
    def tied(self) -> bool:
        """Whether one balance ties the places, and nothing else."""
        return len(self.balances) == 1 and not self.packs


def _groups(job: Job) -> list[_Group]:
    """All clusters, in the order of their first places; places in the order of the balance where it is only one."""
    number_of = {place.name: at for at, place in enumerate(job.places)}
    place_of = {gap.name: gap.effects[0][0] for gap in job.gaps}
    of_balances = [[place_of[name] for name in balance.gaps] for balance in job.balances]
    root = {place.name: place.name for place in job.places}

    def found(name: str) -> str:
        while root[name] != name:
            root[name] = root[root[name]]
            name = root[name]
        return name

    for tied in (*of_balances, *job.equal):
        for other in tied[1:]:
            root[found(other)] = found(tied[0])
    places: dict[str, list[str]] = {}
    for place in job.places:
        places.setdefault(found(place.name), []).append(place.name)
    balances: dict[str, list[int]] = {}
    for number, names in enumerate(of_balances):
        balances.setdefault(found(names[0]), []).append(number)
    packs = {found(tied[0]) for tied in job.equal}
    groups = []
    for first, names in places.items():
        mine = balances.get(first, [])
        in_order = of_balances[mine[0]] if len(mine) == 1 and first not in packs else names
        groups.append(_Group(in_order, [job.balances[number] for number in mine], first in packs))
    return sorted(groups, key=lambda group: min(map(number_of.__getitem__, group.places)))


def _woven(job: Job, scale: Scale, groups: Sequence[_Group], start: Ints) -> list[Woven]:
    """The clusters that several balances tie, by their shape."""
    which = [number for number, group in enumerate(groups) if len(group.balances) > 1 and not group.packs]
    scopes = []
    for number in which:
        at = {job.moved_by[name][0].name: k for k, name in enumerate(groups[number].places)}
        scopes.append([[at[name] for name in balance.gaps] for balance in groups[number].balances])
    found = []
    for shape, some in shapes_of(scopes):
        clusters = np.array([which[one] for one in some], dtype=np.int64)
        of = [groups[number].balances for number in clusters.tolist()]
        offset = [
            np.array([[scale.ticks(b[k].offset.get(name, 0)) for name in b[k].gaps] for b in of], dtype=np.int64)
            for k in range(len(shape.scopes))
        ]
        within = [[-1 if one.within is None else scale.ticks(one.within) for one in b] for b in of]
        places = start[clusters][:, None] + np.arange(shape.gaps)
        found.append(
            Woven(shape, clusters=clusters, at=places, offset=tuple(offset), within=np.array(within, dtype=np.int64))
        )
    return found


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
