"""The jobs between two deliveries, drawn from what a shop had to do, and how many of them a kit of parts serves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import comb, factorial, prod
from random import Random
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from shimopt.learning.needs import Need, Pieces

Kit = tuple[int, ...]
# many of them, a row each
Kits = npt.NDArray[np.int32]
# seasons that are gone through one by one rather than drawn
_FEW_SEASONS, _FEW_ORDERS = 1_500, 20_000
_MOST_KNOWN = 300_000


class Season(NamedTuple):
    """Jobs by their numbers, one after another as they come, and how often seasons like it come up."""

    jobs: tuple[int, ...]
    weight: int = 1


def drawn(needs: int, jobs: int, seasons: int, seed: int) -> list[Season]:
    """Seasons of so many jobs, each job like any of those that were, independent of the others."""
    random = Random(seed)
    return [Season(tuple(random.choices(range(needs), k=jobs))) for _ in range(seasons)]


def all_mixes(needs: int, jobs: int) -> list[Season] | None:
    """Every mix of jobs that a season may hold, with in how many orders it may come; None where there are too many."""
    if comb(needs + jobs - 1, jobs) > _FEW_SEASONS:
        return None
    return [Season(mix, _orders(mix)) for mix in _mixes(needs, jobs)]


def all_orders(needs: int, jobs: int) -> list[Season] | None:
    """Every season, order by order; None where there are too many."""
    return None if needs**jobs > _FEW_ORDERS else [Season(jobs) for jobs in product(range(needs), repeat=jobs)]


def _mixes(needs: int, jobs: int) -> Iterator[tuple[int, ...]]:
    from itertools import combinations_with_replacement

    return combinations_with_replacement(range(needs), jobs)


def _orders(mix: Sequence[int]) -> int:
    return factorial(len(mix)) // prod(factorial(mix.count(one)) for one in set(mix))


class OneByOne:
    """Serves the jobs of a season one after another, each with the fewest pieces that are left for it, none kept back.

    A job is served where all its gaps are, and else takes nothing. What a job leaves of what there was is looked up,
    for with many kits and seasons it comes up often.
    """

    def __init__(self, needs: Sequence[Need]) -> None:
        self._needs = needs
        self._left: dict[tuple[int, Kit], Kit | None] = {}

    def served(self, kit: Kit, season: Season) -> int:
        """How many jobs of a season a kit serves."""
        known, left, served = self._left, kit, 0
        for number in season.jobs:
            key = number, left
            if key not in known:
                if len(known) > _MOST_KNOWN:
                    known.clear()
                taken = fewest(self._needs[number].gaps, left)
                known[key] = None if taken is None else tuple(n - taken.count(part) for part, n in enumerate(left))
            if (then := known[key]) is not None:
                served, left = served + 1, then
        return served


def fewest(gaps: Sequence[Sequence[Pieces]], left: Sequence[int]) -> Pieces | None:
    """The fewest pieces that serve all gaps from what is left, of as few the first; None where nothing does.

    >>> fewest([[(0,), (1, 1)], [(0,)]], [1, 2])
    (1, 1, 0)
    """
    best: Pieces | None = None
    counts = list(left)
    gaps = [[one for one in stacks if all(counts[part] >= one.count(part) for part in one)] for stacks in gaps]
    if not all(gaps):
        return None
    # what the gaps from each on take at least
    ahead = [0]
    for stacks in reversed(gaps):
        ahead.append(ahead[-1] + min(map(len, stacks), default=0))
    ahead.reverse()

    def take(gap: int, taken: Pieces) -> None:
        nonlocal best
        if best is not None and len(taken) + ahead[gap] >= len(best):
            return
        if gap == len(gaps):
            best = taken
            return
        for stack in gaps[gap]:
            if best is not None and len(taken) + len(stack) + ahead[gap + 1] >= len(best):
                continue
            for part in stack:
                counts[part] -= 1
            if all(counts[part] >= 0 for part in stack):
                take(gap + 1, taken + stack)
            for part in stack:
                counts[part] += 1

    take(0, ())
    return best


class ManySeasons:
    """Seasons whose jobs have one gap each at most, told for one kit after another, all seasons at once.

    `slots` holds, by job and stack, the parts it takes, one beyond the last for none, and `ranks` how many of a part
    there must be for each.
    """

    def __init__(self, needs: Sequence[Need], seasons: Sequence[Season], parts: int) -> None:
        self.jobs = np.array([season.jobs for season in seasons], np.int64)
        self.weights = np.array([season.weight for season in seasons], np.int64)
        self.parts = parts
        stacks = [need.gaps[0] if need.gaps else ((),) for need in needs]
        most, deep = max(map(len, stacks)), max((len(one) for of in stacks for one in of), default=0) or 1
        self.slots = np.full((len(needs), max(most, 1), deep), parts, np.int64)
        self.ranks = np.ones_like(self.slots)
        self.real = np.zeros((len(needs), max(most, 1)), bool)
        for number, of in enumerate(stacks):
            for at, stack in enumerate(of):
                self.real[number, at] = True
                self.slots[number, at, : len(stack)] = stack
                self.ranks[number, at, : len(stack)] = [stack[: k + 1].count(part) for k, part in enumerate(stack)]

    def served(self, kit: Kit) -> float:
        """How many jobs of a season are served, on average."""
        left = np.tile(np.array([*kit, 1 << 30], np.int64), (len(self.jobs), 1))
        rows, served = np.arange(len(self.jobs)), np.zeros(len(self.jobs), np.int64)
        for jobs in self.jobs.T:
            slots, enough = self.slots[jobs], self.real[jobs]
            there = left[rows[:, None, None], slots] >= self.ranks[jobs]
            can = enough & there.all(axis=2)
            first, any_can = can.argmax(axis=1), can.any(axis=1)
            served += any_can
            for slot in slots[rows, first].T:
                left[rows, slot] -= any_can
        return float((served * self.weights).sum() / self.weights.sum())


def served_by_each(needs: Sequence[Need], kits: Kits, seasons: Sequence[Season]) -> npt.NDArray[np.int64]:
    """How many jobs of all these seasons each of many kits serves, where jobs have one gap each at most."""
    served = np.zeros(len(kits), np.int64)
    for season in seasons:
        left = kits.T.copy()
        for number in season.jobs:
            waits = np.ones(len(kits), bool)
            for stack in needs[number].gaps[0] if needs[number].gaps else ((),):
                can = waits.copy()
                counts = [(part, stack.count(part)) for part in dict.fromkeys(stack)]
                for part, count in counts:
                    can &= left[part] >= count
                for part, count in counts:
                    left[part] -= can.astype(np.int32) * np.int32(count)
                waits &= ~can
            served += ~waits
    return served


def used_without_end(needs: Sequence[Need], parts: int) -> list[int]:
    """How many of each part all these jobs would take, each its first stacks, if nothing ever ran out."""
    used = [0] * parts
    for need in needs:
        for stacks in need.gaps:
            for part in stacks[0] if stacks else ():
                used[part] += 1
    return used


def average(values: Sequence[float]) -> tuple[float, float]:
    """The mean, and its standard error."""
    found: npt.NDArray[np.float64] = np.array(values, float)
    return float(found.mean()), float(found.std(ddof=1) / len(found) ** 0.5) if len(found) > 1 else 0.0
