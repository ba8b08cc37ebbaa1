"""What choosing hands back: the stacks, and how far each level is proven."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from shimopt.check.arithmetic import Stack

__all__ = ["Choice", "LevelResult"]


@dataclass(frozen=True, slots=True)
class LevelResult:
    """A level's value and a bound that no plan can be below, given the levels above it [nm, pieces or money].

    `seconds` is what the level took.
    """

    name: str
    value: Fraction
    bound: Fraction | None
    proven: bool
    seconds: float


@dataclass(frozen=True, slots=True)
class Choice:
    """One stack for every place, and the levels in the job's order.

    `way` is how it was found: the job solved whole, or by the prices of what its clusters share.
    """

    stacks: dict[str, Stack]
    levels: tuple[LevelResult, ...]
    way: Literal["whole", "priced"] = "whole"
