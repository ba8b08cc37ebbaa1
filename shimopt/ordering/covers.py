"""Covers: sets of pieces from which a stack can be made for every reading of a gap's range.

With a price on every piece, `Covers.within` lists all covers that cost no more than so much, less those that hold
another. It builds them up stack by stack: whatever a set of pieces serves from the low end on, any cover that holds it
must hold a stack that serves the reading where it stops. Prices are whole numbers and no price is below zero, so
nothing is missed. Sets are rows of zeros and ones over units: the first piece of a line, the second, and so on.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from shimopt.arithmetic.clearance import Stack
from shimopt.ordering.coverage import Coverage

NO_COVER = 1 << 62

_Bools = npt.NDArray[np.bool_]
_Numbers = npt.NDArray[np.float64]

# sums of prices stay whole in floats below this
_WHOLE = 1 << 52
# so many sets are grown at once that sets times stacks times units is no more than this: a matter of memory
_AT_ONCE = 1 << 23


class Prices(NamedTuple):
    """What a gap's pieces cost, by line: the first of a line, and each further one. Whole numbers, none below zero.

    `had` is how many of a line can be had; where it names none, there is no end to them.
    """

    first: Mapping[int, int]
    further: Mapping[int, int]
    had: Mapping[int, int] = MappingProxyType({})

    def of_unit(self, line: int, k: int) -> int | None:
        """The price of the k-th piece of a line, counted from 0; None where it cannot be had."""
        if k >= self.had.get(line, k + 1):
            return None
        return self.further[line] if k else self.first[line]

    def of(self, cover: Stack) -> int:
        """The price of a set of pieces that can be had."""
        return sum(self.further[line] for line in cover) + sum(
            self.first[line] - self.further[line] for line in set(cover)
        )


class _Table(NamedTuple):
    """Stacks as rows over units, which readings each serves, and what each unit costs."""

    holds: _Numbers
    starts: npt.NDArray[np.int64]
    ends: npt.NDArray[np.int64]
    costs: _Numbers

    def affordable(self, most: int) -> tuple[_Table, npt.NDArray[np.int64]]:
        """The stacks that cost no more than `most`, over the units that they hold: these are told too."""
        stacks = self.holds @ self.costs <= most
        units = np.flatnonzero(self.holds[stacks].any(axis=0))
        holds = self.holds[np.ix_(stacks, units)]
        return _Table(holds, self.starts[stacks], self.ends[stacks], self.costs[units]), units

    def reached(self, sets: _Numbers, low: int, high: int) -> tuple[npt.NDArray[np.int64], _Bools]:
        """Up to which reading each set of pieces serves without a hole, and whether that is all of them."""
        can = sets @ self.holds.T >= self.holds.sum(axis=1)
        # stacks stand in the order of their starts: what is served up to each, and where the first hole is
        served = np.maximum.accumulate(np.where(can, self.ends, low), axis=1)
        before = np.hstack([np.full((len(sets), 1), low), served])
        hole = np.hstack([can & (self.starts > before[:, :-1]), np.ones((len(sets), 1), np.bool_)])
        reached = before[np.arange(len(sets)), hole.argmax(axis=1)]
        # one reading alone must be served too
        touched = (can & (self.starts <= low) & (self.ends >= low)).any(axis=1)
        return reached, touched & (reached >= high)

    def grown(self, front: _Numbers, reached: npt.NDArray[np.int64], most: int, high: int) -> _Numbers:
        """Each set with every stack that serves the reading where it stops, as far as that costs no more."""
        shared = (front * self.costs) @ self.holds.T
        total = (front @ self.costs)[:, None] + self.holds @ self.costs - shared
        at = reached[:, None]
        # a stack that ends where the range ends serves what is left there, were it one reading
        goes_on = (self.starts <= at) & ((self.ends > at) | ((self.ends == at) & (at == high)))
        sets, stacks = np.nonzero(goes_on & (total <= most))
        return np.maximum(front[sets], self.holds[stacks])


class Covers:
    """The covers of one gap; `looked_at` counts the sets of pieces that were looked at, `met` are covers of use."""

    def __init__(self, coverage: Coverage) -> None:
        # where nothing serves, what is in stays in
        needs = {(s.start, s.end, coverage.stays) for s in coverage.hopeless} | {
            (c.start, c.end, c.scarce) for c in coverage.candidates
        }
        stacks = [(start, end, Counter(pieces)) for start, end, pieces in sorted(needs)]
        self.units = sorted({(line, k) for _, _, counts in stacks for line, n in counts.items() for k in range(n)})
        at = {unit: number for number, unit in enumerate(self.units)}
        self._holds = np.zeros((len(stacks), len(self.units)), dtype=np.float64)
        for number, (_, _, counts) in enumerate(stacks):
            for line, n in counts.items():
                self._holds[number, [at[line, k] for k in range(n)]] = 1.0
        self._starts = np.array([start for start, _, _ in stacks], dtype=np.int64)
        self._ends = np.array([end for _, end, _ in stacks], dtype=np.int64)
        self.low, self.high = coverage.low, coverage.high
        self.looked_at = 0
        self.met: set[Stack] = set()

    def meet(self, covers: Iterable[Stack]) -> None:
        """These covers were of use."""
        self.met.update(covers)

    def cheapest(self, prices: Prices, cap: int) -> tuple[int, list[Stack]]:
        """What no cover costs less than, and the covers that cost just this: none where that takes too many sets.

        NO_COVER where there is none at all.
        """
        table = self._table(prices)
        can = table.costs < NO_COVER
        everything = int(table.costs[can].sum())
        if everything >= _WHOLE:
            return 0, []
        had = table.holds @ ~can == 0
        stacks = table.holds @ np.where(can, table.costs, 0)
        # both ends of the range are served by some stack
        first, last = stacks[had & (table.starts <= self.low)], stacks[had & (table.ends >= self.high)]
        least = int(max(one.min() if len(one) else NO_COVER for one in (first, last)))
        most = least
        while most <= everything:
            found = self.within(prices, most, cap)
            if found is None:
                return least, []
            if found:
                least = min(cost for cost, _ in found)
                return least, [cover for cost, cover in found if cost == least]
            least = most + 1
            if most == everything:
                break
            # little by little: the number of sets grows fast
            most = min(everything, most + max(most // 8, everything // 64, 1))
        return NO_COVER, []

    def _table(self, prices: Prices) -> _Table:
        told = [prices.of_unit(line, k) for line, k in self.units]
        costs = np.array([NO_COVER if cost is None else cost for cost in told], dtype=np.float64)
        return _Table(self._holds, self._starts, self._ends, costs)

    def within(self, prices: Prices, most: int, cap: int) -> list[tuple[int, Stack]] | None:
        """All covers that cost no more than `most`, with their costs; None beyond `cap` sets looked at."""
        table, units = self._table(prices).affordable(most)
        if table.costs.sum() >= _WHOLE:
            return None
        front = np.zeros((1, len(units)))
        at_once = max(1, _AT_ONCE // max(1, table.holds.size))
        seen: set[bytes] = set()
        done: list[_Numbers] = []
        before = self.looked_at
        while len(front):
            new = []
            for start in range(0, len(front), at_once):
                some = front[start : start + at_once]
                reached, whole = table.reached(some, self.low, self.high)
                done.append(some[whole])
                new.append(_new(table.grown(some[~whole], reached[~whole], most, self.high), seen))
                self.looked_at += len(new[-1])
                if self.looked_at - before > cap:
                    return None
            front = np.vstack(new)
        sets = np.vstack(done)
        sets = sets[_least_sets(sets)]
        names = [self.units[unit][0] for unit in units]
        total = (sets @ table.costs).tolist()
        return [
            (int(cost), tuple(names[at] for at in np.flatnonzero(row))) for cost, row in zip(total, sets, strict=True)
        ]


def _new(sets: _Numbers, seen: set[bytes]) -> _Numbers:
    """The sets not seen before, each once."""
    kept = []
    for number, key in enumerate(np.packbits(sets.astype(np.bool_), axis=1)):
        name = key.tobytes()
        if name not in seen:
            seen.add(name)
            kept.append(number)
    return sets[kept]


def _least_sets(sets: _Numbers) -> npt.NDArray[np.int64]:
    """The sets that hold no other of them, in a set order; all of them differ."""
    sizes = sets.sum(axis=1)
    kept = np.zeros(0, dtype=np.int64)
    for size in np.unique(sizes):
        alike = np.flatnonzero(sizes == size)
        alike = alike[np.lexsort(sets[alike].T)] if sets.shape[1] else alike
        holds = (sets[alike] @ sets[kept].T >= sizes[kept]).any(axis=1)
        kept = np.concatenate([kept, alike[~holds]])
    return kept
