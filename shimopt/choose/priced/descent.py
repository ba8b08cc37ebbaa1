"""Level after level for a large job: the best bound that prices give, then a plan as near to it as can be found."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from time import monotonic

import numpy as np
import numpy.typing as npt

from shimopt.arithmetic.clearance import Stack
from shimopt.choose.priced.fleet import LEVELS, Fleet
from shimopt.choose.priced.master import Mixed
from shimopt.choose.priced.mixing import Settled, settled
from shimopt.choose.priced.prices import Prices, PriceSearch, near_enough
from shimopt.choose.priced.pricing import Pricer
from shimopt.choose.priced.rounding import chosen_exactly
from shimopt.choose.priced.spare import within_reach
from shimopt.choose.priced.tables import Ints

__all__ = ["PricedDescent", "PricedStep"]

# so many clusters are chosen exactly, with so many search nodes; more where that does not come near the bound
_TRIES = ((24, 50), (60, 100), (150, 200))
# then, a few times, as many clusters as this in which plan and mix differ, with options further and further off
_MOVED, _NODES, _WIDER = 60, 50, (4, 16, 64, 4096)


@dataclass(frozen=True, slots=True)
class PricedStep:
    """A level's value and bound in whole numbers."""

    level: str
    value: int
    bound: int
    seconds: float


class PricedDescent:
    """A plan that gets better level by level.

    `plan` is one option per place, at first to leave all as it is; `worth` says by level what a piece of each scarce
    line is worth there.
    """

    def __init__(
        self, fleet: Fleet, progress: Callable[[str], None] | None = None, pricer: Pricer | None = None
    ) -> None:
        self.fleet, self.progress = fleet, progress
        self.pricer = Pricer(fleet) if pricer is None else pricer
        self.search = PriceSearch(fleet, self.pricer)
        self.plan: Ints = fleet.tables.first[fleet.kind]
        self.held: dict[int, int] = {}
        self.worth: dict[str, npt.NDArray[np.float64]] = {}

    def level(self, name: str) -> PricedStep:
        """Bring one level down and hold it there."""
        start = monotonic()
        if self.progress:
            self.progress(name)
        at = LEVELS.index(name)
        value, bound = self._least(at)
        self.held[at] = value
        return PricedStep(name, value, bound, monotonic() - start)

    def tried(self, fleet: Fleet, level: str, held: Mapping[str, int]) -> int:
        """What a level comes to with another supply, from the plan as it stands; `held` are the levels above it."""
        trial = PricedDescent(fleet, pricer=self.pricer)
        trial.plan, trial.held = self.plan, {LEVELS.index(name): value for name, value in held.items()}
        trial.search.choices, trial.search.sums = dict(self.search.choices), dict(self.search.sums)
        trial.search.next = self.search.next
        return trial._least(LEVELS.index(level))[0]

    def values(self) -> dict[str, int]:
        """What every level comes to now."""
        return dict(zip(LEVELS, self.fleet.contributions(self.plan)[1].sum(axis=0).tolist(), strict=True))

    def stacks(self) -> dict[str, Stack]:
        """The stack of every place, in the order of the job."""
        tables, job = self.fleet.tables, self.fleet.job
        rows = np.empty(len(self.plan), dtype=np.int64)
        rows[self.fleet.places] = tables.row[self.plan]
        return {place.name: tables.stacks[row] for place, row in zip(job.places, rows.tolist(), strict=True)}

    def _value(self, level: int, plan: Ints) -> int:
        return int(self.fleet.contributions(plan)[1][:, level].sum())

    def _least(self, level: int) -> tuple[int, int]:
        """The level's value and a bound; `plan` is brought down with it."""
        value = self._value(level, self.plan)
        weights = np.zeros(len(LEVELS), dtype=np.int64)
        weights[level] = 1
        # without prices: every cluster at its own least
        bound = self.pricer.priced(np.zeros(len(self.fleet.lines), dtype=np.int64), weights).total
        if bound < value:
            best, mixed = self.search.best(level, self.held, self.plan)
            self.worth[LEVELS[level]] = best.worth
            bound = max(bound, best.bound)
            if mixed is not None and bound < value:
                self._round(level, best, mixed, bound)
        return self._value(level, self.plan), bound

    def _round(self, level: int, best: Prices, mixed: Mixed, bound: int) -> None:
        """Bring the plan as near to the bound as can be found."""
        limits = [*self.fleet.supply.tolist(), *self.held.values()]
        mix = settled(self.fleet, self.search.groups, mixed.taken, self.search.choices, level, limits, list(self.held))
        good = near_enough(level, bound)
        for few, nodes in _TRIES:
            free = self._free(mix, few)
            reach = self._reach(best, mix, free, bound + good)
            self._take(level, chosen_exactly(self.fleet, mix.plan, free, reach, level, self.held, bound, 0, nodes))
            if self._value(level, self.plan) <= bound + good:
                return
        for turn, wider in enumerate(_WIDER):
            moved = np.flatnonzero(np.logical_or.reduceat(self.plan != mix.plan, self.fleet.start[:-1]))
            step = max(1, len(moved) // _MOVED)
            free = np.union1d(moved[turn % step :: step], self._free(mix, _TRIES[0][0]))
            value = self._value(level, self.plan)
            reach = self._reach(best, mix, free, min(bound + good * wider, value))
            self._take(level, chosen_exactly(self.fleet, self.plan, free, reach, level, self.held, bound, good, _NODES))
            if self._value(level, self.plan) <= bound + good:
                return

    def _reach(self, best: Prices, mix: Settled, free: Ints, value: int) -> dict[int, Ints]:
        """By place, what a plan of this value could hold there at all, and what plan and mix hold there now."""
        reach = within_reach(self.pricer, best.lines, best.weights, free, value * best.unit - best.fine)
        return {place: np.union1d(options, [self.plan[place], mix.plan[place]]) for place, options in reach.items()}

    def _free(self, mix: Settled, few: int) -> Ints:
        """The split clusters, and neighbours until there are enough.

        First those in which plan and mix differ at the levels held, for these are what a plan has to keep to; then
        those that were torn, then those about which pricing wavered, then any.
        """
        apart = self.fleet.contributions(self.plan)[1] != self.fleet.contributions(mix.plan)[1]
        differ = [np.flatnonzero(apart[:, level]) for level in self.held]
        free = mix.split
        for others in (*differ, mix.torn, self.search.wavering(), np.arange(len(self.fleet.tied))):
            wanted = max(0, few - len(free))
            others = np.setdiff1d(others, free)
            free = np.concatenate([free, others[:: max(1, len(others) // max(1, wanted))][:wanted]])
        return np.sort(free)

    def _take(self, level: int, found: Ints | None) -> None:
        """Go on with a plan if it is better and keeps to supply and held levels, in exact numbers."""
        if found is None:
            return
        uses, levels = self.fleet.contributions(found)
        holds = bool((uses.sum(axis=0) <= self.fleet.supply).all()) and all(
            int(levels[:, other].sum()) <= value for other, value in self.held.items()
        )
        if holds and int(levels[:, level].sum()) < self._value(level, self.plan):
            self.plan = found
