"""Something worth saying about a part on a seat, or about a gap's reading; and what a rule answers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from shimopt.job import Seat
from shimopt.parts import Part
from shimopt.seats.fact import Fact, FindingCode

__all__ = ["Answer", "Broken", "Finding", "Grade", "Rule", "Unknown"]

Grade = Literal["stop", "caution", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One finding: where, how grave, and what.

    `grade`: "stop" must not be fitted, "caution" fit with care, "note" worth knowing. `place` or `part` is empty where
    the finding is not about one; `piece` is the tag of a single piece.
    """

    place: str = ""
    part: str = ""
    piece: str | None = None
    grade: Grade
    fact: Fact

    @property
    def code(self) -> FindingCode:
        """The kind of what was found."""
        return self.fact.code


@dataclass(frozen=True, slots=True)
class Broken:
    """A rule is broken: the grade it has unless the seat says otherwise, and what decided."""

    grade: Grade
    fact: Fact


@dataclass(frozen=True, slots=True)
class Unknown:
    """A rule that cannot be checked, and the code of what is missing ("no_shaft_diameter"): nothing is guessed."""

    missing: str


# None: the part suits
Answer = Broken | Unknown | None
Rule = Callable[[Part, Seat], Answer]
