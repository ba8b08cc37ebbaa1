"""From a mix to a plan: clusters that the mix takes whole stay so, and the few that it splits are chosen exactly.

The split ones and a handful of neighbours get what the others leave over, with all their options that a plan near the
bound could hold; the solver knows the bound and stops as soon as it is as good as reached. Where all options that a
better plan could hold are few, they are closed instead: the best of them found and proven.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shimopt.candidates import PlaceOptions
from shimopt.choose.asked_of_solvers import Asking, proposal
from shimopt.choose.model_rows import build_model
from shimopt.choose.priced.fleet import LEVELS, Fleet
from shimopt.choose.priced.tables import Ints
from shimopt.choose.whole_model import Model
from shimopt.errors import FaultError
from shimopt.job import Job, Place
from shimopt.proof.proven import Proof
from shimopt.proof.rows import Row
from shimopt.watch import Watch


@dataclass(frozen=True, slots=True)
class Part:
    """Some clusters of a plan chosen anew, all others as they are.

    `places` are theirs, `columns` the options to choose from, in the order of the model's columns; `rest` is what the
    others add to LEVELS, `held` the levels above with the values they may not be above.
    """

    fleet: Fleet
    plan: Ints
    places: Sequence[int]
    columns: Sequence[int]
    model: Model
    rest: Ints
    held: Mapping[int, int]

    @property
    def start(self) -> tuple[int, ...]:
        """The plan's own columns; the first of a place where the plan's is not among them."""
        found = []
        for place, group in zip(self.places, self.model.groups, strict=True):
            here = self.columns[group.start : group.stop]
            now = int(self.plan[place])
            found.append(group.start + here.index(now) if now in here else group.start)
        return tuple(found)

    def chosen(self, level: int, bound: int, near: int, limit: Watch) -> Ints | None:
        """A plan as good as can be found within a limit; None where none was found.

        Parameters: bound, what the level cannot be below; near, how far above it is good enough.
        """
        held, objective = self._held_rows(), self._terms(level)
        if held is None:
            return None
        rows = [*self.model.rows, *held]
        if objective:
            rows.append(Row({at: -f for at, f in objective.items()}, int(self.rest[level]) - bound))
        found = proposal(self.model, rows, objective, self.start, near, limit)
        return None if found is None else self.plan_of(found)

    def closed(self, level: int, bound: int, watch: Watch) -> tuple[Ints, int, Proof]:
        """The best plan, what none is below that differs from it in these clusters only, and the proof of that.

        `plan` keeps to all rules, and its options are among the columns.
        """
        now, held, objective = (self._value(level, self.plan), self._held_rows(), self._terms(level))
        if held is None or not objective:
            return self.plan, now, Proof.EXACT
        rest = int(self.rest[level])

        def value_of(chosen: Sequence[int]) -> int | None:
            plan = self.plan_of(chosen)
            return self._value(level, plan) - rest if self._keeps(plan) else None

        asking = Asking(self.model, watch)
        found = asking.least(self.model.groups, held, objective, (self.start, now - rest, bound - rest), value_of)
        return self.plan_of(found.chosen), found.bound + rest, found.proof

    def _terms(self, level: int) -> dict[int, int]:
        return {at: f for at, f in self.model.levels[LEVELS[level]].items() if f}

    def _held_rows(self) -> list[Row] | None:
        """The levels held as rows; None where nothing in these clusters can keep to them."""
        rows = []
        for level, value in self.held.items():
            terms, room = self._terms(level), value - int(self.rest[level])
            if terms:
                rows.append(Row(terms, room))
            elif room < 0:
                return None
        return rows

    def plan_of(self, chosen: Sequence[int]) -> Ints:
        """The plan with one of the model's columns for each of these places."""
        new = self.plan.copy()
        new[list(self.places)] = [self.columns[column] for column in chosen]
        return new

    def _value(self, level: int, plan: Ints) -> int:
        return int(self.fleet.contributions(plan)[1][:, level].sum())

    def _keeps(self, plan: Ints) -> bool:
        return self.fleet.keeps(plan, self.held)


def part_of(fleet: Fleet, plan: Ints, free: Ints, reach: Mapping[int, Ints], held: Mapping[int, int]) -> Part | None:
    """The clusters `free` of a plan; None where the others already take more than there is.

    Parameters: reach, by place of these clusters, its options to choose from.
    """
    fixed = np.ones(len(fleet.tied), dtype=bool)
    fixed[free] = False
    uses, levels = fleet.contributions(plan)
    left = dict(zip(fleet.lines.tolist(), (fleet.supply - uses[fixed].sum(axis=0)).tolist(), strict=True))
    if any(there < 0 for there in left.values()):
        return None
    part, options, columns = _part(fleet, free, reach, left)
    supply = {i: left.get(i, 10**9) for i in range(len(part.stock))}
    model = build_model(part, fleet.scale, options, supply)
    for level in ("excess", "spread"):
        # what options of whole clusters come to
        own = {c: share for c, option in enumerate(model.columns) if (share := option.share[level])}
        model.levels[level] = {**model.levels[level], **own}
    return Part(fleet, plan, places_of(fleet, free), columns, model, levels[fixed].sum(axis=0), held)


def places_of(fleet: Fleet, clusters: Ints) -> list[int]:
    """The places of some clusters, by number."""
    return [at for c in clusters.tolist() for at in range(int(fleet.start[c]), int(fleet.start[c + 1]))]


def _part(
    fleet: Fleet, free: Ints, reach: Mapping[int, Ints], left: Mapping[int, int]
) -> tuple[Job, list[PlaceOptions], list[int]]:
    """These clusters as a job of their own, with what is left over for them."""
    job, tables = fleet.job, fleet.tables
    options, columns, places, gaps = [], [], [], []
    for at in places_of(fleet, free):
        place, gap_name = job.places[int(fleet.places[at])], ""
        if at in fleet.listed:
            # what all places of the cluster hold together, as if it were one that moves no gap
            place = Place(place.name, None, tables.pieces.shape[1])
        else:
            gap = job.moved_by[place.name][0]
            gap_name = gap.name
            gaps.append(gap)
        places.append(place)
        options.append(PlaceOptions(place.name, gap_name, tuple(map(fleet.option, reach[at].tolist()))))
        columns += reach[at].tolist()
    names = {gap.name for gap in gaps}
    balances = tuple(
        balance for c in free.tolist() if int(fleet.start[c]) not in fleet.listed for balance in fleet.balances[c]
    )
    installed = [0] * len(job.stock)
    for place in places:
        for i in place.installed:
            installed[i] += 1
    stock = tuple(
        replace(line, on_hand=left[i] - installed[i]) if i in left else replace(line, on_hand=10**9)
        for i, line in enumerate(job.stock)
    )
    if not all(set(balance.gaps) <= names for balance in balances):
        raise FaultError("a part of a job has a balance of gaps outside it")
    return (Job(job.title, job.unit, tuple(gaps), tuple(places), balances, stock, job.priority), options, columns)
