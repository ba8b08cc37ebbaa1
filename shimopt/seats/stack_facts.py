"""Kinds of facts about a stack, about all that was not checked at a place, and about a piece in hand: lengths in nm."""

from __future__ import annotations

from typing import Literal, NamedTuple

from shimopt.seats.finding import Fact, Lack, Length


class Missing(NamedTuple):
    """What a rule lacked, and of how many parts."""

    rule: str
    what: Lack
    parts: int


class MixedBores(Fact):
    """Bores of one stack differ."""

    smallest: Length
    largest: Length
    allowed: Length


class StackOrder(Fact):
    """In which order the pieces go in; `stated` by the seat."""

    order: str
    stated: bool


class LiesOtherwise(Fact):
    """By the last record its pieces lie in an order, `lies`, in which they do not go in, `right`, from the fixed face.

    `rubs` where something turns against them.
    """

    lies: tuple[str, ...]
    right: tuple[str, ...]
    rubs: bool


class PacksMeasureApart(Fact):
    """Packs match piece for piece, and that of `thicker` is `apart` thicker than that of `thinner` as measured."""

    thicker: str
    thinner: str
    apart: Length


class FromMemory(Fact):
    """Nobody has seen its figures in print."""

    note: str


class WornGoesIn(Fact):
    """What came out of the machine is `under` its mark by more than a label is off, and goes in again."""

    under: Length


class SeatTakesNoShims(Fact, code="shims_not_allowed"):
    """The seat takes no shims."""

    why: str


class NotChecked(Fact):
    """Rules that lacked something at a place."""

    missing: tuple[Missing, ...]


class Burr(Fact):
    """Its height."""

    burr: Length


class UnevenThickness(Fact):
    """Its spots differ."""

    apart: Length
    allowed: Length


class NoMeasuringError(Fact):
    """None is stated."""


class CoarseInstrument(Fact):
    """Too coarse for a shim."""

    error: Length


class LabelNotKnown(Fact):
    """Nobody knows what the label means."""


class LabelUnconfirmed(Fact):
    """The figures of its catalogue come from no document that was seen, so they judge no piece."""

    provenance: str


class LabelHasNoTolerance(Fact):
    """So it cannot be compared."""

    thickness: Length


class NotAsLabelled(Fact):
    """What it is, and what the label means; `other` names a part that it could be, or is empty.

    `source` says who gives the tolerance, empty where the label's own row does.
    """

    is_now: Length
    least: Length
    most: Length
    what: Literal["thickness", "inner", "outer"]
    other: str
    source: str = ""
