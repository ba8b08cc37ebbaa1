"""Which final readings a stack serves, and which are left when only some pieces are there.

A stack serves a best estimate `x` when the gap is surely inside with it: at both ends of the reading's uncertainty and
with every piece as thin or as thick as it can be. That is a closed interval of `x`. Everything is in whole ticks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations, pairwise
from typing import NamedTuple

from shimopt.arithmetic.change import turnover
from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import Scale, stacks_between
from shimopt.job import Place
from shimopt.ordering.demand import Demand
from shimopt.parts import StockLine

__all__ = ["Candidate", "Coverage", "Segment", "Sizes", "fits_into"]

_FAR = 1 << 62


class Candidate(NamedTuple):
    """A stack and the readings in the demand's range that it serves [ticks]; `scarce`: pieces that can run out."""

    stack: Stack
    start: int
    end: int
    scarce: Stack


class Segment(NamedTuple):
    """A stretch of readings in which no stack begins or ends [ticks]; one reading where both are equal."""

    start: int
    end: int

    @property
    def length(self) -> int:
        """How long it is."""
        return self.end - self.start


class Sizes:
    """What a demand's stacks are made of [ticks]: how far each piece moves the gap at least and at most."""

    def __init__(self, demand: Demand, stock: Sequence[StockLine], scale: Scale) -> None:
        ticks, window, effect = scale.ticks, demand.gap.window, abs(demand.effect)
        lines = {*demand.usable, *demand.place.installed}
        self.thin = {i: ticks(effect * stock[i].part.thickness.low) for i in lines}
        self.thick = {i: ticks(effect * stock[i].part.thickness.high) for i in lines}
        self.first = -_FAR if window.min is None else ticks(window.min + demand.below)
        self.last = _FAR if window.max is None else ticks(window.max - demand.above)
        self.closes = demand.effect < 0
        self.installed = demand.place.installed

    def served_by(self, stack: Stack) -> tuple[int, int]:
        """The readings that a stack serves, from .. to [ticks]; from above to where there is none.

        What was in during the reading comes out, but for the pieces that go back in: these cancel.
        """
        into, out = turnover(self.installed, stack) if self.installed else (stack, ())
        thin = sum(self.thin[i] for i in into) - sum(self.thick[i] for i in out)
        thick = sum(self.thick[i] for i in into) - sum(self.thin[i] for i in out)
        return (self.first + thick, self.last + thin) if self.closes else (self.first - thin, self.last - thick)


def fits_into(stack: Stack, pieces: Mapping[int, int]) -> bool:
    """Whether a stack can be made of these pieces."""
    return all(pieces.get(i, 0) >= n for i, n in Counter(stack).items())


@dataclass(frozen=True)
class Coverage:
    """All stacks that serve some reading of a demand, less those that a part of them beats."""

    demand: Demand
    low: int
    high: int
    candidates: tuple[Candidate, ...]

    @classmethod
    def of(
        cls,
        demand: Demand,
        stock: Sequence[StockLine],
        supply: Sequence[int],
        plentiful: Collection[int],
        scale: Scale,
        most: int,
        cap: int | None = None,
    ) -> Coverage:
        """Find them; `supply` says how many pieces of each line can be had. Raises TooManyError beyond `cap`."""
        low, high = scale.ticks(demand.low), scale.ticks(demand.high)
        found: dict[Stack, tuple[int, int]] = {}
        sizes = Sizes(demand, stock, scale)
        reached = _in_reach(demand, stock, supply, scale, min(most, demand.place.most_pieces), cap)
        for stack in (*_as_it_is(demand.place), *reached):
            start, end = sizes.served_by(stack)
            start, end = max(start, low), min(end, high)
            # one reading alone matters only where it is the whole range
            if start < end or (start == end and low == high):
                found[stack] = (start, end)
        kept = (
            Candidate(stack, start, end, tuple(i for i in stack if i not in plentiful))
            for stack, (start, end) in _less_what_stays(found, demand, scale)
            # what is in stays even where a part of it would do
            if (stack == demand.place.installed and demand.place.keep)
            or not any(_holds(found[part], start, end) for part in _parts(stack) if part in found)
        )
        return cls(demand, low, high, tuple(sorted(kept, key=lambda c: (len(c.stack), c.stack))))

    def at(self, reading: int) -> Coverage:
        """The coverage of one reading of the range alone [ticks]."""
        serving = [c._replace(start=reading, end=reading) for c in self.candidates if c.start <= reading <= c.end]
        alone = {c.stack for c in serving}
        kept = tuple(c for c in serving if not any(part in alone for part in _parts(c.stack)))
        best = self.demand.gap.reading.bracket.best
        return Coverage(replace(self.demand, low=best, high=best), reading, reading, kept)

    @cached_property
    def segments(self) -> list[Segment]:
        """The range cut wherever a stack begins or ends."""
        if self.low == self.high:
            return [Segment(self.low, self.high)]
        cuts = {self.low, self.high} | {c.start for c in self.candidates} | {c.end for c in self.candidates}
        return [Segment(start, end) for start, end in pairwise(sorted(cuts))]

    @cached_property
    def hopeless(self) -> list[Segment]:
        """The readings that no stack serves, whatever is bought."""
        return self.left_open(self.candidates)

    @property
    def whole(self) -> bool:
        """Whether some stack serves every reading of the range."""
        return not self.hopeless

    def makeable(self, pieces: Mapping[int, int]) -> list[Candidate]:
        """The stacks that can be made of these scarce pieces."""
        return [c for c in self.candidates if fits_into(c.scarce, pieces)]

    def kits_at(self, segment: Segment) -> list[Stack]:
        """The scarce pieces that serve a stretch, each set without those that hold another."""
        serving = {c.scarce for c in self.candidates if c.start <= segment.start and segment.end <= c.end}
        kept = (kit for kit in serving if not any(part in serving for part in _parts(kit)))
        # few pieces first: they are the likelier choice
        return sorted(kept, key=lambda kit: (len(kit), kit))

    def left_open(self, candidates: Sequence[Candidate]) -> list[Segment]:
        """The readings that none of these stacks serves, as stretches that do not touch."""
        if self.low == self.high:
            return [] if candidates else [Segment(self.low, self.high)]
        open_, reached = [], self.low
        for start, end in sorted((c.start, c.end) for c in candidates):
            if start > reached:
                open_.append(Segment(reached, start))
            reached = max(reached, end)
        return [*open_, Segment(reached, self.high)] if reached < self.high else open_


