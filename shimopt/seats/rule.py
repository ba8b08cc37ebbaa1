"""What a rule answers: the part suits (None), something is broken, or a dimension is missing and nothing is guessed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from shimopt.job import Seat
from shimopt.parts import Part
from shimopt.seats.finding import Grade

__all__ = ["Answer", "Broken", "Rule", "Unknown"]


@dataclass(frozen=True, slots=True)
class Broken:
    """A rule is broken: the grade it has unless the seat says otherwise, and the numbers that decided."""

    grade: Grade
    code: str
    lengths: Mapping[str, Fraction | int] = field(default_factory=dict)
    texts: Mapping[str, str] = field(default_factory=dict)
    numbers: Mapping[str, Fraction] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Unknown:
    """A rule that cannot be checked, and the code of what is missing ("no_shaft_diameter")."""

    missing: str


Answer = Broken | Unknown | None
Rule = Callable[[Part, Seat], Answer]
