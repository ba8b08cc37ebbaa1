"""Kinds of facts about what a job states: its readings, its effects, columns that nobody reads."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from shimopt.arithmetic.clearance import Stack
from shimopt.seats.fact import Fact, FindingCode, Length, Number

__all__ = [
    "CameOutAtHand",
    "ClosedUpDiffers",
    "ClosedUpPlanned",
    "ColumnNotRead",
    "CoverFreeAssumed",
    "DecidedByBrackets",
    "EffectFromBevel",
    "EffectFromFigure",
    "EffectFromTrial",
    "FewPulls",
    "GearShareAsked",
    "GearWayAsked",
    "InDoesNotSuit",
    "InWhereNoneGoes",
    "MoreInThanTaken",
    "NoPreloadAssumed",
    "NotAsInService",
    "NotAsPredicted",
    "PackWasTooThick",
    "PacksWereTooThick",
    "ReadingFarOff",
    "ReadingSuspect",
    "SeatsAsked",
    "SizeSuspect",
    "SpotsTilted",
    "SpringWasIn",
    "ToolTooCoarse",
]


@dataclass(frozen=True, kw_only=True)
class SpotsTilted(Fact):
    """Its spots, read from `low` to `high`, differ by more than their brackets allow."""

    code = FindingCode.SPOTS_TILTED

    low: Length
    high: Length
    apart: Length


@dataclass(frozen=True, kw_only=True)
class FewPulls(Fact):
    """Too few to say how well an indicator repeats."""

    code = FindingCode.FEW_PULLS

    pulls: int
    fewest: int


@dataclass(frozen=True, kw_only=True)
class NoPreloadAssumed(Fact):
    """The thinnest blade did not go, or it reads as nothing: `low` (0 for a blade) to `high`.

    `opens` whether a shim more opens the gap, None where its places move it either way.
    """

    code = FindingCode.NO_PRELOAD_ASSUMED

    low: Length
    high: Length
    opens: bool | None


@dataclass(frozen=True, kw_only=True)
class CoverFreeAssumed(Fact):
    """The same under a cover, with no shims in where it was read `bare`."""

    code = FindingCode.COVER_FREE_ASSUMED

    high: Length
    bare: bool


@dataclass(frozen=True, kw_only=True)
class PackWasTooThick(Fact):
    """What came out for the reading cannot have been in: the gap would have been `under` nothing."""

    code = FindingCode.PACK_WAS_TOO_THICK

    place: str
    pack: Stack
    thickness: Length
    reading: Length
    under: Length


@dataclass(frozen=True, kw_only=True)
class PacksWereTooThick(Fact):
    """What came out of several places cannot all have been in, though each by itself can: `packs` by place."""

    code = FindingCode.PACKS_WERE_TOO_THICK

    packs: tuple[tuple[str, Stack], ...]
    closed: Length
    reading: Length
    under: Length


@dataclass(frozen=True, kw_only=True)
class CameOutAtHand(Fact):
    """What came out for the reading lies at hand and may go in again."""

    code = FindingCode.CAME_OUT_AT_HAND

    pack: Stack


@dataclass(frozen=True, kw_only=True)
class NotAsInService(Fact):
    """Read in another state than in service, and no `shift` covers that: by key of the state what was told.

    `nipped` where it was read under a cover, which is not tightened as for service.
    """

    code = FindingCode.NOT_AS_IN_SERVICE

    state: tuple[tuple[str, str], ...]
    nipped: bool


@dataclass(frozen=True, kw_only=True)
class ClosedUpDiffers(Fact):
    """A second reading, taken closed up, lies outside the first one's bracket: closing up takes `least` to `most`."""

    code = FindingCode.CLOSED_UP_DIFFERS

    read_low: Length
    read_high: Length
    least: Length
    most: Length


@dataclass(frozen=True, kw_only=True)
class ClosedUpPlanned(Fact):
    """What the plan would make of that second reading."""

    code = FindingCode.CLOSED_UP_PLANNED

    after_low: Length
    after_high: Length
    inside: bool


@dataclass(frozen=True, kw_only=True)
class NotAsPredicted(Fact):
    """After the last fitting it was found further from what was predicted than is plausible 19 times in 20.

    `looser` [nm] than predicted, tighter below 0; what is likely as in `arithmetic/agreement.Compared`.
    """

    code = FindingCode.NOT_AS_PREDICTED

    looser: Length
    plausible: Length
    likely: str
    part: str
    other: str


