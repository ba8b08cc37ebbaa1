"""One whole number for every length of a job: the largest tick that divides them all.

Solvers work with whole numbers and get into trouble with large ones, so lengths are measured in the job's own tick
(0.005 mm, half a thou ...) before any model is built.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from shimopt.job import Job
from shimopt.job.tick import tick_of

__all__ = ["Scale"]


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
        return cls(tick_of(lengths))

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
