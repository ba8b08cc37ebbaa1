"""Kinds of reasons of places that held pieces, of places that act together, of balances, and kinds of assumptions."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from shimopt.arithmetic.clearance import Stack
from shimopt.reasons.reason import Code, Length, Reason, Side

__all__ = [
    "BalanceSetAside",
    "CrushAssumed",
    "DimensionAssumed",
    "ErrorsIndependent",
    "FarthestPull",
    "FigureAssumed",
    "GasketAssumed",
    "HeatUniform",
    "LeftUneven",
    "MeasuredIndependent",
    "MicrometerShared",
    "MoreThickness",
    "NoPlaceMoves",
    "NoPrice",
    "NoStacksForAll",
    "NotWithin",
    "NotWithinFound",
    "PermissibleErrorAssumed",
    "PlaceStays",
    "RepeatabilityAssumed",
    "ResolutionAssumed",
    "ShiftThickness",
    "SplitByName",
    "SplitNotStated",
    "Stays",
    "StaysOutside",
    "Swapped",
    "SwappedInside",
    "Together",
    "TogetherLeft",
    "TogetherMoved",
    "TogetherOutside",
    "TogetherStillInside",
    "UnmeasuredIndependent",
    "WindowsFight",
]


@dataclass(frozen=True, kw_only=True)
class Stays(Reason):
    """What was in, `stack`, stays in; the gap was `read` with it, inside: surely, or by its best estimate."""

    code = Code.STAYS

    stack: Stack
    read: Length
    sure: bool = True


@dataclass(frozen=True, kw_only=True)
class StaysOutside(Stays):
    """The same, `off` outside on `side`."""

    code = Code.STAYS_OUTSIDE

    off: Length
    side: Side


@dataclass(frozen=True, kw_only=True)
class SwappedInside(Reason):
    """`stack` in place of what was in, `held`, though the gap was inside."""

    code = Code.SWAPPED_INSIDE

    stack: Stack
    held: Stack
    read: Length
    after: Length


@dataclass(frozen=True, kw_only=True)
class Swapped(SwappedInside):
    """The same for a gap that was `off` outside, where `preload` is wanted or not."""

    code = Code.SWAPPED

    off: Length
    side: Side
    preload: bool


@dataclass(frozen=True, kw_only=True)
class NoPlaceMoves(Reason):
    """A gap that nothing moves, `off` outside (0: inside)."""

    code = Code.NO_PLACE_MOVES

    read: Length
    off: Length


@dataclass(frozen=True, kw_only=True)
class PlaceStays(Reason):
    """A place keeps what is in it, for the gaps that `names` names are inside."""

    code = Code.PLACE_STAYS

    stack: Stack


@dataclass(frozen=True, kw_only=True)
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


@dataclass(frozen=True, kw_only=True)
class TogetherLeft(Together):
    """They do nothing."""

    code = Code.TOGETHER_LEFT


@dataclass(frozen=True, kw_only=True)
class TogetherMoved(Together):
    """They bring it inside."""

    code = Code.TOGETHER_MOVED


@dataclass(frozen=True, kw_only=True)
class TogetherStillInside(Together):
    """It was inside and stays so."""

    code = Code.TOGETHER_STILL_INSIDE


@dataclass(frozen=True, kw_only=True)
class TogetherOutside(Together):
    """They leave it `still` outside on `side_after`, perhaps further than it was; `served` are gaps that gain by it.

    `doubt` is by how much it could be outside as read, where it was inside by its best estimate.
    """

    code = Code.TOGETHER_OUTSIDE

    still: Length
    side_after: Side
    doubt: Length
    served: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class WindowsFight(Reason):
    """The windows of these gaps miss each other by `short` in all, whatever thickness goes where."""

    code = Code.WINDOWS_FIGHT

    short: Length


@dataclass(frozen=True, kw_only=True)
class NoStacksForAll(Reason):
    """Some thickness brings these gaps inside, but no stacks that can be had do."""

    code = Code.NO_STACKS_FOR_ALL


@dataclass(frozen=True, kw_only=True)
class MoreThickness(Reason):
    """What `step` more at a place adds to each gap."""

    code = Code.MORE_THICKNESS

    step: Length
    changes: tuple[tuple[str, Length], ...]


@dataclass(frozen=True, kw_only=True)
class ShiftThickness(MoreThickness):
    """What `step` less at the first of two places and more at the other adds to each gap."""

    code = Code.SHIFT_THICKNESS


@dataclass(frozen=True, kw_only=True)
class SplitNotStated(Reason):
    """Nothing states how the places that `names` names share a gap's total: it stays nearest to what was in."""

    code = Code.SPLIT_NOT_STATED


