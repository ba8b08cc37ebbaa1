"""Kinds of facts about a stack, about all that was not checked at a place, and about a piece in hand: lengths in nm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

from shimopt.seats.fact import Fact, FindingCode, Length
from shimopt.seats.finding import Lack

__all__ = [
    "Burr",
    "CoarseInstrument",
    "FromMemory",
    "LabelHasNoTolerance",
    "LabelNotKnown",
    "LabelUnconfirmed",
    "Missing",
    "MixedBores",
    "NoMeasuringError",
    "NotAsLabelled",
    "NotChecked",
    "SeatTakesNoShims",
    "StackOrder",
    "UnevenThickness",
]


class Missing(NamedTuple):
    """What a rule lacked, and of how many parts."""

    rule: str
    what: Lack
    parts: int


@dataclass(frozen=True, kw_only=True)
class MixedBores(Fact):
    """Bores of one stack differ."""

    code = FindingCode.MIXED_BORES

    smallest: Length
    largest: Length
    allowed: Length


@dataclass(frozen=True, kw_only=True)
class StackOrder(Fact):
    """In which order the pieces go in; `stated` by the seat."""

    code = FindingCode.STACK_ORDER

    order: str
    stated: bool


@dataclass(frozen=True, kw_only=True)
class FromMemory(Fact):
    """Nobody has seen its figures in print."""

    code = FindingCode.FROM_MEMORY

    note: str


@dataclass(frozen=True, kw_only=True)
class SeatTakesNoShims(Fact):
    """The seat takes no shims."""

    code = FindingCode.SHIMS_NOT_ALLOWED

    why: str


@dataclass(frozen=True, kw_only=True)
class NotChecked(Fact):
    """Rules that lacked something at a place."""

    code = FindingCode.NOT_CHECKED

    missing: tuple[Missing, ...]


@dataclass(frozen=True, kw_only=True)
class Burr(Fact):
    """Its height."""

    code = FindingCode.BURR

    burr: Length


@dataclass(frozen=True, kw_only=True)
class UnevenThickness(Fact):
    """Its spots differ."""

    code = FindingCode.UNEVEN_THICKNESS

    apart: Length
    allowed: Length


@dataclass(frozen=True, kw_only=True)
class NoMeasuringError(Fact):
    """None is stated."""

    code = FindingCode.NO_MEASURING_ERROR


@dataclass(frozen=True, kw_only=True)
class CoarseInstrument(Fact):
    """Too coarse for a shim."""

    code = FindingCode.COARSE_INSTRUMENT

    error: Length


@dataclass(frozen=True, kw_only=True)
class LabelNotKnown(Fact):
    """Nobody knows what the label means."""

    code = FindingCode.LABEL_NOT_KNOWN


@dataclass(frozen=True, kw_only=True)
class LabelUnconfirmed(Fact):
    """The figures of its catalogue come from no document that was seen, so they judge no piece."""

    code = FindingCode.LABEL_UNCONFIRMED

    provenance: str


@dataclass(frozen=True, kw_only=True)
class LabelHasNoTolerance(Fact):
    """So it cannot be compared."""

    code = FindingCode.LABEL_HAS_NO_TOLERANCE

    thickness: Length


@dataclass(frozen=True, kw_only=True)
class NotAsLabelled(Fact):
    """What it is, and what the label means; `other` names a part that it could be, or is empty.

    `source` is the standard that gives the tolerance, empty where the label's own row does.
    """

    code = FindingCode.NOT_AS_LABELLED

    is_now: Length
    least: Length
    most: Length
    what: Literal["thickness", "inner", "outer"]
    other: str
    source: str = ""
