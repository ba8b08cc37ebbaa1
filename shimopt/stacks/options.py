"""The options of a place that moves one gap alone: nothing, or a stack that brings the best estimate inside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shimopt.check.arithmetic import Stack
from shimopt.check.chance_inside import chance_inside
from shimopt.check.needed import wanted
from shimopt.job import Gap, Job, Place
from shimopt.stacks.scale import Scale
from shimopt.stacks.sums import stacks_between

__all__ = ["Option", "PlaceOptions", "place_options"]


@dataclass(frozen=True, slots=True)
class Option:
    """A stack for a place and what it does there: the best estimate after [ticks], and its share of each level."""

    stack: Stack
    best: int
    outside: bool
    share: dict[str, int]


@dataclass(frozen=True, slots=True)
class PlaceOptions:
    """All options of one place that moves one gap alone."""

    place: str
    gap: str
    options: tuple[Option, ...]


def place_options(
    job: Job,
    scale: Scale,
    place: Place,
    gap: Gap,
    usable: Sequence[int],
    counts: Sequence[int],
    cautions: frozenset[int],
    most: int,
    cap: int | None = None,
) -> PlaceOptions:
    """Nothing, and every stack of the place's fewest to `most` pieces that brings the gap's best estimate inside.

    Parameters: usable, indices of the stock lines that suit; counts, how many of each may be used here. Raises
    TooManyError beyond `cap`.
    """
    ticks = scale.ticks
    sizes = [ticks(job.stock[i].part.thickness.best) for i in usable]
    low, high = (None if end is None else ticks(end) for end in wanted(gap))
    if high is not None and high < 0:
        stacks = []
    else:
        stacks = stacks_between(sizes, [counts[i] for i in usable], min(most, place.most_pieces), low, high, cap,
                                fewest=place.fewest_pieces)  # fmt: skip
    measure = _Measure(job, scale, gap, cautions)
    named = sorted(tuple(usable[k] for k in stack) for stack in stacks)
    return PlaceOptions(place.name, gap.name, tuple(measure.option(stack) for stack in [(), *named]))


class _Measure:
    """What a stack does to one gap, in whole ticks."""

    def __init__(self, job: Job, scale: Scale, gap: Gap, cautions: frozenset[int]) -> None:
        ticks, window = scale.ticks, gap.window
        self.job, self.gap, self.cautions = job, gap, cautions
        self.opens = gap.effects[0][1] > 0
        self.low, self.best, self.high = (
            ticks(end) for end in (gap.reading.bracket.low, gap.reading.bracket.best, gap.reading.bracket.high)
        )
        self.min = None if window.min is None else ticks(window.min)
        self.max = None if window.max is None else ticks(window.max)
        self.target = None if window.target is None else ticks(window.target)
        self.ends = [
            (ticks(line.part.thickness.low), ticks(line.part.thickness.best), ticks(line.part.thickness.high))
            for line in job.stock
        ]

    def _beyond(self, low: int, high: int) -> int:
        below = 0 if self.min is None else max(0, self.min - low)
        return below + (0 if self.max is None else max(0, high - self.max))

    def _enough(self, stack: Stack, doubt: int) -> bool:
        """Whether the gap counts as inside: surely, or by its chance where that decides."""
        gap = self.gap
        if gap.least_chance is None:
            return doubt == 0
        return chance_inside(gap, {gap.effects[0][0]: stack}, self.job.stock, self.job.micrometer) >= gap.least_chance

    def option(self, stack: Stack) -> Option:
        low, best, high = self.low, self.best, self.high
        for i in stack:
            thin, middle, thick = self.ends[i]
            if self.opens:
                low, best, high = low + thin, best + middle, high + thick
            else:
                low, best, high = low - thick, best - middle, high - thin
        miss, doubt = self._beyond(best, best), self._beyond(low, high)
        unproven = miss == 0 and not self._enough(stack, doubt)
        return Option(stack, best, miss > 0, {
            "outside": int(miss > 0),
            "miss": miss,
            "unproven": int(unproven),
            "doubt": doubt if unproven else 0,
            "pieces": len(stack),
            "cautions": sum(i in self.cautions for i in stack),
            "target": 0 if self.target is None else abs(best - self.target),
        })  # fmt: skip
