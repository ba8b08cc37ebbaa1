"""Kinds of reasons of a gap with a place of its own: lengths in nm, stacks as indices into the job's stock."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from shimopt.arithmetic.clearance import Stack
from shimopt.reasons.reason import Code, Length, Reason, Side
from shimopt.seats import Finding

__all__ = [
    "AboveWindow",
    "AlreadyInside",
    "BelowWindow",
    "BeyondParts",
    "ChanceTooLow",
    "ChanceTooLowAsRead",
    "DrawerRanOut",
    "Fitted",
    "FittedForTarget",
    "FittedForTheChance",
    "FittedToBeSurer",
    "FittedToComeInside",
    "FittedToMatch",
    "InsideWithThinnest",
    "LeftByPriority",
    "LeftBySearch",
    "LeftTogetherByPriority",
    "NoSizeBetween",
    "NoThinner",
    "NotThickEnough",
    "NothingOnHand",
    "NothingSuits",
    "PartsDoNotSuit",
    "ReadAgainFirst",
    "TooFewPieces",
    "TooLooseWithThinnest",
    "TooTightWithThinnest",
    "Unproven",
    "UnprovenAsRead",
]


@dataclass(frozen=True, kw_only=True)
class AlreadyInside(Reason):
    """Inside as read, and nothing is fitted."""

    code = Code.ALREADY_INSIDE


@dataclass(frozen=True, kw_only=True)
class InsideWithThinnest(AlreadyInside):
    """So it would be with the thinnest that suits, `stack`, at `after`; `needless` where no balance wants that."""

    stack: Stack
    after: Length
    needless: bool


@dataclass(frozen=True, kw_only=True)
class NoThinner(Reason):
    """Inside as read, and even the thinnest that suits would bring it out: to `after`, `opens` if too far apart."""

    code = Code.ALREADY_INSIDE_AND_NO_THINNER

    stack: Stack
    after: Length
    opens: bool


@dataclass(frozen=True, kw_only=True)
class Fitted(Reason):
    """A stack is fitted, by best estimate so thick."""

    stack: Stack
    thickness: Length


@dataclass(frozen=True, kw_only=True)
class FittedToComeInside(Fitted):
    """As `read` the gap is `off` outside, where `preload` is wanted or not; `bare`: under a cover without shims."""

    code = Code.FITTED_TO_COME_INSIDE

    read: Length
    off: Length
    side: Side
    preload: bool
    bare: bool = False


@dataclass(frozen=True, kw_only=True)
class FittedToBeSurer(Fitted):
    """As read the gap could stand out of its window by `out`."""

    code = Code.FITTED_TO_BE_SURER

    out: Length


@dataclass(frozen=True, kw_only=True)
class FittedToMatch(Fitted):
    """For the balances that `names` names."""

    code = Code.FITTED_TO_MATCH


@dataclass(frozen=True, kw_only=True)
class FittedForTarget(Fitted):
    """To come nearer to the target, which the job puts first."""

    code = Code.FITTED_FOR_TARGET


@dataclass(frozen=True, kw_only=True)
class FittedForTheChance(Fitted):
    """As read the chance to be inside is too low."""

    code = Code.FITTED_FOR_THE_CHANCE

    chance: Fraction | float


@dataclass(frozen=True, kw_only=True)
class ChanceTooLow(Reason):
    """Inside by best estimate with what is fitted, with less of a chance than asked.

    `surest`: it is proven that no stack that is left does better.
    """

    code = Code.CHANCE_TOO_LOW_AFTER

    chance: Fraction | float
    least: Fraction
    surest: bool


@dataclass(frozen=True, kw_only=True)
class ChanceTooLowAsRead(ChanceTooLow):
    """The same with nothing fitted."""

    code = Code.CHANCE_TOO_LOW_AS_READ


@dataclass(frozen=True, kw_only=True)
class Unproven(Reason):
    """Inside by best estimate with what is fitted, but it could be `tight` below its window, or `loose` above it.

    `chance` is that of being inside.
    """

    code = Code.UNPROVEN_AFTER

    tight: Length
    loose: Length
    chance: Fraction | float


@dataclass(frozen=True, kw_only=True)
class UnprovenAsRead(Unproven):
    """The same with nothing fitted; `surest`: it is proven that no stack that is left makes it surer.

    `further`: any shim would only move it further to where it could be out.
    """

    code = Code.UNPROVEN_AS_READ

    surest: bool
    further: bool


@dataclass(frozen=True, kw_only=True)
class BelowWindow(Reason):
    """Outside on the side to which shims move it."""

    code = Code.BELOW_WINDOW

    off: Length


@dataclass(frozen=True, kw_only=True)
class AboveWindow(Reason):
    """The same where shims open the gap."""

    code = Code.ABOVE_WINDOW

    off: Length


@dataclass(frozen=True, kw_only=True)
class ReadAgainFirst(Reason):
    """Outside on the side to which shims move it, by a reading that looks like a slip."""

    code = Code.READ_AGAIN_FIRST

    off: Length


@dataclass(frozen=True, kw_only=True)
class PartsDoNotSuit(Reason):
    """Parts that alone would serve by thickness, and what forbids each on the seat."""

    code = Code.PARTS_DO_NOT_SUIT

    findings: tuple[Finding, ...]


@dataclass(frozen=True, kw_only=True)
class TooFewPieces(Reason):
    """A place's seat takes at least `fewest` pieces, and only `there` that suit can be had."""

    code = Code.TOO_FEW_PIECES

    fewest: int
    there: int


