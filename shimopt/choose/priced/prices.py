"""What the drawer's pieces are worth: prices brought up and down until the bound that they give stands still.

The prices of one level come from a linear program that mixes choices found so far (`master`); at these prices every
cluster's cheapest choice gives a true bound and one more choice to mix (`pricing`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from shimopt.choose.priced.fleet import LEVELS, Fleet
from shimopt.choose.priced.master import Master, Mixed
from shimopt.choose.priced.members import FAR
from shimopt.choose.priced.pricing import Pricer
from shimopt.choose.priced.tables import Ints
from shimopt.errors import FaultError
from shimopt.watch import Watch

# prices in whole numbers: so many to one unit of the level, fewer where costs would run over
_FINE = 1 << 20
_COARSER = 16
_GROUPS = 40
_MOST_ROUNDS = 150
# of the choices found so many of the last are kept for the next level, and those that the mix takes
_RECENT = 12
# a level of very many steps of its unit need not be settled to the last of them: one part in so many is as good
_CLOSE = 1_000_000


def near_enough(bound: int) -> int:
    """How far above its bound a level may stand and count as found: nothing, below so many ticks."""
    return bound // _CLOSE


@dataclass(frozen=True, slots=True)
class Prices:
    """Prices and the bound that they give.

    `lines` are prices of the scarce lines, `weights` those of all levels, in units of which `unit` make one of the
    level; `fine` the bound in these units; `worth` what a piece of each line is worth, in units of the level (floats).
    What the level can come to are whole multiples of `step`.
    """

    lines: Ints
    weights: Ints
    unit: int
    fine: int
    step: int
    worth: npt.NDArray[np.float64]

    @property
    def bound(self) -> int:
        """The least value that the level can come to and that is not below the bound."""
        return -(-self.fine // (self.unit * self.step)) * self.step

    def better_than(self, other: Prices | None) -> bool:
        """Whether these prices give a higher bound."""
        return other is None or self.fine * other.unit > other.fine * self.unit


class PriceSearch:
    """The search of all levels: choices found at one level are mixed again at the next.

    `groups` are the clusters of each group, `choices` by number one option per place.
    """

    def __init__(self, fleet: Fleet, pricer: Pricer) -> None:
        self.fleet, self.pricer = fleet, pricer
        clusters = np.arange(len(fleet.tied))
        count = min(len(clusters), _GROUPS)
        self.group_of = clusters % count
        self.groups = [clusters[self.group_of == group] for group in range(count)]
        self.choices: dict[int, Ints] = {}
        self.sums: dict[int, tuple[Ints, Ints]] = {}
        self.next = 0

    def take(self, other: PriceSearch) -> None:
        """Begin with what another search has found."""
        self.choices, self.sums, self.next = dict(other.choices), dict(other.sums), other.next

    def best(self, level: int, held: Mapping[int, int], plan: Ints, watch: Watch) -> tuple[Prices, Mixed | None]:
        """The best bound that was found for a level, and the mix that belongs to it.

        Parameters: held, the values that levels may not be above; plan, a choice that keeps to them.
        """
        limits = [*self.fleet.supply.tolist(), *held.values()]
        own = self._remember(plan)
        master = Master(len(self.groups), limits)
        for number in list(self.choices):
            self._add(master, number, level, list(held))
        best: Prices | None = None
        mixed: Mixed | None = None
        centre = np.zeros(len(limits))
        for _ in range(_MOST_ROUNDS):
            if best is not None and watch.over():
                break
            watch.spend(1)
            found = master.mixed()
            if found is None and best is not None:
                break
            if found is not None:
                mixed = found
                if best is not None and _closed(found.value, best):
                    break
                # half way between the best prices so far and the mix's own, which leap about
                tried = found.prices if best is None else (centre + found.prices) / 2
            else:
                tried = centre
            now, chosen = self._at(tried, level, list(held), limits)
            self._add(master, self._remember(chosen), level, list(held))
            if now.better_than(best):
                best, centre = now, tried
        taken = {number for mix in (mixed.taken if mixed else ()) for number, _ in mix}
        self._forget({own, *taken, *range(self.next - _RECENT, self.next)})
        if best is None:
            raise FaultError("the first round of prices gave no bound")
        return best, mixed

    def wavering(self) -> Ints:
        """The clusters for which the last choices differ."""
        last = [self.choices[number] for number in sorted(self.choices)[-_RECENT:]]
        differs = np.any([choice != last[0] for choice in last], axis=0)
        return np.flatnonzero(np.logical_or.reduceat(differs, self.fleet.start[:-1]))

    def _at(
        self, prices: npt.NDArray[np.float64], level: int, held: list[int], limits: list[int]
    ) -> tuple[Prices, Ints]:
        """The bound that prices of the limits give, exactly, and the cheapest choices."""
        lines = len(self.fleet.lines)
        unit = _FINE
        while True:
            whole = np.round(np.minimum(prices * unit, float(FAR))).astype(np.int64)
            weights = np.zeros(len(LEVELS), dtype=np.int64)
            weights[level] = unit
            weights[held] += whole[lines:]
            if self.pricer.dearest(whole[:lines], weights) < FAR // 4:
                break
            # any prices give a true bound: coarser ones, and in the end lower ones
            unit, prices = (unit // _COARSER, prices) if unit > 1 else (unit, prices / _COARSER)
        found = self.pricer.priced(whole[:lines], weights)
        fine = found.total - sum(price * limit for price, limit in zip(whole.tolist(), limits, strict=True))
        return Prices(whole[:lines], weights, unit, fine, self.fleet.steps[level], prices[:lines]), found.chosen

    def _remember(self, choice: Ints) -> int:
        amounts = self.fleet.contributions(choice)
        summed = [np.zeros((len(self.groups), one.shape[1]), dtype=np.int64) for one in amounts]
        for by_group, one in zip(summed, amounts, strict=True):
            np.add.at(by_group, self.group_of, one)
        self.choices[self.next] = choice
        self.sums[self.next] = (summed[0], summed[1])
        self.next += 1
        return self.next - 1

    def _forget(self, but: set[int]) -> None:
        self.choices = {number: choice for number, choice in self.choices.items() if number in but}
        self.sums = {number: summed for number, summed in self.sums.items() if number in but}

    def _add(self, master: Master, number: int, level: int, held: list[int]) -> None:
        uses, levels = self.sums[number]
        master.add(number, np.concatenate([uses, levels[:, held]], axis=1), levels[:, level])


def _closed(value: float, best: Prices) -> bool:
    """Whether better prices could hardly raise the bound by anything that counts; no prices bring it above the mix."""
    return best.bound + near_enough(best.bound) >= value - max(1e-6, value * 1e-9)
