"""Gaps whose places act together as one gap of an order: its readings numbered, its stacks those of all their places.

What stacks serve is a box of readings. Numbered row by row, the readings of a box are runs of numbers, so that the
search for single gaps finds the cheapest pieces with which each of them is served, beside all other gaps, and its
bounds hold. Readings by blades are all that there are; of any other gauge a few are looked at, which asks for no more
than all would: bounds hold for all of them, and what is found is tried on all, else more are looked at
(`gaps_together.py`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations_with_replacement, groupby, pairwise, product
from math import comb, lcm, prod

import numpy as np
import numpy.typing as npt

from shimopt.arithmetic.clearance import Stack, pieces_in, thickness_of, times
from shimopt.job import Gap, Job
from shimopt.ordering.coverage import Candidate, Coverage, fits_into
from shimopt.ordering.demand import Demand
from shimopt.ordering.readings_together import Range, Together
from shimopt.ordering.unserved_together import chance_of

# beyond so many readings, stacks of a place, choices of them, choices that serve and runs of readings that these serve,
# all this takes too long
_MOST_CELLS, _MOST_STACKS, _MOST_CHOICES, _MOST_SERVING, _MOST_RUNS = 120, 20_000, 2_000_000, 150_000, 60_000

_Numbers = npt.NDArray[np.int64]
ByPlace = Mapping[str, Sequence[Stack]]


class Cells:
    """What acts together as a gap, and how likely each of its readings is; all gauges are blades."""

    def __init__(self, demands: Sequence[Demand], coverage: Coverage) -> None:
        self.demands, self.coverage = demands, coverage
        shown = product(*(demand.pairs for demand in demands))
        self._chances = [chance_of(demands, [(x, x) for x in cell]) for cell in shown]
        self._lines = sorted({line for one in coverage.candidates for line in one.scarce})
        at = {line: n for n, line in enumerate(self._lines)}
        self._needs = np.zeros((len(coverage.candidates), len(self._lines)), np.int64)
        for n, one in enumerate(coverage.candidates):
            for line in one.scarce:
                self._needs[n, at[line]] += 1

    def chance(self, pieces: Mapping[int, int]) -> Fraction | float:
        """That such pieces serve the final readings."""
        there = np.array([pieces.get(line, 0) for line in self._lines], np.int64)
        runs = {self.coverage.candidates[n][1:3] for n in np.flatnonzero((self._needs <= there).all(axis=1)).tolist()}
        return self.chance_within(runs)

    def chance_within(self, runs: Iterable[tuple[int, int]]) -> Fraction | float:
        """That the number of the final readings lies in one of these, from .. up to."""
        served = {cell for start, end in runs for cell in range(start, end)}
        return sum((self._chances[cell] for cell in sorted(served)), Fraction(0))

    def today(self) -> Coverage:
        """The same where today's readings are the final ones."""
        cell = 0
        for demand in self.demands:
            off = [abs(middle - demand.gap.reading.bracket.best) for middle in demand.pairs]
            cell = cell * len(off) + off.index(min(off))
        serving = [one for one in self.coverage.candidates if one.start <= cell < one.end]
        return replace(self.coverage, low=0, high=1, candidates=tuple(c._replace(start=0, end=1) for c in serving))


def readings_of(demand: Demand, points: int) -> list[Fraction]:
    """The final readings of a gap that are looked at, rising: what blades can show, else so many, evenly apart."""
    step = demand.width / (points - 1)
    return demand.pairs or sorted({demand.low + n * step for n in range(points)})


