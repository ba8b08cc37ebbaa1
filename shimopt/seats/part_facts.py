"""Kinds of facts about one part on a seat, and what a rule lacked: lengths in nm."""

from __future__ import annotations

from dataclasses import dataclass

from shimopt.seats.fact import Fact, FindingCode, Length, Number

__all__ = [
    "BoreMayBeTooLarge",
    "BoreTooLarge",
    "BoreTooSmall",
    "CarriesNothing",
    "CarriesTooLittle",
    "DropsIntoGroove",
    "FormNotAllowed",
    "MaterialNotAllowed",
    "MayStandOnFillet",
    "NearNextRing",
    "NeedsTab",
    "OffCentreUncovered",
    "OffCentreUneven",
    "OutsideTooLarge",
    "PartNotTaken",
    "PressureLimitFromMemory",
    "PressureMayBeTooHigh",
    "PressureTooHigh",
    "RubsNextRing",
    "SlottedOnMovingFace",
    "SoftOnMovingFace",
    "StackOverGroove",
    "StandsOnFillet",
    "StandsOverGroove",
    "TabHasNoRoom",
    "TakesUpPlay",
    "ThinWall",
    "TooThin",
    "VeryThin",
]


@dataclass(frozen=True, kw_only=True)
class BoreTooSmall(Fact):
    """It does not go on."""

    code = FindingCode.BORE_TOO_SMALL

    least_bore: Length
    largest_shaft: Length


@dataclass(frozen=True, kw_only=True)
class BoreMayBeTooLarge(Fact):
    """At its largest play, `most_play`, it hangs further off centre than allowed; `shift` is half of that."""

    code = FindingCode.BORE_MAY_BE_TOO_LARGE

    bore: Length
    shaft: Length
    least_play: Length
    most_play: Length
    allowed: Length
    shift: Length


@dataclass(frozen=True, kw_only=True)
class BoreTooLarge(BoreMayBeTooLarge):
    """Even at its least play."""

    code = FindingCode.BORE_TOO_LARGE


@dataclass(frozen=True, kw_only=True)
class OutsideTooLarge(Fact):
    """It does not go into the counterbore."""

    code = FindingCode.OUTSIDE_TOO_LARGE

    largest_outside: Length
    least_bore: Length


@dataclass(frozen=True, kw_only=True)
class NearNextRing(Fact):
    """Pushed by `shift` it stays `clear` of the next ring, or reaches `over` too far."""

    code = FindingCode.NEAR_NEXT_RING

    outside: Length
    next_ring: Length
    shift: Length
    clear: Length
    over: Length
    allowed: Length


@dataclass(frozen=True, kw_only=True)
class RubsNextRing(NearNextRing):
    """It can touch the next ring."""

    code = FindingCode.RUBS_NEXT_RING


@dataclass(frozen=True, kw_only=True)
class StandsOverGroove(Fact):
    """From `start` to `end` off the face the shaft has only the diameter `groove` under it."""

    code = FindingCode.STANDS_OVER_GROOVE

    start: Length
    end: Length
    groove: Length
    share: Number
    allowed_share: Number


@dataclass(frozen=True, kw_only=True)
class StackOverGroove(StandsOverGroove):
    """Not at the face, but where the order of its stack puts it."""

    code = FindingCode.STACK_OVER_GROOVE


@dataclass(frozen=True, kw_only=True)
class DropsIntoGroove(StandsOverGroove):
    """With its whole width, and too loosely."""

    code = FindingCode.DROPS_INTO_GROOVE

    play: Length
    allowed: Length


@dataclass(frozen=True, kw_only=True)
class MayStandOnFillet(Fact):
    """At full shift it stands on the fillet, lifted so far."""

    code = FindingCode.MAY_STAND_ON_FILLET

    fillet: Length
    edge: Length
    lift: Length


@dataclass(frozen=True, kw_only=True)
class StandsOnFillet(MayStandOnFillet):
    """Even in the middle."""

    code = FindingCode.STANDS_ON_FILLET


