"""One whole number for every length of a job: the largest tick that divides them all; and clearances judged in it.

Solvers work with whole numbers and get into trouble with large ones, so lengths are measured in the job's own tick
(0.005 mm, half a thou ...) before any model is built; whether 64 bits carry them is asked here too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import TYPE_CHECKING, TypeVar

from shimopt.arithmetic.clearance import unproven
from shimopt.errors import Problem
from shimopt.job import Gap, Job
from shimopt.job.model import tick_of
from shimopt.lengths import beyond, ends_beyond

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

_Exact = TypeVar("_Exact", int, "npt.NDArray[np.int64]")
# low, best and high of a length [ticks]
Ends = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Scale:
    """Turns exact lengths into whole ticks and back."""

    tick: Fraction

    @classmethod
    def of(cls, job: Job) -> Scale:
        """The largest tick that divides every length of the job."""
        return cls(job.tick)

    @classmethod
    def dividing(cls, lengths: Iterable[Fraction]) -> Scale:
        """The largest tick that divides all these lengths [nm]."""
        return cls(tick_of([*lengths]))

    def ticks(self, length: Fraction | int, effect: Fraction | int = 1) -> int:
        """effect × length as whole ticks; a length of the job always is. In plain whole numbers: asked without end."""
        above = effect.numerator * length.numerator * self.tick.denominator
        ticks, left = divmod(above, effect.denominator * length.denominator * self.tick.numerator)
        if left:
            raise ValueError(f"{effect} × {length} nm is no whole number of ticks of {self.tick} nm")
        return ticks

    def least(self, length: Fraction) -> int:
        """The fewest whole ticks that are not below a length."""
        return ceil(length / self.tick)

    def most(self, length: Fraction) -> int:
        """The most whole ticks that are not above a length."""
        return floor(length / self.tick)

    def within(self, least: Fraction | None, most: Fraction | None) -> tuple[int | None, int | None]:
        """The whole ticks from one length to another, None where there is no such end."""
        return None if least is None else self.least(least), None if most is None else self.most(most)

    def length(self, ticks: int) -> Fraction:
        """Ticks as a length [nm]."""
        return ticks * self.tick


class Judge:
    """Says what a clearance of a gap adds to each level, by its window."""

    def __init__(self, scale: Scale, gap: Gap) -> None:
        ticks, window, reading = scale.ticks, gap.window, gap.reading.bracket
        self.read: Ends = (ticks(reading.low), ticks(reading.best), ticks(reading.high))
        self.min = None if window.min is None else ticks(window.min)
        self.max = None if window.max is None else ticks(window.max)
        self.target = None if window.target is None else ticks(window.target)
        self.may_be_tight = gap.may_be_tight

    def off(self, best: _Exact) -> _Exact:
        """How far best estimates lie outside [ticks]: below 0 where too tight, above 0 where too loose."""
        tight, loose = ends_beyond(best, best, self.min, self.max)
        return loose - tight

    def shares(self, after: tuple[_Exact, _Exact, _Exact], *, enough: bool | None = None) -> dict[str, _Exact]:
        """The shares of a clearance after shimming, or of many at once.

        `enough` says whether it counts as sure where a chance decides.
        """
        low, best, high = after
        miss, doubt = beyond(best, best, self.min, self.max), beyond(low, high, self.min, self.max)
        # times 1 or 0, so that it holds for arrays as it stands
        unsure = 1 * unproven(miss, doubt, False if self.may_be_tight else enough)
        return {
            "outside": 1 * (miss > 0),
            "miss": miss,
            "unproven": unsure,
            "doubt": doubt * unsure,
            "target": 0 * best if self.target is None else abs(best - self.target),
        }


# whatever all gaps of a job could come to stays below this [ticks], so that a difference of two such sums, and a limit
# beside it, stay within 64 bits (9.2e18)
_MOST = 1 << 60


def too_large_to_carry(job: Job) -> Iterator[Problem]:
    """The gap with the largest numbers, where those of all gaps together are too large."""
    thickest = ceil(max((line.part.thickness.high for line in job.stock), default=0))
    most = {
        place.name: max(place.most_pieces, len(place.installed)) * thickest + _installed(job, place.installed)
        for place in job.places
    }
    reach = {gap.name: _reach(gap, most) for gap in job.gaps}
    beside = sum(abs(offset) for balance in job.balances for offset in (balance.within or 0, *balance.offset.values()))
    if sum(reach.values()) + beside < _MOST * job.tick:
        return
    largest = max(job.gaps, key=lambda gap: reach[gap.name])
    yield Problem(
        "job",
        f"gap {largest.name}",
        f"up to {reach[largest.name] / 1_000_000:,.0f} mm, in steps of {job.tick} nm",
        "lengths this long in steps this fine are more than whole numbers can carry",
        "write effects with fewer decimals, or as fractions of one small denominator; or plan fewer gaps at once",
    )


def _installed(job: Job, stack: tuple[int, ...]) -> int:
    return ceil(sum((job.stock[i].part.thickness.high for i in stack), Fraction(0)))


def _reach(gap: Gap, most: dict[str, int]) -> int:
    """What a gap and its window come to at most, whatever is in its places [nm]."""
    ends = (gap.reading.bracket.low, gap.reading.bracket.high, gap.window.min, gap.window.max)
    found = sum(max(ceil(end), ceil(-end)) for end in ends if end is not None)
    for place, effect in gap.effects:
        found += ceil(max(abs(end) for end in {effect, *gap.reach(place)}) * most[place])
    return found