def coverage_together(
    asked: Together,
    usable: Mapping[str, Sequence[int]],
    most_of: Mapping[int, int],
    points: int,
    *,
    balanced: bool = False,
) -> Coverage | None:
    """The choices of stacks that serve any of the readings, as of one gap; None where there are too many.

    Parameters: usable, the stock lines that suit each place; most_of, how many pieces of each line can be had; points,
    how many readings of a gap are looked at where no blades read it; balanced, whether only what keeps all balances
    counts, at every reading where anything does.
    """
    job, cells = asked.job, [readings_of(demand, points) for demand in asked.demands]
    if any(place.installed for place in job.places) or prod(map(len, cells)) > _MOST_CELLS:
        return None
    by_place = dict[str, list[Stack]]()
    # the place of a gap that no other moves first: the sooner is left out what serves nothing
    few = sorted(job.gaps, key=lambda gap: len(gap.effects))
    for place in (job.place[name] for name in dict.fromkeys(name for gap in few for name, _ in gap.effects)):
        lines = [line for line in usable[place.name] if most_of[line] > 0]
        counts = [0, *range(max(1, place.fewest_pieces), place.most_pieces + 1)]
        if sum(comb(len(lines) + n - 1, n) for n in counts if lines) > _MOST_STACKS:
            return None
        by_place[place.name] = [one for n in counts for one in combinations_with_replacement(lines, n)]
    serving = _serving(asked, cells, by_place)
    if serving is None:
        return None
    shape, runs = [len(some) for some in cells], dict[Stack, set[tuple[int, int]]]()
    even, served = dict[Stack, set[int]](), dict[Stack, set[int]]()
    for choice, box in serving:
        stacks = {name: some[n] for (name, some), n in zip(by_place.items(), choice, strict=True)}
        pieces = tuple(sorted(line for stack in stacks.values() for line in stack))
        if not fits_into(pieces, most_of):
            continue
        runs.setdefault(pieces, set()).update(_runs(box, shape))
        if balanced:
            numbers = {n for start, end in _runs(box, shape) for n in range(start, end)}
            served.setdefault(pieces, set()).update(numbers)
            even.setdefault(pieces, set()).update(_even(asked, cells, stacks, numbers))
    if balanced:
        kept = set().union(*even.values())
        runs = {pieces: {*_as_runs(even[pieces] | (numbers - kept))} for pieces, numbers in served.items()}
    found = [Candidate(pieces, *run, pieces) for pieces, some in sorted(runs.items()) for run in sorted(some)]
    found.sort(key=lambda one: len(one.stack))
    return Coverage(asked.demands[0], 0, prod(shape), tuple(found)) if len(found) <= _MOST_RUNS else None


def _even(
    asked: Together, cells: Sequence[Sequence[Fraction]], stacks: Mapping[str, Stack], numbers: Iterable[int]
) -> set[int]:
    """At which of these readings the stacks keep all balances, by best estimates."""
    job, limits = asked.job, [one for one in asked.job.balances if one.within is not None]
    thick = {name: thickness_of(stack, job.stock).best for name, stack in stacks.items()}
    for one in limits:
        packs = [thick[name] - one.offset.get(name, 0) for name in one.places]
        if packs and max(packs) - min(packs) > (one.within or 0):
            return set()
    by_gap, kept = [one for one in limits if one.gaps], set[int]()
    moved = [sum((effect * thick[name] for name, effect in gap.effects), Fraction(0)) for gap in job.gaps]
    for n in numbers:
        rest, after = n, dict[str, Fraction]()
        for gap, readings, change in reversed([*zip(job.gaps, cells, moved, strict=True)]):
            rest, at = divmod(rest, len(readings))
            after[gap.name] = readings[at] + change
        apart = [[after[name] - one.offset.get(name, 0) for name in one.gaps] for one in by_gap]
        if all(max(some) - min(some) <= (one.within or 0) for one, some in zip(by_gap, apart, strict=True)):
            kept.add(n)
    return kept


def _as_runs(numbers: Iterable[int]) -> Iterator[tuple[int, int]]:
    """Numbers as runs from .. to one beyond."""
    for _, some in groupby(enumerate(sorted(numbers)), key=lambda pair: pair[1] - pair[0]):
        run = [n for _, n in some]
        yield run[0], run[-1] + 1


