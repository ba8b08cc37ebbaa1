"""Which final readings a stack serves, and which are left when only some pieces are there.

A stack serves a best estimate `x` when the gap is surely inside with it: at both ends of the reading's uncertainty and
with every piece as thin or as thick as it can be. That is a closed interval of `x`. Everything is in whole ticks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations, pairwise
from typing import NamedTuple

from shimopt.arithmetic.clearance import Stack, turnover
from shimopt.candidates import Scale
from shimopt.ordering.demand import Demand
from shimopt.parts import StockLine

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

    def lies_in(self, stretches: Sequence[Segment]) -> bool:
        """Whether one of these holds it."""
        return any(s.start <= self.start and self.end <= s.end for s in stretches)


class Sizes:
    """What a demand's stacks are made of [ticks]: how far each piece moves the gap at least and at most."""

    def __init__(self, demand: Demand, stock: Sequence[StockLine], scale: Scale) -> None:
        ticks, window, (least, most) = scale.ticks, demand.gap.window, demand.moves
        lines = {*demand.usable, *demand.place.installed}
        self.thin = {i: ticks(least * stock[i].part.thickness.low) for i in lines}
        self.thick = {i: ticks(most * stock[i].part.thickness.high) for i in lines}
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
    return all(pieces.get(i, 0) >= stack.count(i) for i in stack)


@dataclass(frozen=True)
class Coverage:
    """All stacks that serve some reading of a demand, less those that a part of them beats.

    Those are `thicker` where a balance compares the gap: none is needed to serve it, but one may keep it even. `stays`
    are the scarce pieces in the machine: at a reading that nothing serves they stay there.
    """

    demand: Demand
    low: int
    high: int
    candidates: tuple[Candidate, ...]
    thicker: tuple[Candidate, ...] = ()
    stays: Stack = ()

    def at(self, reading: int) -> Coverage:
        """The coverage of one reading of the range alone [ticks]."""
        serving = [c._replace(start=reading, end=reading) for c in self.candidates if c.start <= reading <= c.end]
        alone = {c.stack for c in serving}
        kept = tuple(c for c in serving if not any(part in alone for part in parts_of(c.stack)))
        best = self.demand.gap.reading.bracket.best
        return Coverage(replace(self.demand, low=best, high=best), reading, reading, kept, stays=self.stays)

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
    def kept(self) -> Stack:
        """The scarce pieces that stay in the machine whatever is bought."""
        return () if self.whole else self.stays

    @property
    def whole(self) -> bool:
        """Whether some stack serves every reading of the range."""
        return not self.hopeless

    def makeable(self, pieces: Mapping[int, int]) -> list[Candidate]:
        """The stacks that can be made of these scarce pieces."""
        return [c for c in self.candidates if fits_into(c.scarce, pieces)]

    def for_rows(self, pieces: Mapping[int, int]) -> list[Candidate]:
        """The same with those that a row fits only to keep a balance."""
        return [c for c in (*self.candidates, *self.thicker) if fits_into(c.scarce, pieces)]

    def kits_at(self, segment: Segment) -> list[Stack]:
        """The scarce pieces that serve a stretch, each set without those that hold another."""
        serving = {c.scarce for c in self.candidates if c.start <= segment.start and segment.end <= c.end}
        kept = (kit for kit in serving if not any(part in serving for part in parts_of(kit)))
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


def parts_of(stack: Stack) -> set[Stack]:
    """All stacks that a stack holds and that are smaller."""
    return {part for size in range(len(stack)) for part in combinations(stack, size)}
