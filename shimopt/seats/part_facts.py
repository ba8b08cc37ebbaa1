"""Kinds of facts about one part on a seat, and what a rule lacked: lengths in nm."""

from __future__ import annotations

from shimopt.seats.finding import Fact, FindingCode, Length, Number


class BoreTooSmall(Fact, code=FindingCode.BORE_TOO_SMALL):
    """It does not go on."""

    least_bore: Length
    largest_shaft: Length


class BoreMayBeTooLarge(Fact, code=FindingCode.BORE_MAY_BE_TOO_LARGE):
    """At its largest play, `most_play`, it hangs further off centre than allowed; `shift` is half of that."""

    bore: Length
    shaft: Length
    least_play: Length
    most_play: Length
    allowed: Length
    shift: Length


class BoreTooLarge(BoreMayBeTooLarge, code=FindingCode.BORE_TOO_LARGE):
    """Even at its least play."""


class OutsideTooLarge(Fact, code=FindingCode.OUTSIDE_TOO_LARGE):
    """It does not go into the counterbore."""

    largest_outside: Length
    least_bore: Length


class NearNextRing(Fact, code=FindingCode.NEAR_NEXT_RING):
    """Pushed by `shift` it stays `clear` of the next ring, or reaches `over` too far."""

    outside: Length
    next_ring: Length
    shift: Length
    clear: Length
    over: Length
    allowed: Length


class RubsNextRing(NearNextRing, code=FindingCode.RUBS_NEXT_RING):
    """It can touch the next ring."""


class StandsOverGroove(Fact, code=FindingCode.STANDS_OVER_GROOVE):
    """From `start` to `end` off the face the shaft has only the diameter `groove` under it."""

    start: Length
    end: Length
    groove: Length
    share: Number
    allowed_share: Number


class StackOverGroove(StandsOverGroove, code=FindingCode.STACK_OVER_GROOVE):
    """Not at the face, but where the order of its stack puts it."""


class DropsIntoGroove(StandsOverGroove, code=FindingCode.DROPS_INTO_GROOVE):
    """With its whole width, and too loosely."""

    play: Length
    allowed: Length


class MayStandOnFillet(Fact, code=FindingCode.MAY_STAND_ON_FILLET):
    """At full shift it stands on the fillet, lifted so far."""

    fillet: Length
    edge: Length
    lift: Length


class StandsOnFillet(MayStandOnFillet, code=FindingCode.STANDS_ON_FILLET):
    """Even in the middle."""


class OffCentreUncovered(Fact, code=FindingCode.OFF_CENTRE_UNCOVERED):
    """Pushed by `shift`, `width` of the `centred` wide contact is left opposite: none."""

    shift: Length
    width: Length
    centred: Length


class OffCentreUneven(OffCentreUncovered, code=FindingCode.OFF_CENTRE_UNEVEN):
    """Less than wanted is left."""

    allowed_share: Number


class CarriesTooLittle(Fact, code=FindingCode.CARRIES_TOO_LITTLE):
    """Of the face, at the worst."""

    share: Number
    allowed_share: Number


class CarriesNothing(CarriesTooLittle, code=FindingCode.CARRIES_NOTHING):
    """It does not meet the face."""


class PressureMayBeTooHigh(Fact, code=FindingCode.PRESSURE_MAY_BE_TOO_HIGH):
    """At full shift [N, mm², N/mm²]; `source` of the limit."""

    load: Number
    area: Number
    pressure: Number
    limit: Number
    source: str


class PressureTooHigh(PressureMayBeTooHigh, code=FindingCode.PRESSURE_TOO_HIGH):
    """Even in the middle."""


class PressureLimitFromMemory(PressureMayBeTooHigh, code=FindingCode.PRESSURE_LIMIT_FROM_MEMORY):
    """It is not too high, but only by a limit that nobody has seen in print."""


class ThinWall(Fact, code=FindingCode.THIN_WALL):
    """The wall should be so many times the thickness."""

    wall: Length
    thickness: Length
    times: Number


class TooThin(Fact, code=FindingCode.TOO_THIN):
    """Thinner than the seat allows."""

    thickness: Length
    allowed: Length


class VeryThin(Fact, code=FindingCode.VERY_THIN):
    """So thin that it folds."""

    thickness: Length
    folds: Length


class PartNotTaken(Fact, code=FindingCode.PART_NOT_TAKEN):
    """Its name is none of those that the seat takes, or the place: `by`."""

    by: str
    taken: tuple[str, ...]


class TakesUpPlay(Fact, code=FindingCode.TAKES_UP_PLAY):
    """It is a spring; `named` where the seat's forms name it all the same, as a piece that lies pressed flat."""

    form: str
    named: bool


class FormNotAllowed(Fact, code=FindingCode.FORM_NOT_ALLOWED):
    """The seat takes other forms."""

    form: str
    allowed: tuple[str, ...]


class SlottedOnMovingFace(Fact, code=FindingCode.SLOTTED_ON_MOVING_FACE):
    """It can work its way out."""


class NeedsTab(Fact, code=FindingCode.NEEDS_TAB):
    """The seat holds its shims by a tab."""

    form: str


class TabHasNoRoom(Fact, code=FindingCode.TAB_HAS_NO_ROOM):
    """The seat has neither keyway nor notch."""


class MaterialNotAllowed(Fact, code=FindingCode.MATERIAL_NOT_ALLOWED):
    """The seat takes other materials."""

    material: str
    allowed: tuple[str, ...]


class SoftOnMovingFace(Fact, code=FindingCode.SOFT_ON_MOVING_FACE):
    """Softer than wanted against a face that turns; `least` empty where any number would do.

    `between` names the piece of its stack that lies between and is hard enough, empty where there is none, or no stack.
    """

    hardness: str
    least: str
    between: str = ""
