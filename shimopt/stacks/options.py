"""The options of a place that moves one gap alone: nothing, or a stack that brings the best estimate inside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shimopt.check.arithmetic import Stack
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
    reading, window = gap.reading.bracket, gap.window
    sizes = [ticks(job.stock[i].part.thickness.best) for i in usable]
    low = None if window.max is None else ticks(reading.best - window.max)
    high = None if window.min is None else ticks(reading.best - window.min)
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
        self.cautions = cautions
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

    def option(self, stack: Stack) -> Option:
        low, best, high = self.low, self.best, self.high
        for i in stack:
            thin, middle, thick = self.ends[i]
            low, best, high = low - thick, best - middle, high - thin
        miss, doubt = self._beyond(best, best), self._beyond(low, high)
        return Option(stack, best, miss > 0, {
            "outside": int(miss > 0),
            "miss": miss,
            "unproven": int(miss == 0 and doubt > 0),
            "doubt": doubt if miss == 0 else 0,
            "pieces": len(stack),
            "cautions": sum(i in self.cautions for i in stack),
            "target": 0 if self.target is None else abs(best - self.target),
        })  # fmt: skip