@dataclass(frozen=True, kw_only=True)
class OffCentreUncovered(Fact):
    """Pushed by `shift`, `width` of the `centred` wide contact is left opposite: none."""

    code = FindingCode.OFF_CENTRE_UNCOVERED

    shift: Length
    width: Length
    centred: Length


@dataclass(frozen=True, kw_only=True)
class OffCentreUneven(OffCentreUncovered):
    """Less than wanted is left."""

    code = FindingCode.OFF_CENTRE_UNEVEN

    allowed_share: Number


@dataclass(frozen=True, kw_only=True)
class CarriesTooLittle(Fact):
    """Of the face, at the worst."""

    code = FindingCode.CARRIES_TOO_LITTLE

    share: Number
    allowed_share: Number


@dataclass(frozen=True, kw_only=True)
class CarriesNothing(CarriesTooLittle):
    """It does not meet the face."""

    code = FindingCode.CARRIES_NOTHING


@dataclass(frozen=True, kw_only=True)
class PressureMayBeTooHigh(Fact):
    """At full shift [N, mm², N/mm²]; `source` of the limit."""

    code = FindingCode.PRESSURE_MAY_BE_TOO_HIGH

    load: Number
    area: Number
    pressure: Number
    limit: Number
    source: str


@dataclass(frozen=True, kw_only=True)
class PressureTooHigh(PressureMayBeTooHigh):
    """Even in the middle."""

    code = FindingCode.PRESSURE_TOO_HIGH


@dataclass(frozen=True, kw_only=True)
class PressureLimitFromMemory(PressureMayBeTooHigh):
    """It is not too high, but only by a limit that nobody has seen in print."""

    code = FindingCode.PRESSURE_LIMIT_FROM_MEMORY


@dataclass(frozen=True, kw_only=True)
class ThinWall(Fact):
    """The wall should be so many times the thickness."""

    code = FindingCode.THIN_WALL

    wall: Length
    thickness: Length
    times: Number


@dataclass(frozen=True, kw_only=True)
class TooThin(Fact):
    """Thinner than the seat allows."""

    code = FindingCode.TOO_THIN

    thickness: Length
    allowed: Length


@dataclass(frozen=True, kw_only=True)
class VeryThin(Fact):
    """So thin that it folds."""

    code = FindingCode.VERY_THIN

    thickness: Length
    folds: Length


@dataclass(frozen=True, kw_only=True)
class PartNotTaken(Fact):
    """Its name is none of those that the seat takes, or the place: `by`."""

    code = FindingCode.PART_NOT_TAKEN

    by: str
    taken: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class TakesUpPlay(Fact):
    """It is a spring; `named` where the seat's forms name it all the same, as a piece that lies pressed flat."""

    code = FindingCode.TAKES_UP_PLAY

    form: str
    named: bool


@dataclass(frozen=True, kw_only=True)
class FormNotAllowed(Fact):
    """The seat takes other forms."""

    code = FindingCode.FORM_NOT_ALLOWED

    form: str
    allowed: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class SlottedOnMovingFace(Fact):
    """It can work its way out."""

    code = FindingCode.SLOTTED_ON_MOVING_FACE


@dataclass(frozen=True, kw_only=True)
class NeedsTab(Fact):
    """The seat holds its shims by a tab."""

    code = FindingCode.NEEDS_TAB

    form: str


@dataclass(frozen=True, kw_only=True)
class TabHasNoRoom(Fact):
    """The seat has neither keyway nor notch."""

    code = FindingCode.TAB_HAS_NO_ROOM


@dataclass(frozen=True, kw_only=True)
class MaterialNotAllowed(Fact):
    """The seat takes other materials."""

    code = FindingCode.MATERIAL_NOT_ALLOWED

    material: str
    allowed: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class SoftOnMovingFace(Fact):
    """Softer than wanted against a face that turns; `least` empty where any number would do.

    `between` names the piece of its stack that lies between and is hard enough, empty where there is none, or no stack.
    """

    code = FindingCode.SOFT_ON_MOVING_FACE

    hardness: str
    least: str
    between: str = ""