@dataclass(frozen=True, kw_only=True)
class NothingSuits(Reason):
    """Outside, and of what there is nothing suits the seat."""

    code = Code.NOTHING_SUITS

    off: Length
    side: Side


@dataclass(frozen=True, kw_only=True)
class NothingOnHand(Reason):
    """Outside, and there is nothing at all."""

    code = Code.NOTHING_ON_HAND

    off: Length
    side: Side


@dataclass(frozen=True, kw_only=True)
class NotThickEnough(Reason):
    """It needs `least` of shim, the `thickest` that can be made is less; that `stack` would leave it `off`."""

    code = Code.NOT_THICK_ENOUGH

    least: Length
    thickest: Length
    stack: Stack
    off: Length
    side: Side


@dataclass(frozen=True, kw_only=True)
class TooTightWithThinnest(Reason):
    """The thinnest that suits, so thick, would make it `after`, `short` beyond its window; it takes `most` at most."""

    code = Code.TOO_TIGHT_WITH_THINNEST

    stack: Stack
    thinnest: Length
    after: Length
    short: Length
    most: Length

    @property
    def doubtful(self) -> bool:
        """Whether less than half the thinnest is needed: then the reading is as likely wrong as the sizes are."""
        return 2 * self.most < self.thinnest


@dataclass(frozen=True, kw_only=True)
class TooLooseWithThinnest(TooTightWithThinnest):
    """The same where shims open the gap."""

    code = Code.TOO_LOOSE_WITH_THINNEST


@dataclass(frozen=True, kw_only=True)
class NoSizeBetween(Reason):
    """No stack falls into the window; the nearest would make it `after`, `off` outside, and may be what is `in_now`."""

    code = Code.NO_SIZE_BETWEEN

    stack: Stack
    after: Length
    off: Length
    in_now: bool


@dataclass(frozen=True, kw_only=True)
class DrawerRanOut(Reason):
    """A full drawer would serve it with `stack` (empty where that is not known).

    `got` names those that got the pieces, `kept` those of them in which they were and stay, and `and_others` whether
    there are more of them; `names` gaps that cannot all be
    served at once, though without any one of them the others can; `nearest` is left and would leave the gap `off`.
    """

    code = Code.DRAWER_RAN_OUT

    stack: Stack
    got: tuple[str, ...]
    kept: tuple[str, ...]
    and_others: bool
    nearest: Stack
    off: Length


@dataclass(frozen=True, kw_only=True)
class BeyondParts(Reason):
    """It needs `least`, and `pieces` of the thickest part known make `most`; `searched`: catalogues were looked at."""

    code = Code.BEYOND_PARTS

    least: Length
    most: Length
    pieces: int
    searched: bool


@dataclass(frozen=True, kw_only=True)
class LeftByPriority(Reason):
    """`stack` would bring it inside, but the job puts the levels `first` first."""

    code = Code.LEFT_BY_PRIORITY

    stack: Stack
    first: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class LeftTogetherByPriority(Reason):
    """It and all that acts with it could be inside with what there is, but the job puts the levels `first` first."""

    code = Code.LEFT_TOGETHER_BY_PRIORITY

    first: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class LeftBySearch(Reason):
    """`stack`, which is left, would bring it inside; the search stopped before that."""

    code = Code.LEFT_BY_SEARCH

    stack: Stack