@dataclass(frozen=True, kw_only=True)
class SplitByName(SplitNotStated):
    """The same where nothing was in: among equals the names of parts decide."""

    code = Code.SPLIT_BY_NAME


@dataclass(frozen=True, kw_only=True)
class BalanceSetAside(Reason):
    """A balance is not compared while the gaps that `names` names are outside."""

    code = Code.BALANCE_SET_ASIDE


@dataclass(frozen=True, kw_only=True)
class NotWithin(Reason):
    """A balance is `over` more uneven than asked, proven; parts that `names` names would even it, but don't suit."""

    code = Code.NOT_WITHIN

    before: Length
    after: Length
    within: Length
    over: Length


@dataclass(frozen=True, kw_only=True)
class NotWithinFound(NotWithin):
    """The same, not proven."""

    code = Code.NOT_WITHIN_FOUND


@dataclass(frozen=True, kw_only=True)
class LeftUneven(Reason):
    """A balance without a limit is uneven."""

    code = Code.LEFT_UNEVEN

    before: Length
    after: Length


@dataclass(frozen=True, kw_only=True)
class NoPrice(Reason):
    """A part to buy has no price."""

    code = Code.NO_PRICE


@dataclass(frozen=True, kw_only=True)
class FigureAssumed(Reason):
    """A term of a reading is taken as right to ±`half`; `names` the part or the standard where there is one."""

    half: Length


@dataclass(frozen=True, kw_only=True)
class RepeatabilityAssumed(FigureAssumed):
    """How well an indicator repeats."""

    code = Code.REPEATABILITY_ASSUMED


@dataclass(frozen=True, kw_only=True)
class ResolutionAssumed(FigureAssumed):
    """How finely a dial can be read."""

    code = Code.RESOLUTION_ASSUMED


@dataclass(frozen=True, kw_only=True)
class PermissibleErrorAssumed(FigureAssumed):
    """How right a dial is."""

    code = Code.PERMISSIBLE_ERROR_ASSUMED


@dataclass(frozen=True, kw_only=True)
class DimensionAssumed(FigureAssumed):
    """How right a dimension is."""

    code = Code.DIMENSION_ASSUMED


@dataclass(frozen=True, kw_only=True)
class GasketAssumed(FigureAssumed):
    """How right a gasket's thickness is."""

    code = Code.GASKET_ASSUMED


@dataclass(frozen=True, kw_only=True)
class CrushAssumed(FigureAssumed):
    """How far a gasket's crush may be off, which comes to ±`half`; `spread` in per cent of its free thickness."""

    code = Code.CRUSH_ASSUMED

    spread: Fraction


@dataclass(frozen=True, kw_only=True)
class FarthestPull(Reason):
    """At worst the mean is as far off as the farthest pull."""

    code = Code.FARTHEST_PULL


@dataclass(frozen=True, kw_only=True)
class ErrorsIndependent(Reason):
    """The errors of these readings are independent of each other."""

    code = Code.ERRORS_INDEPENDENT


@dataclass(frozen=True, kw_only=True)
class UnmeasuredIndependent(Reason):
    """Unmeasured pieces are independent of each other."""

    code = Code.UNMEASURED_INDEPENDENT


@dataclass(frozen=True, kw_only=True)
class MeasuredIndependent(Reason):
    """Measured pieces are independent of each other."""

    code = Code.MEASURED_INDEPENDENT


@dataclass(frozen=True, kw_only=True)
class MicrometerShared(Reason):
    """Measured pieces share the error of one micrometer: ±`half` (None: not stated), by `source`."""

    code = Code.MICROMETER_SHARED

    half: Length | None
    source: str


@dataclass(frozen=True, kw_only=True)
class HeatUniform(Reason):
    """The parts of these gaps are equally warm."""

    code = Code.HEAT_UNIFORM
