"""Covers: sets of pieces from which a stack can be made for every reading of a gap's range.

With a price on every piece, `Covers.within` lists all covers that cost no more than so much, less those that hold
another. It builds them up stack by stack: whatever a set of pieces serves from the low end on, any cover that holds it
must hold a stack that serves the reading where it stops. Prices are whole numbers and no price is below zero, so
nothing is missed. Sets are rows of zeros and ones over units: the first piece of a line, the second, and so on.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from heapq import heappop, heappush
from itertools import count
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from shimopt.arithmetic.clearance import Stack
from shimopt.ordering.coverage import Coverage, Segment

NO_COVER = 1 << 62

_Bools = npt.NDArray[np.bool_]
_Numbers = npt.NDArray[np.float64]

# sums of prices stay whole in floats below this
_WHOLE = 1 << 52
# so many sets are grown at once that sets times stacks times units is no more than this: a matter of memory
_AT_ONCE = 1 << 23
# so many of the cheapest sets are looked at together
_AT_A_TIME = 12
# at so many readings it is asked what is still to come; of equally cheap covers so many are told
_READINGS, _MOST_ALIKE = 8, 10


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


class _Table:
    """Stacks as rows over units, which readings each serves, and what each unit costs.

    `each` has for every piece that a stack may have a row, with its unit by stack; one beyond the last is no piece.
    """

    def __init__(
        self, holds: _Numbers, starts: npt.NDArray[np.int64], ends: npt.NDArray[np.int64], costs: _Numbers
    ) -> None:
        self.holds, self.starts, self.ends, self.costs = holds, starts, ends, costs
        stacks, units = np.nonzero(holds)
        counts = np.bincount(stacks, minlength=len(holds))
        self.each = np.full((counts.max(initial=0), len(holds)), holds.shape[1])
        self.each[np.arange(len(stacks)) - (np.cumsum(counts) - counts)[stacks], stacks] = units

    def affordable(self, most: int) -> tuple[_Table, npt.NDArray[np.int64]]:
        """The stacks that cost no more than `most`, over the units that they hold: these are told too."""
        stacks = self.holds @ self.costs <= most
        units = np.flatnonzero(self.holds[stacks].any(axis=0))
        holds = self.holds[np.ix_(stacks, units)]
        return _Table(holds, self.starts[stacks], self.ends[stacks], self.costs[units]), units

    def reached(self, sets: _Numbers, low: int, high: int) -> tuple[npt.NDArray[np.int64], _Bools]:
        """Up to which reading each set of pieces serves without a hole, and whether that is all of them."""
        held = np.hstack([sets > 0, np.ones((len(sets), 1), np.bool_)])
        can = np.ones((len(sets), len(self.holds)), np.bool_)
        for units in self.each:
            can &= held[:, units]
        # stacks stand in the order of their starts: what is served up to each, and where the first hole is
        served = np.maximum.accumulate(np.where(can, self.ends, low), axis=1)
        before = np.hstack([np.full((len(sets), 1), low), served])
        hole = np.hstack([can & (self.starts > before[:, :-1]), np.ones((len(sets), 1), np.bool_)])
        reached = before[np.arange(len(sets)), hole.argmax(axis=1)]
        # one reading alone must be served too
        touched = (can & (self.starts <= low) & (self.ends >= low)).any(axis=1)
        return reached, touched & (reached >= high)

    def dearer_by(self, sets: _Numbers) -> _Numbers:
        """What each stack costs beside what each set has."""
        paid = np.hstack([(1 - sets) * self.costs, np.zeros((len(sets), 1))])
        dearer = np.zeros((len(sets), len(self.holds)))
        for units in self.each:
            dearer += paid[:, units]
        return dearer

    def at_least_to_come(self, dearer: _Numbers, reached: npt.NDArray[np.int64], high: int) -> _Numbers:
        """What the rest of the range costs each set at least: at each of some readings, its cheapest stack."""
        least = np.zeros(len(reached))
        low = int(reached.min(initial=high))
        for reading in {low + (high - low) * n // _READINGS for n in range(1, _READINGS + 1)}:
            serving = np.flatnonzero((self.starts <= reading) & (self.ends >= reading))
            here = dearer[:, serving].min(axis=1, initial=NO_COVER)
            least = np.where(reached < reading, np.maximum(least, here), least)
        return least

    def goes_on(self, reached: npt.NDArray[np.int64], high: int) -> _Bools:
        """Whether each stack serves the reading where each set stops."""
        at = reached[:, None]
        # a stack that ends where the range ends serves what is left there, were it one reading
        on: _Bools = (self.starts <= at) & ((self.ends > at) | ((self.ends == at) & (at == high)))
        return on

    def grown(self, front: _Numbers, reached: npt.NDArray[np.int64], most: int, high: int) -> _Numbers:
        """Each set with every stack that serves the reading where it stops, as far as that costs no more."""
        dearer, cost = self.dearer_by(front), front @ self.costs
        can = cost + self.at_least_to_come(dearer, reached, high) <= most
        total = cost[:, None] + dearer
        sets, stacks = np.nonzero(self.goes_on(reached, high) & (total <= most) & can[:, None])
        return np.maximum(front[sets], self.holds[stacks])


class Covers:
    """The covers of one gap; `looked_at` counts the sets of pieces that were looked at, `met` are covers of use."""

    def __init__(self, coverage: Coverage) -> None:
        # where nothing serves, what is in stays in
        needs = {(s.start, s.end, coverage.stays) for s in coverage.hopeless} | {
            (c.start, c.end, c.scarce) for c in coverage.candidates
        }
        stacks = [(start, end, Counter(pieces)) for start, end, pieces in sorted(needs)]
        units = sorted({(line, k) for _, _, counts in stacks for line, n in counts.items() for k in range(n)})
        at = {unit: number for number, unit in enumerate(units)}
        holds = np.zeros((len(stacks), len(units)), dtype=np.float64)
        for number, (_, _, counts) in enumerate(stacks):
            for line, n in counts.items():
                holds[number, [at[line, k] for k in range(n)]] = 1.0
        starts = np.array([start for start, _, _ in stacks], dtype=np.int64)
        ends = np.array([end for _, end, _ in stacks], dtype=np.int64)
        self._made_of(units, holds, starts, ends, Segment(coverage.low, coverage.high))

    @classmethod
    def of(
        cls,
        units: Sequence[tuple[int, int]],
        holds: _Numbers,
        starts: npt.NDArray[np.int64],
        ends: npt.NDArray[np.int64],
        readings: Segment,
    ) -> Covers:
        """The covers that stacks make: rows of `holds` over units, from and to which reading each serves, rising."""
        covers = cls.__new__(cls)
        covers._made_of(units, holds, starts, ends, readings)
        return covers

    def _made_of(
        self,
        units: Sequence[tuple[int, int]],
        holds: _Numbers,
        starts: npt.NDArray[np.int64],
        ends: npt.NDArray[np.int64],
        readings: Segment,
    ) -> None:
        self.units, self._holds, self._starts, self._ends = units, holds, starts, ends
        self.low, self.high = readings
        self.looked_at = 0
        self.met: set[Stack] = set()

    def meet(self, covers: Iterable[Stack]) -> None:
        """These covers were of use."""
        self.met.update(covers)

    def cheapest(self, prices: Prices, cap: int, below: int = NO_COVER) -> tuple[int, list[Stack]]:
        """What no cover costs less than, or `below`, and covers that cost as little as was found.

        None is told where none costs less than `below`; NO_COVER where there is none at all. The first of the two is
        less than what the covers cost where that takes more than `cap` sets.
        """
        table = self._table(prices)
        can = table.costs < NO_COVER
        if int(table.costs[can].sum()) >= _WHOLE:
            return 0, []
        # what costs nothing is had from the start: sets differ by what is paid for
        had = table.holds @ ~can == 0
        paid = np.flatnonzero(can & (table.costs > 0))
        table = _Table(table.holds[np.ix_(had, paid)], table.starts[had], table.ends[had], table.costs[paid])
        if below == NO_COVER:
            below = min(below, self._soon_found(table) + 1)
        some, units = table.affordable(below - 1)
        least, sets = self._searched(some, cap, below)
        full = np.zeros((len(sets), len(table.costs)))
        full[:, units] = np.array(sets).reshape(len(sets), len(units))
        return least, list(dict.fromkeys(self._furthest(had, one, table) for one in full))

    def _soon_found(self, table: _Table) -> int:
        """What a cover costs of which each stack is the one that costs least for what it serves."""
        one, at = np.zeros((1, len(table.costs))), np.array([self.low])
        while True:
            dearer, on = table.dearer_by(one)[0], np.flatnonzero(table.goes_on(at, self.high)[0])
            if not len(on):
                return NO_COVER - 1
            further = np.maximum(1, np.minimum(table.ends[on], self.high) - at[0])
            best = on[(dearer[on] / further).argmin()]
            one = np.maximum(one, table.holds[best])
            if table.ends[best] >= self.high:
                return int((one @ table.costs)[0])
            at = table.ends[[best]]

    def _searched(self, table: _Table, cap: int, below: int) -> tuple[int, list[_Numbers]]:
        """The cheapest sets of what is paid for, the one that could end cheapest first."""
        best, found = below, list[_Numbers]()
        start = np.zeros((1, len(table.costs)))
        reached, whole = table.reached(start, self.low, self.high)
        if whole[0]:
            return 0, [start[0]] if below else []
        number, seen = count(), set[bytes]()
        waiting = [(0, next(number), 0, start[0], int(reached[0]))]
        least = 0
        while waiting and waiting[0][0] < best:
            least = waiting[0][0]
            if len(seen) > cap:
                return least, found
            # several at a time take little longer than one
            taken = [heappop(waiting) for _ in range(min(_AT_A_TIME, len(waiting)))]
            fronts, stops = np.array([one for *_, one, _ in taken]), np.array([at for *_, at in taken])
            dearer = table.dearer_by(fronts) + np.array([[cost] for _, _, cost, _, _ in taken])
            front, stacks = np.nonzero(table.goes_on(stops, self.high) & (dearer < best))
            sets = _new(np.maximum(fronts[front], table.holds[stacks]), seen)
            self.looked_at += len(sets)
            for first in range(0, len(sets), at_once := max(1, _AT_ONCE // max(1, table.holds.size))):
                some = sets[first : first + at_once]
                reached, whole = table.reached(some, self.low, self.high)
                costs = some @ table.costs
                if whole.any():
                    cheapest = int(costs[whole].min())
                    if cheapest < best:
                        best, found = cheapest, []
                    found += [ended for ended, sum_ in zip(some[whole], costs[whole], strict=True) if sum_ == best]
                some, costs, reached = some[~whole], costs[~whole], reached[~whole]
                ends = costs + table.at_least_to_come(table.dearer_by(some), reached, self.high)
                for n in np.flatnonzero(ends < best).tolist():
                    heappush(waiting, (max(least, int(ends[n])), next(number), int(costs[n]), some[n], int(reached[n])))
        return best, found[:_MOST_ALIKE]

    def _furthest(self, had: _Bools, paid: _Numbers, table: _Table) -> Stack:
        """A cover of what is paid for and what costs nothing: stack after stack the one that serves furthest."""
        stacks = np.flatnonzero(had)[table.dearer_by(paid[None, :])[0] == 0]
        at, units = self.low, np.zeros(len(self.units), np.bool_)
        while True:
            here = stacks[self._starts[stacks] <= at]
            one = here[self._ends[here].argmax()]
            units |= self._holds[one] > 0
            if self._ends[one] >= self.high:
                return tuple(self.units[unit][0] for unit in np.flatnonzero(units).tolist())
            at = int(self._ends[one])

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
        names = [self.units[unit][0] for unit in units.tolist()]
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
