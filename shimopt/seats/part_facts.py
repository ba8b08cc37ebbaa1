"""Kinds of facts about one part on a seat, and what a rule lacked: lengths in nm."""

from __future__ import annotations

from shimopt.seats.finding import Fact, Length, Number


class BoreTooSmall(Fact):
    """It does not go on."""

    least_bore: Length
    largest_shaft: Length


class BoreMayBeTooLarge(Fact):
    """At its largest play, `most_play`, it hangs further off centre than allowed; `shift` is half of that."""

    bore: Length
    shaft: Length
    least_play: Length
    most_play: Length
    allowed: Length
    shift: Length


class BoreTooLarge(BoreMayBeTooLarge):
    """Even at its least play."""


class OutsideTooLarge(Fact):
    """It does not go into the counterbore."""

    largest_outside: Length
    least_bore: Length


class NearNextRing(Fact):
    """Pushed by `shift` it stays `clear` of the next ring, or reaches `over` too far."""

    outside: Length
    next_ring: Length
    shift: Length
    clear: Length
    over: Length
    allowed: Length


class RubsNextRing(NearNextRing):
    """It can touch the next ring."""


class StandsOverGroove(Fact):
    """From `start` to `end` off the face the shaft has only the diameter `groove` under it."""

    start: Length
    end: Length
    groove: Length
    share: Number
    allowed_share: Number


class StackOverGroove(StandsOverGroove):
    """Not at the face, but where the order of its stack puts it."""


class DropsIntoGroove(StandsOverGroove):
    """With its whole width, and too loosely."""

    play: Length
    allowed: Length


class MayStandOnFillet(Fact):
    """At full shift it stands on the fillet, lifted so far."""

    fillet: Length
    edge: Length
    lift: Length


class StandsOnFillet(MayStandOnFillet):
    """Even in the middle."""


class OffCentreUncovered(Fact):
    """Pushed by `shift`, `width` of the `centred` wide contact is left opposite: none."""

    shift: Length
    width: Length
    centred: Length


class OffCentreUneven(OffCentreUncovered):
    """Less than wanted is left."""

    allowed_share: Number


class CarriesTooLittle(Fact):
    """Of the face, at the worst."""

    share: Number
    allowed_share: Number


class CarriesNothing(CarriesTooLittle):
    """It does not meet the face."""


class PressureMayBeTooHigh(Fact):
    """At full shift [N, mm², N/mm²]; `source` of the limit."""

    load: Number
    area: Number
    pressure: Number
    limit: Number
    source: str


class PressureTooHigh(PressureMayBeTooHigh):
    """Even in the middle."""


class PressureLimitFromMemory(PressureMayBeTooHigh):
    """It is not too high, but only by a limit that nobody has seen in print."""


class ThinWall(Fact):
    """The wall should be so many times the thickness."""

    wall: Length
    thickness: Length
    times: Number


class TooThin(Fact):
    """Thinner than the seat allows."""

    thickness: Length
    allowed: Length


class VeryThin(Fact):
    """So thin that it folds."""

    thickness: Length
    folds: Length


class PartNotTaken(Fact):
    """Its name is none of those that the seat takes, or the place: `by`."""

    by: str
    taken: tuple[str, ...]


class TakesUpPlay(Fact):
    """It is a spring; `named` where the seat's forms name it all the same, as a piece that lies pressed flat.

    `by_name` where nobody states its form, and what it is called says so.
    """

    form: str
    named: bool
    by_name: bool = False


class GivesWay(Fact):
    """Of a material, or a form, that is crushed where it is clamped: a gasket, say."""

    material: str


class FormNotAllowed(Fact):
    """The seat takes other forms."""

    form: str
    allowed: tuple[str, ...]


class SlottedOnMovingFace(Fact):
    """It can work its way out."""


class NeedsTab(Fact):
    """The seat holds its shims by a tab."""

    form: str


class TabHasNoRoom(Fact):
    """The seat has neither keyway nor notch."""


class MaterialNotAllowed(Fact):
    """The seat takes other materials."""

    material: str
    allowed: tuple[str, ...]


class SoftOnMovingFace(Fact):
    """Softer than wanted against a face that turns; `least` empty where any number would do.

    `between` names the piece of its stack that lies between and is hard enough, empty where there is none, or no stack.
    `alone` where one piece is all that goes in; then `meant` where one like it ran there or the seat names its kind.
    `asked` where the seat itself states `least`.
    """

    hardness: str
    least: str
    between: str = ""
    alone: bool = False
    meant: bool = False
    asked: bool = False
