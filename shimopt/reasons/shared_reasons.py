"""Kinds of reasons of places that held pieces, of places that act together, of balances, and kinds of assumptions."""

from __future__ import annotations

from fractions import Fraction

from shimopt.arithmetic.clearance import Stack
from shimopt.reasons.reason import Code, Length, Reason, Side


class Stays(Reason, code=Code.STAYS):
    """What was in, `stack`, stays in; the gap was `read` with it, inside: surely, or by its best estimate."""

    stack: Stack
    read: Length
    sure: bool = True


class StaysOutside(Stays, code=Code.STAYS_OUTSIDE):
    """The same, `off` outside on `side`."""

    off: Length
    side: Side


class SwappedInside(Reason, code=Code.SWAPPED_INSIDE):
    """`stack` in place of what was in, `held`, though the gap was inside."""

    stack: Stack
    held: Stack
    read: Length
    after: Length


class Swapped(SwappedInside, code=Code.SWAPPED):
    """The same for a gap that was `off` outside, where `preload` is wanted or not."""

    off: Length
    side: Side
    preload: bool


class NoPlaceMoves(Reason, code=Code.NO_PLACE_MOVES):
    """A gap that nothing moves, `off` outside (0: inside)."""

    read: Length
    off: Length


class PlaceStays(Reason, code=Code.PLACE_STAYS):
    """A place keeps what is in it, for the gaps that `names` names are inside."""

    stack: Stack


class Together(Reason):
    """What the places that `names` names do to a gap: `off` its window (0: inside) as `read`, it comes to `after`.

    `preload` says whether the window wants one, `sure` whether it is surely inside after that, where it is inside.
    """

    read: Length
    off: Length
    side: Side
    preload: bool
    after: Length
    sure: bool = True


class TogetherLeft(Together, code=Code.TOGETHER_LEFT):
    """They do nothing."""


class TogetherMoved(Together, code=Code.TOGETHER_MOVED):
    """They bring it inside."""


class TogetherStillInside(Together, code=Code.TOGETHER_STILL_INSIDE):
    """It was inside and stays so."""


class TogetherOutside(Together, code=Code.TOGETHER_OUTSIDE):
    """They leave it `still` outside on `side_after`, perhaps further than it was; `served` are gaps that gain by it.

    `doubt` is by how much it could be outside as read, where it was inside by its best estimate.
    """

    still: Length
    side_after: Side
    doubt: Length
    served: tuple[str, ...]


class WindowsFight(Reason, code=Code.WINDOWS_FIGHT):
    """The windows of these gaps miss each other by `short` in all, whatever thickness goes where."""

    short: Length


class NoStacksForAll(Reason, code=Code.NO_STACKS_FOR_ALL):
    """Some thickness brings these gaps inside, but no stacks that can be had do."""


class MoreThickness(Reason, code=Code.MORE_THICKNESS):
    """What `step` more at a place adds to each gap."""

    step: Length
    changes: tuple[tuple[str, Length], ...]


class ShiftThickness(MoreThickness, code=Code.SHIFT_THICKNESS):
    """What `step` less at the first of two places and more at the other adds to each gap."""


class SplitNotStated(Reason, code=Code.SPLIT_NOT_STATED):
    """Nothing states how the places that `names` names share a gap's total: it stays nearest to what was in."""


class SplitByName(SplitNotStated, code=Code.SPLIT_BY_NAME):
    """The same where nothing was in: among equals the names of parts decide."""


class BalanceSetAside(Reason, code=Code.BALANCE_SET_ASIDE):
    """A balance is not compared while the gaps that `names` names are outside."""


class NotWithin(Reason, code=Code.NOT_WITHIN):
    """A balance is `over` more uneven than asked, proven; parts that `names` names would even it, but don't suit."""

    before: Length
    after: Length
    within: Length
    over: Length


class NotWithinFound(NotWithin, code=Code.NOT_WITHIN_FOUND):
    """The same, not proven."""


class LeftUneven(Reason, code=Code.LEFT_UNEVEN):
    """A balance without a limit is uneven."""

    before: Length
    after: Length


class NoPrice(Reason, code=Code.NO_PRICE):
    """A part to buy has no price."""


class FigureAssumed(Reason):
    """A term of a reading is taken as right to ±`half`; `names` the part or the standard where there is one."""

    half: Length


class RepeatabilityAssumed(FigureAssumed, code=Code.REPEATABILITY_ASSUMED):
    """How well an indicator repeats."""


class ResolutionAssumed(FigureAssumed, code=Code.RESOLUTION_ASSUMED):
    """How finely a dial can be read."""


class PermissibleErrorAssumed(FigureAssumed, code=Code.PERMISSIBLE_ERROR_ASSUMED):
    """How right a dial is."""


class DimensionAssumed(FigureAssumed, code=Code.DIMENSION_ASSUMED):
    """How right a dimension is."""


class GasketAssumed(FigureAssumed, code=Code.GASKET_ASSUMED):
    """How right a gasket's thickness is."""


class CrushAssumed(FigureAssumed, code=Code.CRUSH_ASSUMED):
    """How far a gasket's crush may be off, which comes to ±`half`; `spread` in per cent of its free thickness."""

    spread: Fraction


class FarthestPull(Reason, code=Code.FARTHEST_PULL):
    """At worst the mean is as far off as the farthest pull."""


class ErrorsIndependent(Reason, code=Code.ERRORS_INDEPENDENT):
    """The errors of these readings are independent of each other."""


class UnmeasuredIndependent(Reason, code=Code.UNMEASURED_INDEPENDENT):
    """Unmeasured pieces are independent of each other."""


class MeasuredIndependent(Reason, code=Code.MEASURED_INDEPENDENT):
    """Measured pieces are independent of each other."""


class MicrometerShared(Reason, code=Code.MICROMETER_SHARED):
    """Measured pieces share the error of one micrometer: ±`half` (None: not stated), by `source`."""

    half: Length | None
    source: str


class HeatUniform(Reason, code=Code.HEAT_UNIFORM):
    """The parts of these gaps are equally warm."""
