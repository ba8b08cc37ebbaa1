"""Something worth saying about a part on a seat, or about a gap's reading; and what a rule answers."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import Field, dataclass, fields, is_dataclass
from enum import StrEnum
from fractions import Fraction
from inspect import get_annotations
from threading import RLock
from typing import ClassVar, Literal, NamedTuple, Self, dataclass_transform

from shimopt.job import Seat
from shimopt.lengths import Bracket
from shimopt.parts import Part

# fields of these two types are what decided: lengths [nm], and shares, ratios, forces and pressures [N, mm², N/mm²]
Length = Fraction | int
Number = Fraction


@dataclass_transform(frozen_default=True, kw_only_default=True)
class Kind:
    """Something to tell, as data: every kind is a frozen dataclass whose fields, what its sentence needs, go by name.

    Its code is its name, as the JSON has it: `TooThin` is "too_thin". What several have in common has none.
    """

    code: ClassVar[str]

    def __init_subclass__(cls, code: str | None = None) -> None:
        """A kind that is told apart only here says the code that other programs know."""
        cls.code = re.sub("(?<!^)(?=[A-Z])", "_", cls.__name__).lower() if code is None else code

    def __new__(cls, *_fields: object, **_named: object) -> Self:
        """One of this kind, whose fields are set after."""
        if cls not in _made:
            made(cls)
        return object.__new__(cls)


# kinds that are dataclasses by now, and who makes one
_made: set[type[Kind]] = set()
_making = RLock()


def made(kind: type[Kind]) -> type[Kind]:
    """The kind as a dataclass.

    It is made when it is first needed: to make all of them takes a tenth of a small plan's time.
    """
    with _making:
        if kind not in _made and kind is not Kind:
            made(kind.__mro__[1])
            # one without fields of its own is what it comes from
            if get_annotations(kind) or not is_dataclass(kind):
                dataclass(frozen=True, kw_only=True)(kind)
            _made.add(kind)
    return kind


class Fact(Kind, code=""):
    """What was found, without saying where."""

    def lengths(self) -> dict[str, Length]:
        """The lengths that decided, by name [nm]."""
        return {_NAMES.get(one.name, one.name): getattr(self, one.name) for one in self._of_type("Length")}

    def numbers(self) -> dict[str, Number]:
        """The shares, ratios, forces and pressures that decided, by name."""
        return {one.name: getattr(self, one.name) for one in self._of_type("Number")}

    def _of_type(self, name: str) -> list[Field[object]]:
        return [one for one in fields(self) if one.type == name]


# names that Python keeps for itself, or that a field says better
_NAMES = {"start": "from", "end": "to", "is_now": "is"}


Grade = Literal["stop", "caution", "note"]
# what all findings of a part come to
Suits = Literal["suits", "caution", "stop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One finding: where, how grave, and what.

    `grade`: "stop" must not be fitted, "caution" fit with care, "note" worth knowing. `place` or `part` is empty where
    the finding is not about one; `piece` is the tag of a single piece, `thickness` tells it from others of that name.
    """

    place: str = ""
    part: str = ""
    piece: str | None = None
    grade: Grade
    fact: Fact
    thickness: Bracket | None = None

    @property
    def known_by(self) -> tuple[str, str | None, Bracket | None]:
        """Of which piece it is, as `Part.known_by` says it."""
        return self.part, self.piece, self.thickness

    @property
    def code(self) -> str:
        """The kind of what was found."""
        return self.fact.code


def of_piece(part: Part, place: str, grade: Grade, fact: Fact) -> Finding:
    """A finding about a piece in a place."""
    name, piece, thickness = part.known_by
    return Finding(place=place, part=name, piece=piece, thickness=thickness, grade=grade, fact=fact)


@dataclass(frozen=True, slots=True)
class Broken:
    """A rule is broken: the grade it has unless the seat says otherwise, and what decided."""

    grade: Grade
    fact: Fact


class Lack(StrEnum):
    """What a rule can lack: first of a seat, then of a part."""

    NO_SEAT = "no_seat"
    NO_SHAFT_DIAMETER = "no_shaft_diameter"
    NO_COUNTERBORE = "no_counterbore"
    NO_FACE = "no_face"
    NO_GROOVE = "no_groove"
    NO_FILLET = "no_fillet"
    NO_NEXT_RING = "no_next_ring"
    NO_LIMIT_PRESSURE = "no_limit_pressure"
    NO_KEYWAY = "no_keyway"
    NO_MOVING_FACE = "no_moving_face"
    NO_BORE = "no_bore"
    NO_OUTSIDE = "no_outside"
    NO_EDGE = "no_edge"
    NO_FORM = "no_form"
    NO_MATERIAL = "no_material"
    NO_HARDNESS = "no_hardness"
    OTHER_HARDNESS_SCALE = "other_hardness_scale"

    @property
    def of_part(self) -> bool:
        """Whether each part lacks it for itself, rather than the seat for all of them."""
        return list(Lack).index(self) >= list(Lack).index(Lack.NO_BORE)


@dataclass(frozen=True, slots=True)
class Unknown:
    """A rule that cannot be checked for what is missing: nothing is guessed."""

    missing: Lack


class Unchecked(NamedTuple):
    """A rule, by its name among RULES, that was not checked, and what it lacked."""

    rule: str
    lack: Lack


# None: the part suits
Answer = Broken | Unknown | None
Rule = Callable[[Part, Seat], Answer]