@dataclass(frozen=True, kw_only=True)
class ReadingFarOff(Fact):
    """Far from what is usual, by what it is held `against`."""

    code = FindingCode.READING_FAR_OFF

    reading: Length
    usual: Length
    against: Literal["neighbours", "window"]


@dataclass(frozen=True, kw_only=True)
class ReadingSuspect(ReadingFarOff):
    """Likely a slip: `how`, "ten times too large", "a zero too many" or the unit that was meant."""

    code = FindingCode.READING_SUSPECT

    meant: Length
    how: str


@dataclass(frozen=True, kw_only=True)
class SizeSuspect(Fact):
    """A size of the drawer that is likely typed in another unit than its column's, `typed_in`: in `unit`."""

    code = FindingCode.SIZE_SUSPECT

    thickness: Length
    typed_in: str
    meant: Length
    unit: str


@dataclass(frozen=True, kw_only=True)
class ToolTooCoarse(Fact):
    """What a tool may be `off` leaves the torque called for; one good to `needed` does not [both in per cent]."""

    code = FindingCode.TOOL_TOO_COARSE

    fastener: str
    off: Number
    needed: Number


@dataclass(frozen=True, kw_only=True)
class DecidedByBrackets(Fact):
    """The stated chance of a gap does not decide."""

    code = FindingCode.DECIDED_BY_BRACKETS


@dataclass(frozen=True, kw_only=True)
class ColumnNotRead(Fact):
    """A column that nobody reads."""

    code = FindingCode.COLUMN_NOT_READ

    file: str
    column: str


@dataclass(frozen=True, kw_only=True)
class EffectFromFigure(Fact):
    """Stated; `computed` what geometry or two readings give."""

    code = FindingCode.EFFECT_FROM_FIGURE

    place: str
    gap: str
    effect: Fraction
    source: str
    computed: Fraction | None
    by: Literal["geometry", "two readings"]


@dataclass(frozen=True, kw_only=True)
class EffectFromBevel(Fact):
    """From bevel geometry."""

    code = FindingCode.EFFECT_FROM_BEVEL

    place: str
    gap: str
    effect: Fraction
    source: str
    teeth: tuple[int, int]
    angle: Fraction
    on: str


@dataclass(frozen=True, kw_only=True)
class EffectFromTrial(Fact):
    """From two readings with different packs."""

    code = FindingCode.EFFECT_FROM_TRIAL

    place: str
    gap: str
    effect: Fraction
    source: str
    low: Fraction
    high: Fraction


@dataclass(frozen=True, kw_only=True)
class GearShareAsked(Fact):
    """Packs at these places hold one gear, and nothing says how much of a pack moves it."""

    code = FindingCode.GEAR_SHARE_ASKED

    places: tuple[str, ...]
    on: str


@dataclass(frozen=True, kw_only=True)
class GearWayAsked(Fact):
    """Packs at these places would all push one gear out of mesh."""

    code = FindingCode.GEAR_WAY_ASKED

    places: tuple[str, ...]
    on: str


@dataclass(frozen=True, kw_only=True)
class SpringWasIn(Fact):
    """A spring was in the place during the reading, and is counted as thick as it is marked."""

    code = FindingCode.SPRING_WAS_IN

    form: str
    thickness: Length


@dataclass(frozen=True, kw_only=True)
class InDoesNotSuit(Fact):
    """A piece is in and stays in that must not be fitted on its seat: what decided."""

    code = FindingCode.IN_DOES_NOT_SUIT

    why: Fact


@dataclass(frozen=True, kw_only=True)
class InWhereNoneGoes(Fact):
    """Pieces are in and stay in where the seat takes no shims.

    `gap` is the one gap that the place moves, `low` to `high` what it reads without them; "" where it moves several.
    """

    code = FindingCode.IN_WHERE_NONE_GOES

    pack: Stack
    why: str
    gap: str
    low: Length
    high: Length


@dataclass(frozen=True, kw_only=True)
class MoreInThanTaken(Fact):
    """More pieces are in and stay in than the place takes at `most`."""

    code = FindingCode.MORE_IN_THAN_TAKEN

    pack: Stack
    most: int


@dataclass(frozen=True, kw_only=True)
class SeatsAsked(Fact):
    """These places take their pieces from one drawer, and nothing says which pieces suit which."""

    code = FindingCode.SEATS_ASKED

    places: tuple[str, ...]
