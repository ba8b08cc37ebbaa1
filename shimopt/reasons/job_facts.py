"""Kinds of facts about what a job states: its readings, its effects, columns that nobody reads."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from shimopt.arithmetic.clearance import Stack
from shimopt.arithmetic.likely_cause import Likely
from shimopt.seats.finding import Fact, Length, Number


class SpotsTilted(Fact):
    """Its spots, read from `low` to `high`, differ by more than their brackets allow."""

    low: Length
    high: Length
    apart: Length


class SizeRunsOff(Fact):
    """Records say that a supplier's pieces marked so run thicker than the middle of their label, or thinner."""

    supplier: str
    marked: Length
    off: Length


class FewPulls(Fact):
    """Too few to say how well an indicator repeats."""

    pulls: int
    fewest: int


class SmallestRoundWheel(Fact):
    """The backlash is the smallest of so many readings, for a wheel runs out; of one nobody knows whether it is."""

    readings: int


class NoPreloadAssumed(Fact):
    """The thinnest blade did not go, or it reads as nothing: `low` (0 for a blade) to `high`.

    `opens` whether a shim more opens the gap, None for either way; `by_blade` whether blades were tried.
    """

    low: Length
    high: Length
    opens: bool | None
    by_blade: bool


class CoverFreeAssumed(Fact):
    """The same under a cover, with no shims in where it was read `bare`."""

    high: Length
    bare: bool


# what no blade can tell: the note that goes with every reading of "the thinnest does not go"
BLIND = (NoPreloadAssumed, CoverFreeAssumed)


class PackWasTooThick(Fact):
    """What came out for the reading cannot have been in: the gap would have been `under` nothing."""

    place: str
    pack: Stack
    thickness: Length
    reading: Length
    under: Length


class PacksWereTooThick(Fact):
    """What came out of several places cannot all have been in, though each by itself can: `packs` by place."""

    packs: tuple[tuple[str, Stack], ...]
    closed: Length
    reading: Length
    under: Length


class CameOutAtHand(Fact):
    """What came out for the reading lies at hand and may go in again."""

    pack: Stack


class NotAsInService(Fact):
    """Read in another state than in service, and no `shift` covers that: by key of the state what was told.

    `nipped` where it was read under a cover, which is not tightened as for service.
    """

    state: tuple[tuple[str, str], ...]
    nipped: bool


class ShiftCountedOn(Fact):
    """The same where a stated `shift` is to cover it: by so much it may move, either way."""

    state: tuple[tuple[str, str], ...]
    shift: Length


class ClosedUpBefore(Fact):
    """Before it was fitted it read otherwise closed up, and after fitting it reads as the open reading said."""

    read_low: Length
    read_high: Length


class TorqueOtherwise(Fact):
    """The running torque `measured` after the last fitting was not taken as the one that is `stated`."""

    measured: str
    stated: str


class TorqueRightNotLength(Fact):
    """The running torque `measured` is as it is stated, and by calculation alone the gap is outside."""

    measured: str


class TorqueOutside(Fact):
    """The running torque `measured` after the last fitting lies outside the one that is `stated`: it is too `tight`.

    `opens` whether more shim opens the gap, None where its places move it either way; `places` those.
    """

    measured: str
    stated: str
    tight: bool
    opens: bool | None = None
    places: tuple[str, ...] = ()


class PreloadWithoutLimit(Fact):
    """It comes to a preload, and its window has no end there: nobody says how much preload it bears."""

    after_low: Length
    after_high: Length


class ReadWithPlay(Fact):
    """Read while `other`, which the same packs are to preload, still had up to `play`: it could stand anywhere.

    `set_since`: the other has been set and read since, and this one has not been read again.
    """

    other: str
    play: Length
    set_since: bool = False


class ClosedUpDiffers(Fact):
    """A second reading, taken closed up, lies outside the first one's bracket: closing up takes `least` to `most`."""

    read_low: Length
    read_high: Length
    least: Length
    most: Length


