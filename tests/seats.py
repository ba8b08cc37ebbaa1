"""A seat and a part that suit one another by every rule, and words to change one thing of them at a time."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from shimopt.job import Seat
from shimopt.job.seat import Face, Groove, Limits, Pressure
from shimopt.lengths import Bracket
from shimopt.parts import Part
from shimopt.seats import OnSeat, on_seat

__all__ = ["GOOD_LIMITS", "GOOD_PART", "GOOD_SEAT", "asked", "codes", "groove", "mm", "nm"]


def nm(millimetres: str | int) -> int:
    """Millimetres as whole nanometres."""
    value = Fraction(str(millimetres)) * 1_000_000
    assert value.denominator == 1
    return int(value)


def mm(size: str, half: str = "0") -> Bracket:
    """A length of so many mm, ± half."""
    return Bracket.between(nm(size) - nm(half), nm(size) + nm(half))


def groove(diameter: str, start: str, end: str) -> tuple[Groove, ...]:
    return (Groove(mm(diameter), nm(start), nm(end)),)


GOOD_LIMITS = Limits(pressure=Pressure(Fraction(490), "test"))
GOOD_SEAT = Seat(
    "journal",
    mm("16", "0.01"),
    bore=mm("25"),
    face=Face(mm("17"), mm("24")),
    grooves=groove("15", "5", "7"),
    fillet=nm("0.2"),
    next_ring=mm("26"),
    keyway=True,
    tab=False,
    moving_face=True,
    load=Fraction(1000),
    thinnest=nm("0.05"),
    forms=("ring", "slotted", "tabbed"),
    materials=("steel",),
    limits=GOOD_LIMITS,
)
GOOD_PART = Part(
    "R-05",
    mm("0.5", "0.02"),
    inner=mm("16.1", "0.01"),
    outer=mm("23.8", "0.05"),
    material="steel C60",
    form="ring",
    hardness="450 HV",
    edge=nm("0.25"),
)


def asked(part: dict[str, Any] | None = None, seat: dict[str, Any] | None = None) -> OnSeat:
    """What the rules say after these changes."""
    return on_seat(replace(GOOD_PART, **(part or {})), replace(GOOD_SEAT, **(seat or {})))


def codes(answer: OnSeat) -> list[str]:
    return [finding.code for finding in answer.findings]
