"""What a reason is, and the kinds of a gap with a place of its own: lengths in nm, stacks as indices of stock lines."""

from __future__ import annotations

from fractions import Fraction

from shimopt.arithmetic.clearance import Stack
from shimopt.job.gap import Side
from shimopt.seats import Finding
from shimopt.seats.finding import Kind

Length = Fraction | int  # nm


class Reason(Kind, code=""):
    """Why something is as it is.

    `about` names the gap, place, balance or part, and is empty where the whole job is meant; `names` the gaps, places,
    balances or parts that take part.
    """

    about: str
    names: tuple[str, ...] = ()


class AlreadyInside(Reason):
    """Inside as read, and nothing is fitted."""


class InsideWithThinnest(AlreadyInside, code="already_inside"):
    """So it would be with the thinnest that suits, `stack`, at `after`; `needless` where no balance wants that."""

    stack: Stack
    after: Length
    needless: bool


class NoThinner(Reason, code="already_inside_and_no_thinner"):
    """Inside as read, and even the thinnest that suits would bring it out: to `after`, `opens` if too far apart."""

    stack: Stack
    after: Length
    opens: bool


class Fitted(Reason, code=""):
    """A stack is fitted, by best estimate so thick."""

    stack: Stack
    thickness: Length


class FittedToComeInside(Fitted):
    """As `read` the gap is `off` outside, where `preload` is wanted or not; `bare`: under a cover without shims."""

    read: Length
    off: Length
    side: Side
    preload: bool
    bare: bool = False


class FittedToBeSurer(Fitted):
    """As read the gap could stand out of its window by `out`."""

    out: Length


class FittedToMatch(Fitted):
    """For the balances that `names` names; inside as read, surely or by its best estimate."""

    sure: bool = True


class FittedForTarget(Fitted):
    """To come nearer to the target, which the job puts first; inside as read, surely or by its best estimate."""

    sure: bool = True


class FittedForTheChance(Fitted):
    """As read the chance to be inside is too low."""

    chance: Fraction | float


class ChanceTooLow(Reason, code="chance_too_low_after"):
    """Inside by best estimate with what is fitted, with less of a chance than asked.

    `surest`: it is proven that no stack that is left does better.
    """

    chance: Fraction | float
    least: Fraction
    surest: bool


class ChanceTooLowAsRead(ChanceTooLow):
    """The same with nothing fitted."""


class Unproven(Reason, code="unproven_after"):
    """Inside by best estimate with what is fitted, but it could be `tight` below its window, or `loose` above it.

    `chance` is that of being inside.
    """

    tight: Length
    loose: Length
    chance: Fraction | float


class UnprovenAsRead(Unproven):
    """The same with nothing fitted; `surest`: it is proven that no stack that is left makes it surer.

    `further`: any shim would only move it further to where it could be out; `final`: it may still move so far until the
    final assembly that no gauge would tell today.
    """

    surest: bool
    further: bool
    final: bool


class BelowWindow(Reason):
    """Outside on the side to which shims move it."""

    off: Length


class AboveWindow(Reason):
    """The same where shims open the gap."""

    off: Length


class ReadsAsNothing(Reason):
    """Outside on the side to which shims move it, by a reading of nothing, which may hide any amount.

    `cover` where it was read under a cover that may rest on its case; `opened_by` whether more shim opens it, None
    where no place does.
    """

    off: Length
    cover: bool
    opened_by: bool | None


class ReadAgainFirst(Reason):
    """Outside by a reading that looks like a slip."""

    off: Length


class SetByTorque(Reason):
    """It turns too hard (`tight`) or too easily: that says what is wrong, and what it reads in length says nothing."""

    tight: bool


class PartsDoNotSuit(Reason):
    """Parts that alone would serve by thickness, and what forbids each on the seat."""

    findings: tuple[Finding, ...]


class TooFewPieces(Reason):
    """A place's seat takes at least `fewest` pieces, and only `there` that suit can be had."""

    fewest: int
    there: int


class TooFewForAll(Reason):
    """Places that act together (`names`) take at least `fewest` pieces in all; `there` that suit are left for them."""

    fewest: int
    there: int


class NothingSuits(Reason):
    """Outside, and of what there is nothing suits the seat."""

    off: Length
    side: Side


class NothingOnHand(Reason):
    """Outside, and there is nothing at all."""

    off: Length
    side: Side


class AllElsewhere(Reason):
    """Outside, and all that suits is in the places `names` and stays there: nothing of it lies in the drawer."""

    off: Length
    side: Side


class NotThickEnough(Reason):
    """It needs `least` of shim, the `thickest` that can be made is less; that `stack` would leave it `off`.

    `left` where others have thicker ones, and this is the thickest of what is left; `in_now` where it is in there.
    `pieces` how many the place takes, where more of what suits would be thick enough; else 0.
    """

    left: bool
    least: Length
    thickest: Length
    stack: Stack
    off: Length
    side: Side
    in_now: bool = False
    pieces: int = 0


class TooTightWithThinnest(Reason):
    """The thinnest that suits, so thick, would make it `after`, `short` beyond its window; it takes `most` at most."""

    stack: Stack
    thinnest: Length
    after: Length
    short: Length
    most: Length

    @property
    def doubtful(self) -> bool:
        """Whether less than half the thinnest is needed: then the reading is as likely wrong as the sizes are."""
        return 2 * self.most < self.thinnest


class TooLooseWithThinnest(TooTightWithThinnest):
    """The same where shims open the gap."""


class NoSizeBetween(Reason):
    """No stack falls into the window; the nearest would make it `after`, `off` outside, and may be what is `in_now`."""

    stack: Stack
    after: Length
    off: Length
    in_now: bool


class PreloadNotStated(Reason):
    """Left too loose, and what would preload it is not fitted, for nothing states how much preload it may have."""


class DrawerRanOut(Reason):
    """A full drawer would serve it with `stack` (empty where that is not known).

    `got` names those that got the pieces, `kept` those of them in which they were and stay, and `and_others` whether
    there are more of them; `names` gaps that cannot all be served at once, though without any one of them the others
    can; `nearest` is left and would leave the gap `off`. Not `sure` where it would be inside by best estimate only.
    """

    stack: Stack
    sure: bool
    got: tuple[str, ...]
    kept: tuple[str, ...]
    and_others: bool
    nearest: Stack
    off: Length


class BeyondParts(Reason):
    """It needs `least`, and `pieces` of the thickest part known make `most`; `searched`: catalogues were looked at."""

    least: Length
    most: Length
    pieces: int
    searched: bool


class LeftByPriority(Reason):
    """`stack` would bring it inside, but the job puts the levels `first` first."""

    stack: Stack
    first: tuple[str, ...]


class LeftTogetherByPriority(Reason):
    """It and all that acts with it could be inside with what there is, but the job puts the levels `first` first."""

    first: tuple[str, ...]


class LeftBySearch(Reason):
    """`stack`, which is left, would bring it inside; the search stopped before that."""

    stack: Stack


class MayBeTight(Reason):
    """It reads as nothing where a preload is wanted: it may hold it already, or more.

    `opens` whether a shim more opens it, None where its places move it either way.
    """

    opens: bool | None