class ClosedUpPlanned(Fact):
    """What the plan would make of that second reading."""

    after_low: Length
    after_high: Length
    inside: bool
    settle: bool


class NotAsPredicted(Fact):
    """After the last fitting it was found further from what was predicted than is plausible 19 times in 20.

    `looser` [nm] than predicted, tighter below 0; what is likely, `part`, `other`, `explained_low`, `explained_high`
    and `count` as in `arithmetic/agreement.Compared`. Looked at before any piece: `gasket` whose crush was assumed,
    `trial` the place whose effect comes from two readings without ±, `state` what of the trial was not as in service.
    """

    looser: Length
    plausible: Length
    likely: Likely
    part: str = ""
    other: str = ""
    explained_low: Length = 0
    explained_high: Length = 0
    count: int = 0
    gasket: str = ""
    trial: str = ""
    state: tuple[tuple[str, str], ...] = ()


class ToolTooCoarse(Fact):
    """What a tool may be `off` leaves the torque called for; one good to `needed` does not [both in per cent]."""

    fastener: str
    off: Number
    needed: Number


class DecidedByBrackets(Fact):
    """The stated chance of a gap, `least`, does not decide: with what is planned it is `chance`."""

    least: Number
    chance: Number


class ColumnNotRead(Fact):
    """A column that nobody reads."""

    file: str
    column: str


class EffectFromFigure(Fact):
    """Stated; `computed` what geometry or two readings give."""

    place: str
    gap: str
    effect: Fraction
    source: str
    computed: Fraction | None
    by: Literal["geometry", "two readings"]


class EffectFromBevel(Fact):
    """From bevel geometry."""

    place: str
    gap: str
    effect: Fraction
    source: str
    teeth: tuple[int, int]
    angle: Fraction
    on: str


class EffectFromTrial(Fact):
    """From two readings with different packs."""

    place: str
    gap: str
    effect: Fraction
    source: str
    low: Fraction
    high: Fraction


class GearShareAsked(Fact):
    """Packs at these places hold one gear, and nothing says how much of a pack moves it."""

    places: tuple[str, ...]
    on: str


class GearWayAsked(Fact):
    """Packs at these places would all push one gear out of mesh."""

    places: tuple[str, ...]
    on: str


class CrushedWasIn(Fact):
    """A piece of this material was in during the reading and comes out: crushed, it is thinner than it is marked."""

    material: str
    thickness: Length


class SpringWasIn(Fact):
    """A spring was in the place during the reading, and is counted as thick as it is marked."""

    form: str
    thickness: Length


class InDoesNotSuit(Fact):
    """A piece is in and stays in that must not be fitted on its seat: what decided."""

    why: Fact


class InWhereNoneGoes(Fact):
    """Pieces are in and stay in where no shims go; without them `gap`, "" for several, reads `low` to `high`."""

    pack: Stack
    why: str
    gap: str
    low: Length
    high: Length


class MoreInThanTaken(Fact):
    """More pieces are in and stay in than the place takes at `most`."""

    pack: Stack
    most: int


class MoreInThanAssumed(Fact):
    """More pieces are in and stay in than the `most` that are assumed where nobody says how many a place takes."""

    pack: Stack
    most: int


class PacksInterchanged(Fact):
    """What is in at these two places stays in, and is the wrong way round: exchanged, `balance` is as it is asked."""

    balance: str
    places: tuple[str, ...]


class PacksNotAlike(Fact):
    """What is in at these places stays in and must match piece for piece, and does not."""

    packs: tuple[tuple[str, Stack], ...]

    @property
    def places(self) -> tuple[str, ...]:
        """The places that must be alike."""
        return tuple(place for place, _ in self.packs)


class SeatsAsked(Fact):
    """These places take their pieces from one drawer, and nothing says which pieces suit which."""

    places: tuple[str, ...]
