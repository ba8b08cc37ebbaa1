"""What choosing hands back: the stacks, and how far each level is proven."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from shimopt.arithmetic.clearance import Stack
from shimopt.proof.proven import Proof


@dataclass(frozen=True, slots=True)
class LevelResult:
    """A level's value and a bound that no plan can be below, given the levels above it [nm, pieces or money].

    `proof` says how far it is shown that nothing is better, `seconds` is what the level took.
    """

    name: str
    value: Fraction
    bound: Fraction | None
    proof: Proof
    seconds: float

    @property
    def proven(self) -> bool:
        """Whether nothing is better, given the levels above it."""
        return self.proof.proven


@dataclass(frozen=True, slots=True)
class Scarce:
    """A stock line that holds a job back: with `more` pieces of it a plan was found with so many `fewer` at `level`."""

    line: int
    more: int
    level: str
    fewer: int


@dataclass(frozen=True, slots=True)
class Choice:
    """One stack for every place, and the levels in the job's order.

    `way` is how it was found: the job solved whole, or by the prices of what its clusters share; then `scarce` says
    which sizes hold the job back most. `settled`: of all plans as good this is the one whose parts come first,
    but for ties that take too long to settle.
    """

    stacks: dict[str, Stack]
    levels: tuple[LevelResult, ...]
    way: Literal["whole", "priced"] = "whole"
    scarce: tuple[Scarce, ...] = ()
    settled: bool = False

    @property
    def values(self) -> tuple[Fraction, ...]:
        """By which one choice is better than another of the same job."""
        return tuple(level.value for level in self.levels)

    @property
    def judged(self) -> tuple[Fraction | int, ...]:
        """The same, and how many levels have no bound: of two that are as good the one of which more is known."""
        return (*self.values, sum(level.bound is None for level in self.levels))
