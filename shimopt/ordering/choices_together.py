"""All choices of stacks that serve any readings of gaps whose places act together, and what pieces leave open of them.

What a choice of stacks serves is a box of readings, exactly. Numbered one after the other, the readings of several
boxes are runs of numbers, as of one gap: the search for single gaps finds the cheapest pieces that serve each of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, groupby, pairwise, product
from math import prod

import numpy as np
import numpy.typing as npt

from shimopt.ordering.coverage import Candidate, Coverage
from shimopt.ordering.demand import Demand
from shimopt.ordering.readings_together import Range, side_by_side
from shimopt.ordering.unserved_together import chance_of

# beyond so many readings a search takes too long
MOST_CELLS = 120
# of a gap that no blades read its ends and its middle are looked at first
_FIRST = 3
# into so many parts is cut what is left open before it is too ragged to tell
_MOST_PARTS = 400

Numbers = npt.NDArray[np.int64]
Truths = npt.NDArray[np.bool_]
Reading = tuple[int, ...]
# from .. to along every axis
Ends = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Axis:
    """The final readings of a gap in whole numbers: pairs of blades counted, else parts of a nanometre."""

    demand: Demand
    unit: int

    @property
    def whole(self) -> tuple[int, int]:
        """The first and the last reading."""
        pairs, unit = self.demand.pairs, self.unit
        return (0, len(pairs) - 1) if pairs else (int(self.demand.low * unit), int(self.demand.high * unit))

    @property
    def beside(self) -> int:
        """How far the next reading is: lengths have none."""
        return 1 if self.demand.pairs else 0

    def best(self, at: int) -> Fraction:
        """A reading as best estimate [nm]."""
        return self.demand.pairs[at] if self.demand.pairs else Fraction(at, self.unit)

    def parts(self, count: int) -> list[tuple[int, int]]:
        """So many equal parts; of blades every reading by itself."""
        low, high = self.whole
        if self.demand.pairs or low == high:
            return [(n, n) for n in range(low, high + 1)]
        cuts = [low + n * (high - low) // count for n in range(count + 1)]
        return list(pairwise(cuts))

    @property
    def today(self) -> int:
        """Today's reading, as it shows."""
        best = self.demand.gap.reading.bracket.best
        off = [abs(middle - best) for middle in self.demand.pairs]
        return off.index(min(off)) if off else int(best * self.unit)


