"""Level after level for a large job: the best bound that prices give, then a plan as near to it as can be found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import prod
from time import monotonic

import numpy as np
import numpy.typing as npt

from shimopt.arithmetic.clearance import Stack
from shimopt.choose.priced.fleet import LEVELS, Fleet
from shimopt.choose.priced.master import Mixed
from shimopt.choose.priced.mixing import Settled, settled
from shimopt.choose.priced.options_near_bound import PricedOptions, priced_options, within_reach
from shimopt.choose.priced.prices import Prices, PriceSearch, near_enough
from shimopt.choose.priced.pricing import Pricer
from shimopt.choose.priced.rounding import part_of, places_of
from shimopt.choose.priced.tables import Ints
from shimopt.choose.spread_ranges import MANY_GAPS
from shimopt.proof.proven import Proof, proof_of
from shimopt.watch import Watch

# so many clusters are chosen exactly, with so many search nodes; more where that does not come near the bound
_TRIES = ((24, 50), (60, 100), (150, 200))
# then, a few times, as many clusters as this in which plan and mix differ, with options further and further off
_MOVED, _NODES, _WIDER = 60, 50, (4, 16, 64, 4096)
# no more tries after so many that brought nothing
_IN_VAIN = 2
# what a better plan could hold is closed where it is so little: clusters to look at, options that are left
_MOST_CLUSTERS, _MOST_LEFT, _CLOSING_STEPS = 3_000, 700, 200
# so few options left, where most of the job is open, are handed to the whole way: before a try, and after one
_FEW_HANDED_OVER, _MOST_HANDED_OVER = 400, 2_500
# of many places only where what is left makes no more combinations
_FEW_PLACES, _MOST_COMBINATIONS = 40, 300_000
# so many options may be left where the whole way goes range by range
MOST_BY_RANGES = 40_000
# of a job with so many at first it is not even asked
_ASKED_ABOUT = 200_000


@dataclass(frozen=True, slots=True)
class PricedStep:
    """A level's value and bound in whole numbers, and how far it is proven where all above it are."""

    level: str
    value: int
    bound: int | None
    proof: Proof
    seconds: float