def _as_it_is(place: Place) -> list[Stack]:
    """What is in, and nothing, where that is allowed: a place that holds pieces may have to hold some."""
    return list(dict.fromkeys([place.installed, ()] if not place.fewest_pieces else [place.installed]))


def _less_what_stays(
    found: Mapping[Stack, tuple[int, int]], demand: Demand, scale: Scale
) -> Iterator[tuple[Stack, tuple[int, int]]]:
    """The stacks with what they serve, but where what is in serves, it stays: others only serve the rest."""
    place = demand.place
    stays = found.get(place.installed) if place.installed and place.keep else None
    target = demand.gap.window.target
    if stays is not None and place.keep_within is not None and target is not None:
        near = (scale.ticks(target - place.keep_within), scale.ticks(target + place.keep_within))
        stays = (max(stays[0], near[0]), min(stays[1], near[1]))
    for stack, (start, end) in found.items():
        if stays is None or stays[0] > stays[1] or stack == place.installed:
            yield stack, (start, end)
            continue
        if start < min(end, stays[0]):
            yield stack, (start, min(end, stays[0]))
        if max(start, stays[1]) < end:
            yield stack, (max(start, stays[1]), end)


def _in_reach(
    demand: Demand, stock: Sequence[StockLine], supply: Sequence[int], scale: Scale, most: int, cap: int | None
) -> list[Stack]:
    """Stacks whose thickness could serve some reading of the range, and perhaps a few more."""
    ticks, window, effect = scale.ticks, demand.gap.window, abs(demand.effect)
    # readings less the window for a shim that closes, the window less readings for one that opens
    over = None if window.max is None else ticks(demand.low + demand.above - window.max)
    under = None if window.min is None else ticks(demand.high - demand.below - window.min)
    least, thickest = over, under
    if demand.effect > 0:
        least = None if window.min is None else ticks(window.min + demand.below - demand.high)
        thickest = None if window.max is None else ticks(window.max - demand.above - demand.low)
    # beside what is in, which comes out
    out = demand.place.installed
    if least is not None:
        least += sum(ticks(effect * stock[i].part.thickness.low) for i in out)
    if thickest is not None:
        thickest += sum(ticks(effect * stock[i].part.thickness.high) for i in out)
    usable = [i for i in demand.usable if supply[i] > 0]
    sizes = [ticks(effect * stock[i].part.thickness.high) for i in usable]
    found = stacks_between(
        sizes, [supply[i] for i in usable], most, least, thickest, cap, fewest=max(1, demand.place.fewest_pieces)
    )
    return [tuple(usable[k] for k in stack) for stack in found]


def _parts(stack: Stack) -> set[Stack]:
    return {part for size in range(len(stack)) for part in combinations(stack, size)}


def _holds(interval: tuple[int, int], start: int, end: int) -> bool:
    return interval[0] <= start and end <= interval[1]
