"""Kinds of facts about a stack, about all that was not checked at a place, and about a piece in hand: lengths in nm."""

from __future__ import annotations

from typing import Literal, NamedTuple

from shimopt.seats.finding import Fact, FindingCode, Lack, Length


class Missing(NamedTuple):
    """What a rule lacked, and of how many parts."""

    rule: str
    what: Lack
    parts: int


class MixedBores(Fact, code=FindingCode.MIXED_BORES):
    """Bores of one stack differ."""

    smallest: Length
    largest: Length
    allowed: Length


class StackOrder(Fact, code=FindingCode.STACK_ORDER):
    """In which order the pieces go in; `stated` by the seat."""

    order: str
    stated: bool


class FromMemory(Fact, code=FindingCode.FROM_MEMORY):
    """Nobody has seen its figures in print."""

    note: str


class SeatTakesNoShims(Fact, code=FindingCode.SHIMS_NOT_ALLOWED):
    """The seat takes no shims."""

    why: str


class NotChecked(Fact, code=FindingCode.NOT_CHECKED):
    """Rules that lacked something at a place."""

    missing: tuple[Missing, ...]


class Burr(Fact, code=FindingCode.BURR):
    """Its height."""

    burr: Length


class UnevenThickness(Fact, code=FindingCode.UNEVEN_THICKNESS):
    """Its spots differ."""

    apart: Length
    allowed: Length


class NoMeasuringError(Fact, code=FindingCode.NO_MEASURING_ERROR):
    """None is stated."""


class CoarseInstrument(Fact, code=FindingCode.COARSE_INSTRUMENT):
    """Too coarse for a shim."""

    error: Length


class LabelNotKnown(Fact, code=FindingCode.LABEL_NOT_KNOWN):
    """Nobody knows what the label means."""


class LabelUnconfirmed(Fact, code=FindingCode.LABEL_UNCONFIRMED):
    """The figures of its catalogue come from no document that was seen, so they judge no piece."""

    provenance: str


class LabelHasNoTolerance(Fact, code=FindingCode.LABEL_HAS_NO_TOLERANCE):
    """So it cannot be compared."""

    thickness: Length


class NotAsLabelled(Fact, code=FindingCode.NOT_AS_LABELLED):
    """What it is, and what the label means; `other` names a part that it could be, or is empty.

    `source` is the standard that gives the tolerance, empty where the label's own row does.
    """

    is_now: Length
    least: Length
    most: Length
    what: Literal["thickness", "inner", "outer"]
    other: str
    source: str = ""