class Choices:
    """Every choice of stacks that serves any final readings of what acts together, each with its box of readings.

    Parameters: lines, the stock lines of which `needs` counts the pieces of each choice; boxes, by choice and axis from
    .. to; uneven, at which of some readings (as given) which choices do not keep all balances, where they have to.
    """

    def __init__(
        self,
        axes: Sequence[Axis],
        lines: Sequence[int],
        needs: Numbers,
        boxes: Numbers,
        uneven: Callable[[Numbers], Truths] | None = None,
    ) -> None:
        self.axes, self._lines, self._uneven = axes, lines, uneven
        kinds, which = np.unique(needs, axis=0, return_inverse=True)
        self._order = np.argsort(which.ravel(), kind="stable")
        self._needs, self._boxes = needs[self._order], boxes[self._order]
        self._starts = np.flatnonzero(np.diff(which.ravel()[self._order], prepend=-1))
        self._pieces = [
            tuple(line for line, count in zip(lines, row, strict=True) for _ in range(count)) for row in kinds.tolist()
        ]
        self._whole: Ends = tuple(axis.whole for axis in axes)
        self._wide = np.array([max(1, b - a + axis.beside) for axis, (a, b) in zip(axes, self._whole, strict=True)])

    @property
    def demands(self) -> list[Demand]:
        """The gaps, axis by axis."""
        return [axis.demand for axis in self.axes]

    @property
    def by_blades(self) -> bool:
        """Whether blades read every gap."""
        return all(axis.demand.pairs for axis in self.axes)

    def first_readings(self) -> list[Reading]:
        """What is looked at first: every reading of blades, and of other gauges the ends and the middle."""
        of_axis = [{end for part in axis.parts(_FIRST - 1) for end in part} for axis in self.axes]
        return list(product(*map(sorted, of_axis)))

    def equal_parts(self) -> list[Ends]:
        """All readings cut into as many equal parts as can be looked at; readings of blades one by one."""
        counts = (n for n in range(MOST_CELLS, 0, -1) if prod(len(axis.parts(n)) for axis in self.axes) <= MOST_CELLS)
        count = next(counts, 1)
        return list(product(*(axis.parts(count) for axis in self.axes)))

    def cut(self, parts: Iterable[Ends], at: Iterable[Ends]) -> list[Ends]:
        """The same parts, cut where others end."""
        left = list(parts)
        for other in at:
            cut = list[Ends]()
            for part in left:
                core = self._common(part, other)
                cut += [part] if core is None else [core, *self._around(part, core)]
            left = cut
        return left

    def share(self, parts: Iterable[Ends]) -> Fraction:
        """How much of all readings these are, as lengths and pairs of blades."""
        wide = self._wide.tolist()
        longs = ([max(1, b - a + axis.beside) for axis, (a, b) in zip(self.axes, part, strict=True)] for part in parts)
        return sum((Fraction(prod(long), prod(wide)) for long in longs), Fraction(0))

    def coverage(self, lengths: Mapping[Reading, int]) -> Coverage:
        """What serves some readings, as of one gap of which each reading is a stretch so long."""
        readings = sorted(lengths)
        at, begins = np.array(readings, np.int64), [0, *accumulate(lengths[one] for one in readings)]
        served = np.ones((len(self._boxes), len(at)), np.bool_)
        for n in range(len(self.axes)):
            served &= (self._boxes[:, n, :1] <= at[:, n]) & (at[:, n] <= self._boxes[:, n, 1:])
        if self._uneven is not None:
            even = served & ~self._uneven(at)[self._order]
            served = even | (served & ~even.any(axis=0))
        found = [
            Candidate(pieces, begins[start], begins[end], pieces)
            for pieces, row in zip(self._pieces, np.logical_or.reduceat(served, self._starts), strict=True)
            for start, end in _as_runs(np.flatnonzero(row).tolist())
        ]
        found.sort(key=lambda one: (len(one.stack), one))
        return Coverage(self.axes[0].demand, 0, begins[-1], tuple(found))

    def today(self) -> Coverage:
        """The same where today's readings are the final ones."""
        return self.coverage({tuple(axis.today for axis in self.axes): 1})

    def left_open(self, pieces: Mapping[int, int]) -> list[Ends] | None:
        """The readings that nothing made of these pieces serves; None where they are too ragged to tell."""
        there = np.array([pieces.get(line, 0) for line in self._lines], np.int64)
        boxes, left, open_ = self._boxes[(self._needs <= there).all(axis=1)], [self._whole], list[Ends]()
        while left:
            if len(left) + len(open_) > _MOST_PARTS:
                return None
            part = left.pop()
            core = self._largest(boxes, part)
            if core is None:
                open_.append(part)
                continue
            left += self._around(part, core)
        return side_by_side(open_, [axis.beside for axis in self.axes])

    def served_in(self, ends: Ends) -> Reading | None:
        """A reading there that some choice serves, whatever it takes; None where none does."""
        best = self._largest(self._boxes, ends)
        return None if best is None else tuple((low + high) // 2 for low, high in best)

    def chance(self, pieces: Mapping[int, int]) -> Fraction | float:
        """That such pieces serve the final readings, at least."""
        open_ = self.left_open(pieces)
        missed = [Fraction(1)] if open_ is None else [chance_of(self.demands, self.read(ends)) for ends in open_]
        return max(Fraction(0), 1 - sum(missed))

    def read(self, ends: Ends) -> tuple[Range, ...]:
        """Readings as best estimates [nm]."""
        return tuple((axis.best(low), axis.best(high)) for axis, (low, high) in zip(self.axes, ends, strict=True))

    def _common(self, part: Ends, other: Ends) -> Ends | None:
        """The readings of both, where these are more than an end that they share."""
        core = tuple((max(a, c), min(b, d)) for (a, b), (c, d) in zip(part, other, strict=True))
        longs = [
            b - a + (axis.beside or int(c == d)) for axis, (a, b), (c, d) in zip(self.axes, core, part, strict=True)
        ]
        return core if min(longs) > 0 else None

    def _around(self, part: Ends, core: Ends) -> Iterator[Ends]:
        """What of some readings lies outside others that they hold, axis after axis."""
        for n, (axis, (low, high), (start, end)) in enumerate(zip(self.axes, part, core, strict=True)):
            for a, b in ((low, start - axis.beside), (end + axis.beside, high)):
                if a < b + axis.beside:
                    yield (*core[:n], (a, b), *part[n + 1 :])

    def _largest(self, boxes: Numbers, ends: Ends) -> Ends | None:
        """What of these readings the box holds that holds most of them; None where none holds any."""
        first = np.maximum(boxes[:, :, 0], [low for low, _ in ends])
        last = np.minimum(boxes[:, :, 1], [high for _, high in ends])
        # where there is only one reading, it is held by what begins and ends there
        long = last - first + [axis.beside or int(a == b) for axis, (a, b) in zip(self.axes, ends, strict=True)]
        held = np.flatnonzero((long > 0).all(axis=1))
        if not len(held):
            return None
        n = held[np.argmax((long[held] / self._wide).prod(axis=1))]
        return tuple(zip(first[n].tolist(), last[n].tolist(), strict=True))


def _as_runs(numbers: Iterable[int]) -> Iterator[tuple[int, int]]:
    """Numbers as runs from .. to one beyond."""
    for _, some in groupby(enumerate(numbers), key=lambda pair: pair[1] - pair[0]):
        run = [n for _, n in some]
        yield run[0], run[-1] + 1
