"""Level after level for a large job: prices until the bound stands still, then a plan as near to it as can be found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from time import monotonic

import numpy as np

from shimopt.check.arithmetic import Stack
from shimopt.choose.priced.fleet import LEVELS, Fleet
from shimopt.choose.priced.master import Master, Mixed
from shimopt.choose.priced.mixing import Settled, settled
from shimopt.choose.priced.pricing import Pricer
from shimopt.choose.priced.rounding import chosen_exactly
from shimopt.choose.priced.spare import within_reach
from shimopt.choose.priced.tables import Ints

__all__ = ["PricedDescent", "PricedStep"]

_FINE = 1 << 20
_LARGEST = 1 << 56
_GROUPS = 40
_MOST_ROUNDS = 150
_RECENT = 12
_TRIES = ((24, 50, 1), (60, 100, 1), (150, 200, 1))
_TURNS = 4
_MOVED = 60
_WIDER = 4
_CLOSE = {"miss": 1000, "doubt": 1000, "excess": 1000, "spread": 2000, "target": 2000}


@dataclass(frozen=True, slots=True)
class PricedStep:
    """A level's value and bound in whole numbers."""

    level: str
    value: int
    bound: int
    seconds: float


@dataclass(slots=True)
class _Prices:
    """The prices at which the best bound was found: of the scarce lines, weights of all levels, and the bound [fine]."""

    prices: Ints
    weights: Ints
    fine: int
    unit: int
    shadow: np.ndarray = field(default_factory=lambda: np.zeros(0))

    @property
    def bound(self) -> int:
        return -(-self.fine // self.unit)


class PricedDescent:
    """A plan that gets better level by level. `plan` is one option per place, at first to leave all as it is."""

    def __init__(
        self, fleet: Fleet, progress: Callable[[str], None] | None = None, pricer: Pricer | None = None
    ) -> None:
        self.fleet, self.progress = fleet, progress
        self.pricer = Pricer(fleet) if pricer is None else pricer
        self.plan: Ints = fleet.tables.first[fleet.kind]
        clusters = np.arange(len(fleet.tied))
        count = min(len(clusters), _GROUPS)
        self.group_of = clusters % count
        self.groups = [clusters[self.group_of == group] for group in range(count)]
        self.held: dict[int, int] = {}
        self.choices: dict[int, Ints] = {}
        self.sums: dict[int, tuple[Ints, Ints]] = {}
        self.next = 0
        self.shadow: dict[str, np.ndarray] = {}

    def level(self, name: str) -> PricedStep:
        """Bring one level down and hold it there."""
        start = monotonic()
        if self.progress:
            self.progress(name)
        at = LEVELS.index(name)
        value, bound = self._least(at)
        self.held[at] = value
        return PricedStep(name, value, bound, monotonic() - start)

    def value(self, at: int) -> int:
        return int(self.fleet.contributions(self.plan)[1][:, at].sum())

    def tried(self, fleet: Fleet, level: str, held: dict[int, int]) -> int:
        """What a level comes to with another supply, from the plan as it stands; `held` are the levels above it."""
        trial = PricedDescent(fleet, pricer=self.pricer)
        trial.plan, trial.held = self.plan, dict(held)
        trial.choices, trial.sums, trial.next = dict(self.choices), dict(self.sums), self.next
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

    def _least(self, at: int) -> tuple[int, int]:
        value = self.value(at)
        weights = np.zeros(len(LEVELS), dtype=np.int64)
        weights[at] = 1
        alone = self.pricer.priced(np.zeros(len(self.fleet.lines), dtype=np.int64), weights)
        bound = int(alone.cost.sum())
        if bound == value:
            return value, value
        best, mixed = self._priced(at)
        bound = max(bound, best.bound)
        if mixed is not None and bound < value:
            self._rounded(at, best, mixed, bound)
        return self.value(at), bound

    def _remember(self, choice: Ints) -> int:
        uses, levels = self.fleet.contributions(choice)
        count = len(self.groups)
        summed = []
        for amounts in (uses, levels):
            by_group = np.zeros((count, amounts.shape[1]), dtype=np.int64)
            np.add.at(by_group, self.group_of, amounts)
            summed.append(by_group)
        self.choices[self.next] = choice.astype(np.int32)
        self.sums[self.next] = (summed[0], summed[1])
        self.next += 1
        return self.next - 1

    def _priced(self, at: int) -> tuple[_Prices, Mixed | None]:
        """The best bound, and the mix that belongs to it."""
        fleet = self.fleet
        held = list(self.held)
        limits = [*fleet.supply.tolist(), *self.held.values()]
        own = self._remember(self.plan)
        master = Master(len(self.groups), limits)

        def add(number: int) -> None:
            uses, levels = self.sums[number]
            master.add(number, np.concatenate([uses, levels[:, held]], axis=1), levels[:, at])

        for number in list(self.choices):
            add(number)
        best: _Prices | None = None
        centre: np.ndarray | None = None
        mixed: Mixed | None = None
        close = _CLOSE.get(LEVELS[at], 0)
        for _ in range(_MOST_ROUNDS):
            found = master.mixed()
            if found is None:
                break
            mixed = found
            if best is not None and self._near(found.value, best, close):
                break
            at_prices = found.prices if centre is None else (centre + found.prices) / 2
            now, chosen = self._bound(at, held, limits, at_prices)
            add(self._remember(chosen))
            if best is None or now.fine * best.unit > best.fine * now.unit:
                best, centre = now, at_prices
        active = {number for mix in (mixed.taken if mixed else ()) for number, _ in mix}
        keep = active | {own} | set(range(self.next - _RECENT, self.next))
        self.choices = {n: c for n, c in self.choices.items() if n in keep}
        self.sums = {n: c for n, c in self.sums.items() if n in keep}
        assert best is not None
        self.shadow[LEVELS[at]] = best.shadow
        return best, mixed

    def _near(self, value: float, best: _Prices, close: int) -> bool:
        low = best.fine / best.unit
        return value - low < 1e-6 or best.bound >= value - 1e-6 or (close > 0 and value - low < value / close / 4)

    def _bound(self, at: int, held: list[int], limits: list[int], prices: np.ndarray) -> tuple[_Prices, Ints]:
        """The bound that these prices give, exactly, and the cheapest choices."""
        fleet = self.fleet
        unit = _FINE
        while True:
            whole = np.round(np.minimum(prices, 2.0**40) * unit).astype(np.int64)
            weights = np.zeros(len(LEVELS), dtype=np.int64)
            weights[at] = unit
            for level, price in zip(held, whole[len(fleet.lines) :], strict=True):
                weights[level] += price
            lines = whole[: len(fleet.lines)]
            if self.pricer.dearest(lines, weights) < _LARGEST or unit == 1:
                break
            unit //= 16
        found = self.pricer.priced(lines, weights)
        fine = found.total - sum(int(p) * limit for p, limit in zip(whole.tolist(), limits, strict=True))
        return _Prices(lines, weights, fine, unit, prices[: len(fleet.lines)]), found.chosen

    def _rounded(self, at: int, best: _Prices, mixed: Mixed, bound: int) -> None:
        """Bring the plan as near to the bound as can be found."""
        fleet = self.fleet
        limits = [*fleet.supply.tolist(), *self.held.values()]
        mix = settled(fleet, self.groups, mixed.taken, self.choices, at, limits, list(self.held))
        close = _CLOSE.get(LEVELS[at], 0)
        gap = bound // close if close else 0
        good = max(bound + 1, bound + gap)
        for few, nodes, wider in _TRIES:
            free = self._free(mix, few)
            reach = self._reach(best, mix, free, bound + (good - bound) * wider)
            self._take(chosen_exactly(fleet, mix.plan, free, reach, at, self.held, bound, 0, nodes), at)
            if self.value(at) <= good:
                return
        # from the plan as it stands towards the mix, where they differ
        for turn in range(_TURNS):
            moved = np.flatnonzero(np.add.reduceat(self.plan != mix.plan, fleet.start[:-1]))
            step = max(1, len(moved) // _MOVED)
            free = np.union1d(moved[turn % step :: step], mix.split)
            reach = self._reach(best, mix, free, bound + (good - bound) * _WIDER)
            self._take(chosen_exactly(fleet, self.plan, free, reach, at, self.held, bound, gap, 50), at)
            if self.value(at) <= good:
                return

    def _reach(self, best: _Prices, mix: Settled, free: Ints, value: int) -> dict[int, Ints]:
        """By place, what a plan of this value could hold there at all, and what plan and mix hold there now."""
        reach = within_reach(self.pricer, best.prices, best.weights, free, value * best.unit - best.fine)
        return {place: np.union1d(options, [self.plan[place], mix.plan[place]]) for place, options in reach.items()}

    def _take(self, found: Ints | None, at: int) -> None:
        """Go on with a plan if it is better and keeps to all that is held."""
        if found is not None and self._holds(found):
            value = int(self.fleet.contributions(found)[1][:, at].sum())
            if value < self.value(at):
                self.plan = found

    def _free(self, mix: Settled, few: int) -> Ints:
        """The split clusters, and neighbours until there are enough.

        First those about which plan and mix differ at the levels held, for these are what a plan has to keep to; then
        those that were torn, then those that pricing was undecided about, then any.
        """
        fleet, count = self.fleet, len(self.fleet.tied)
        apart = fleet.contributions(self.plan)[1] != fleet.contributions(mix.plan)[1]
        order = [np.flatnonzero(apart[:, at]) for at in self.held]
        recent = [self.choices[number] for number in sorted(self.choices)[-_RECENT:]]
        wavering = np.zeros(len(fleet.kind), dtype=bool)
        for choice in recent:
            wavering |= choice != recent[0]
        undecided = np.flatnonzero(np.add.reduceat(wavering, fleet.start[:-1]))
        free = mix.split
        for others in (*order, mix.torn, undecided, np.arange(count)):
            wanted = max(0, few - len(free))
            others = np.setdiff1d(others, free)
            step = max(1, len(others) // max(1, wanted))
            free = np.concatenate([free, others[::step][:wanted]])
        return np.sort(free)

    def _holds(self, plan: Ints) -> bool:
        """Whether a plan keeps within the supply and every level held so far, in exact numbers."""
        uses, levels = self.fleet.contributions(plan)
        return bool((uses.sum(axis=0) <= self.fleet.supply).all()) and all(
            int(levels[:, at].sum()) <= value for at, value in self.held.items()
        )