def _serving(
    asked: Together, cells: Sequence[Sequence[Fraction]], by_place: ByPlace
) -> Iterable[tuple[list[int], list[tuple[int, int]]]] | None:
    """The choices of stacks that serve some reading of every gap, by number, and from which to which reading of each.

    Place after place: what a gap cannot have at its last place is left out at once. None where that is too much.
    """
    job, placed, choices = asked.job, list[str](), np.zeros((1, 0), np.int64)
    served: dict[str, tuple[_Numbers, _Numbers]] = {}
    for place, stacks in by_place.items():
        if len(choices) * len(stacks) > _MOST_CHOICES:
            return None
        more = np.tile(np.arange(len(stacks)), len(choices))[:, None]
        again = np.repeat(np.arange(len(choices)), len(stacks))
        choices = np.hstack([choices[again], more])
        served = {name: (first[again], last[again]) for name, (first, last) in served.items()}
        placed.append(place)
        kept = _equal(job, placed, by_place, choices)
        for number, gap in enumerate(job.gaps):
            if gap.name not in served and all(name in placed for name, _ in gap.effects):
                first, last = _of_gap(asked, number, cells[number], by_place, choices)
                served[gap.name] = first, last
                kept &= first <= last
        choices = choices[kept]
        served = {name: (first[kept], last[kept]) for name, (first, last) in served.items()}
    if len(choices) > _MOST_SERVING:
        return None
    boxes = np.array([served[gap.name] for gap in job.gaps]).transpose(2, 0, 1).tolist()
    return zip(choices.tolist(), boxes, strict=True)


def _of_gap(
    asked: Together,
    number: int,
    readings: Sequence[Fraction],
    by_place: ByPlace,
    choices: _Numbers,
) -> tuple[_Numbers, _Numbers]:
    """The first and last reading of a gap that each choice serves, by number."""
    gap, names = asked.job.gaps[number], [*by_place]
    low, high = asked.limits(gap, asked.demands[number])
    moved = {names.index(name): _moved(asked.job, gap, name, by_place[name]) for name, _ in gap.effects}
    lengths = [*readings, *(end for some in moved.values() for pair in some for end in pair)]
    unit = lcm(*(length.denominator for length in (*lengths, low, high) if length is not None))

    def whole(lengths: Iterable[Fraction]) -> _Numbers:
        return np.array([int(length * unit) for length in lengths], np.int64)

    least, most = np.zeros((2, len(choices)), np.int64)
    for n, some in moved.items():
        least += whole(least for least, _ in some)[choices[:, n]]
        most += whole(most for _, most in some)[choices[:, n]]
    shown = whole(readings)
    first = np.zeros_like(least) if low is None else np.searchsorted(shown, int(low * unit) - least, "left")
    last = np.full_like(most, len(shown))
    if high is not None:
        last = np.searchsorted(shown, int(high * unit) - most, "right")
    return first, last - 1


def _moved(job: Job, gap: Gap, name: str, stacks: Sequence[Stack]) -> list[Range]:
    """How much each stack at a place moves a gap, least and most [nm]."""
    effect = dict(gap.effects)[name]
    moved = [times(effect, thickness_of(stack, job.stock), gap.reach(name)) for stack in stacks]
    return [(Fraction(one.low), Fraction(one.high)) for one in moved]


def _equal(job: Job, placed: Sequence[str], by_place: ByPlace, choices: _Numbers) -> npt.NDArray[np.bool_]:
    """Whether packs that must match do in each choice, as far as places have theirs."""
    at, numbers = {name: n for n, name in enumerate(placed)}, dict[tuple[tuple[str, Fraction], ...], int]()

    def packs(name: str) -> _Numbers:
        held = [pieces_in(stack, job.stock) for stack in by_place[name]]
        return np.array([numbers.setdefault(pieces, len(numbers)) for pieces in held], np.int64)[choices[:, at[name]]]

    alike = np.ones(len(choices), np.bool_)
    for one, other in (pair for names in job.equal for pair in pairwise([n for n in names if n in at])):
        alike &= packs(one) == packs(other)
    return alike


def _runs(box: Sequence[tuple[int, int]], shape: Sequence[int]) -> Iterator[tuple[int, int]]:
    """The readings of a box, numbered row by row, from .. to one beyond, as few runs."""
    whole = 1
    for n in reversed(range(len(box))):
        low, high = box[n]
        if n == 0 or (low, high) != (0, shape[n] - 1):
            break
        whole *= shape[n]
    for start in product(*(range(a, b + 1) for a, b in box[:n])):
        first = 0
        for at, size in zip(start, shape, strict=False):
            first = first * size + at
        yield (first * shape[n] + low) * whole, (first * shape[n] + high + 1) * whole
