"""One whole number for every length of a job: the largest tick that divides them all.

Solvers work with whole numbers and get into trouble with large ones, so lengths are measured in the job's own tick
(0.005 mm, half a thou ...) before any model is built.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, gcd, lcm

from shimopt.job import Job
from shimopt.lengths import Bracket

__all__ = ["Scale"]

_KEPT = "scale of the job"


@dataclass(frozen=True, slots=True)
class Scale:
    """Turns exact lengths into whole ticks and back."""

    tick: Fraction

    @classmethod
    def of(cls, job: Job) -> Scale:
        """The largest tick that divides every length of the job."""
        # asked for again and again of one job, which never changes
        found: Scale | None = job.__dict__.get(_KEPT)
        if found is None:
            found = job.__dict__[_KEPT] = cls.dividing(_all_lengths(job))
        return found

    @classmethod
    def dividing(cls, lengths: Iterable[Fraction]) -> Scale:
        """The largest tick that divides all these lengths [nm]."""
        lengths = list(lengths)
        denominator = lcm(*(length.denominator for length in lengths))
        numerator = gcd(*(length.numerator * (denominator // length.denominator) for length in lengths))
        return cls(Fraction(numerator or 1, denominator))

    def ticks(self, length: Fraction | int) -> int:
        """A length as whole ticks; a length of the job always is."""
        ticks = Fraction(length) / self.tick
        if ticks.denominator != 1:
            raise ValueError(f"{length} nm is no whole number of ticks of {self.tick} nm")
        return ticks.numerator

    def least(self, length: Fraction) -> int:
        """The fewest whole ticks that are not below a length."""
        return ceil(length / self.tick)

    def most(self, length: Fraction) -> int:
        """The most whole ticks that are not above a length."""
        return floor(length / self.tick)

    def length(self, ticks: int) -> Fraction:
        """Ticks as a length [nm]."""
        return ticks * self.tick


def _all_lengths(job: Job) -> Iterable[Fraction]:
    def ends(bracket: Bracket) -> tuple[Fraction, ...]:
        return bracket.low, bracket.best, bracket.high

    effects = {Fraction(1)} | {abs(effect) for gap in job.gaps for _, effect in gap.effects}
    for line in job.stock:
        for end in ends(line.part.thickness):
            yield from (effect * end for effect in effects)
    for gap in job.gaps:
        yield from ends(gap.reading.bracket)
        window = gap.window
        yield from (Fraction(limit) for limit in (window.min, window.max, window.target) if limit is not None)
    for balance in job.balances:
        yield from (Fraction(length) for length in (balance.within, *balance.offset.values()) if length is not None)