class PricedDescent:
    """A plan that gets better level by level.

    `plan` is one option per place, at first to leave all as it is; `worth` says by level what a piece of each scarce
    line is worth there.
    """

    def __init__(self, fleet: Fleet, watch: Watch | None = None, pricer: Pricer | None = None) -> None:
        self.fleet, self.watch = fleet, watch or Watch()
        self.pricer = Pricer(fleet) if pricer is None else pricer
        self.search = PriceSearch(fleet, self.pricer)
        self.options = int(np.diff(fleet.tables.first)[fleet.kind].sum())
        self.plan: Ints = fleet.tables.first[fleet.kind]
        self.held: dict[int, int] = {}
        # by level looked at, what a plan as good can hold: prices, weights, and how much dearer than the cheapest
        self.reaches: list[tuple[Ints, Ints, int]] = []
        self.kept: list[npt.NDArray[np.bool_]] = []
        self.worth: dict[str, npt.NDArray[np.float64]] = {}
        self._last_near: tuple[Ints, Ints, PricedOptions] | None = None

    def level(self, name: str) -> PricedStep:
        """Bring one level down and hold it there."""
        start = monotonic()
        self.watch.begins(name)
        at = LEVELS.index(name)
        value, bound, proof = self._least(at)
        self.held[at] = value
        return PricedStep(name, value, bound, proof, monotonic() - start)

    def take(self, plan: Ints, held: Mapping[str, int]) -> None:
        """Go on from this plan, and hold these levels."""
        self.plan, self.held = plan, {LEVELS.index(name): value for name, value in held.items()}

    def back_to(self, levels: int) -> None:
        """Hold so many levels only, those looked at first; the plan stays."""
        self.held = dict([*self.held.items()][:levels])
        del self.reaches[levels:], self.kept[levels:]

    def tried(self, fleet: Fleet, level: str, held: Mapping[str, int]) -> int:
        """What a level comes to with another supply, from the plan as it stands; `held` are the levels above it."""
        trial = PricedDescent(fleet, self.watch, self.pricer)
        trial.take(self.plan, held)
        trial.search.take(self.search)
        return trial._least(LEVELS.index(level))[0]

    def values(self) -> dict[str, int]:
        """What every level comes to now."""
        return dict(zip(LEVELS, self.fleet.contributions(self.plan)[1].sum(axis=0).tolist(), strict=True))

    def stacks(self) -> dict[str, Stack]:
        """The stack of every place, in the order of the job."""
        return self.fleet.stacks(self.plan)

    def _value(self, level: int, plan: Ints) -> int:
        return int(self.fleet.contributions(plan)[1][:, level].sum())

    def _least(self, level: int) -> tuple[int, int, Proof]:
        """The level's value, a bound and a proof; `plan` is brought down with it."""
        value = self._value(level, self.plan)
        weights = np.zeros(len(LEVELS), dtype=np.int64)
        weights[level] = 1
        # without prices: every cluster at its own least
        free = np.zeros(len(self.fleet.lines), dtype=np.int64)
        bound = self.pricer.priced(free, weights).total
        if bound >= value or self.watch.over():
            self.reaches.append((free, weights, value - bound))
            return value, bound, proof_of(value, bound)
        if self.goes_by_ranges(level):
            # strikes nothing
            self.reaches.append((free, np.zeros_like(weights), 0))
            return value, bound, Proof.NONE
        best, mixed = self.search.best(level, self.held, self.plan, self.watch)
        self.worth[LEVELS[level]] = best.worth
        bound, proof = max(bound, best.bound), Proof.NONE
        if mixed is not None and bound < value:
            value, bound, proof = self._rounded(level, best, mixed, bound)
        self.reaches.append((best.lines, best.weights, value * best.unit - best.fine))
        return value, bound, proof if proof.proven else proof_of(value, bound)

    def left(self, levels: int) -> dict[int, Ints] | None:
        """By place, the options that a plan as good as this one at the first so many levels can hold.

        None where there are too many clusters to look at.
        """
        if len(self.fleet.tied) > _MOST_CLUSTERS:
            return None
        prices, weights = np.zeros(len(self.fleet.lines), dtype=np.int64), np.zeros(len(LEVELS), dtype=np.int64)
        return self._near(prices, weights).taken(self._kept(levels))

    def _kept(self, levels: int) -> npt.NDArray[np.bool_]:
        """The same by option of every place, one place after the other."""
        for prices, weights, room in self.reaches[len(self.kept) : levels]:
            reach = self._near(prices, weights).above <= room
            self.kept.append(self.kept[-1] & reach if self.kept else reach)
        return self.kept[levels - 1] if levels else np.ones(self.options, dtype=bool)

    def _near(self, prices: Ints, weights: Ints) -> PricedOptions:
        # a level is looked at several times at the same prices
        last = self._last_near
        if last is None or last[0] is not prices or last[1] is not weights:
            found = priced_options(self.pricer, prices, weights, np.arange(len(self.fleet.tied)))
            self._last_near = last = (prices, weights, found)
        return last[2]

    def _rounded(self, level: int, best: Prices, mixed: Mixed, bound: int) -> tuple[int, int, Proof]:
        """Bring the plan as near to the bound as can be found, and close what is left in between where it is little."""
        limits = [*self.fleet.supply.tolist(), *self.held.values()]
        mix = settled(self.fleet, self.search.groups, mixed.taken, self.search.choices, level, limits, list(self.held))
        near = near_enough(bound)
        closed: tuple[int, Proof] | None = None
        in_vain = 0
        for turn in range(len(_TRIES) + len(_WIDER)):
            if self._value(level, self.plan) <= bound + near or in_vain > _IN_VAIN or self.watch.over():
                break
            if turn >= len(_TRIES) and (closed := self._closed(level, best, bound)) is not None:
                break
            if self._better_whole(level, best, _MOST_HANDED_OVER if turn else _FEW_HANDED_OVER):
                value = self._value(level, self.plan)
                return value, bound, proof_of(value, bound)
            before = self.plan
            self._turn(level, best, mix, bound, turn)
            in_vain = 0 if self.plan is not before else in_vain + 1
        if closed is None and bound + near < self._value(level, self.plan):
            closed = self._closed(level, best, bound)
        # closing may have found a better plan
        value = self._value(level, self.plan)
        if closed is None:
            return value, bound, proof_of(value, bound)
        bound, proof = max(bound, closed[0]), closed[1]
        return value, value if proof.proven else bound, proof

    def _turn(self, level: int, best: Prices, mix: Settled, bound: int, turn: int) -> None:
        """One try: at first some clusters of the mix, then some in which plan and mix differ."""
        near, step = near_enough(bound), self.fleet.steps[level]
        if turn < len(_TRIES):
            few, nodes = _TRIES[turn]
            plan, free, wider, good = mix.plan, self._free(mix, few), 1, 0
        else:
            at = turn - len(_TRIES)
            moved = np.flatnonzero(np.logical_or.reduceat(self.plan != mix.plan, self.fleet.start[:-1]))
            stride = max(1, len(moved) // _MOVED)
            free = np.union1d(moved[at % stride :: stride], self._free(mix, _TRIES[0][0]))
            plan, nodes, wider, good = self.plan, _NODES, _WIDER[at], near
        value = min(bound + max(near, step) * wider, max(bound, self._value(level, self.plan)))
        part = part_of(self.fleet, plan, free, self._reach(best, mix, free, value), self.held)
        if part is not None:
            with self.watch.part(nodes) as limit:
                self._take(level, part.chosen(level, bound, good, limit))

    def _closed(self, level: int, best: Prices, bound: int) -> tuple[int, Proof] | None:
        """A bound and a proof from all that a better plan could hold; None where that is too much to look at."""
        fleet, value = self.fleet, self._value(level, self.plan)
        free, reach = self._better(level, best)
        if reach is None or sum(len(reach[at]) for at in places_of(fleet, free)) > _MOST_LEFT:
            return None
        part = part_of(fleet, self.plan, free, reach, self.held) if len(free) else None
        if part is None:
            return value, Proof.EXACT
        with self.watch.part(_CLOSING_STEPS) as limit:
            plan, bound, proof = part.closed(level, bound, limit)
        self._take(level, plan)
        step = fleet.steps[level]
        return -(-bound // step) * step, proof

    def _better_whole(self, level: int, best: Prices, most: int) -> bool:
        """Whether what a better plan could hold is most of the job, and so little that the whole way is the sooner."""
        # half of the clusters open have as many options at least as there are clusters
        if self.options > _ASKED_ABOUT or len(self.fleet.tied) > most:
            return False
        free, reach = self._better(level, best)
        if reach is None or 2 * len(free) < len(self.fleet.tied):
            return False
        left = [[len(reach[at]) for at in places_of(self.fleet, free[at : at + 1])] for at in range(len(free))]
        # of balances of very many combinations prices know more than rows do
        listed = len(reach) <= _FEW_PLACES or sum(map(prod, left)) <= _MOST_COMBINATIONS
        return listed and sum(map(sum, left)) <= most

    def little_is_left(self, levels: int) -> bool:
        """Whether the options that a plan as good as this one at the first so many levels can hold are few."""
        if self.goes_by_ranges([*self.held][levels - 1]):
            return True
        return len(self.fleet.tied) <= _MOST_CLUSTERS and int(self._kept(levels).sum()) <= _MOST_HANDED_OVER

    def goes_by_ranges(self, level: int) -> bool:
        """Whether the whole way settles this level soon: how far the many gaps of the only balance are apart, none out.

        See `spread_ranges`.
        """
        fleet = self.fleet
        if LEVELS[level] != "spread" or self.held.get(LEVELS.index("outside")) != 0 or fleet.woven:
            return False
        sizes = [len(one.gaps) for of_cluster in fleet.balances for one in of_cluster]
        return len(sizes) == 1 and sizes[0] >= MANY_GAPS and int(self._kept(len(self.reaches)).sum()) <= MOST_BY_RANGES

    def _better(self, level: int, best: Prices) -> tuple[Ints, dict[int, Ints] | None]:
        """The clusters in which a better plan could differ, and by place what it could hold; None: too many of them."""
        fleet, value = self.fleet, self._value(level, self.plan)
        if len(fleet.tied) > _MOST_CLUSTERS:
            return np.zeros(0, dtype=np.int64), None
        found = self._near(best.lines, best.weights)
        reach = found.above <= (value - fleet.steps[level]) * best.unit - best.fine
        kept = reach & self._kept(len(self.reaches)) | found.held_by(self.plan)
        many = np.add.reduceat(kept, found.start[:-1], dtype=np.int64)
        return np.flatnonzero(np.maximum.reduceat(many, fleet.start[:-1]) > 1), found.taken(kept)

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
        if found is None or not self.fleet.keeps(found, self.held):
            return
        if self._value(level, found) < self._value(level, self.plan):
            self.plan = found
