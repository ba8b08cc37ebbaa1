"""Kinds of reasons of places that held pieces, of places that act together, of balances, and kinds of assumptions."""

from __future__ import annotations

from fractions import Fraction

from shimopt.arithmetic.clearance import Stack
from shimopt.job.gap import Side
from shimopt.reasons.gap_reasons import Length, Reason


class Stays(Reason):
    """What was in, `stack`, stays in; the gap was `read` with it, inside: surely, or by its best estimate."""

    stack: Stack
    read: Length
    sure: bool = True


class StaysOutside(Stays):
    """The same, `off` outside on `side`."""

    off: Length
    side: Side


class SwappedInside(Reason):
    """`stack` in place of what was in, `held`, though the gap was inside, surely or by its best estimate."""

    stack: Stack
    held: Stack
    read: Length
    after: Length
    sure: bool = True


class Swapped(SwappedInside):
    """The same for a gap that was `off` outside, where `preload` is wanted or not."""

    off: Length = 0
    side: Side = "over"
    preload: bool = False


class NoPlaceMoves(Reason):
    """A gap that nothing moves, `off` outside on a `side` (0: inside, surely or by its best estimate)."""

    read: Length
    off: Length
    side: Side
    sure: bool = True


class PlaceStays(Reason):
    """A place keeps what is in it, for the gaps that `names` names are inside."""

    stack: Stack


class Together(Reason, code=""):
    """What the places that `names` names do to a gap: `off` its window (0: inside) as `read`, it comes to `after`.

    `preload` says whether the window wants one, `sure` whether it is surely inside after that, where it is inside, and
    `sure_before` whether it was as read.
    """

    read: Length
    off: Length
    side: Side
    preload: bool
    after: Length
    sure: bool = True
    sure_before: bool = True


class TogetherLeft(Together):
    """They do nothing."""


class TogetherMoved(Together):
    """They bring it inside."""


class TogetherStillInside(Together):
    """It was inside and stays so."""


class TogetherOutside(Together):
    """They leave it `still` outside on `side_after`, perhaps further than it was; `served` are gaps that gain by it.

    `doubt` is by how much it could be outside as read, where it was inside by its best estimate.
    """

    still: Length = 0
    side_after: Side = "over"
    doubt: Length = 0
    served: tuple[str, ...] = ()


class TogetherNearest(Reason):
    """No stacks bring it inside; `stacks` by place come nearest, to `after`, `still` outside, and are not fitted."""

    stacks: tuple[tuple[str, Stack], ...]
    after: Length
    still: Length
    side_after: Side


class WindowsFight(Reason):
    """The windows of these gaps miss each other by `short` in all, whatever thickness goes where."""

    short: Length


class NoStacksForAll(Reason):
    """Some thickness brings these gaps inside, but no stacks that can be had do; packs at `alike` have to match."""

    alike: tuple[str, ...] = ()


class MoreThickness(Reason):
    """What `step` more at a place adds to each gap."""

    step: Length
    changes: tuple[tuple[str, Length], ...]


class ShiftThickness(MoreThickness):
    """What `step` less at the first of two places and more at the other adds to each gap."""


class SplitNotStated(Reason):
    """Nothing states how the places that `names` names share a gap's total: it stays nearest to what was in."""


class SplitByName(SplitNotStated):
    """The same where nothing was in: among equals the names of parts decide."""


class BalanceSetAside(Reason):
    """A balance is not compared while the gaps that `names` names are outside."""


class NotWithin(Reason):
    """A balance is `over` more uneven than asked, proven; parts that `names` names would even it, but don't suit.

    Proven as far as what is in at the places `kept` stays and the levels that the job's priority puts `first` come
    first; `together` where other balances count with it, so that all of them in all are as even as can be.
    """

    before: Length
    after: Length
    within: Length
    over: Length
    kept: tuple[str, ...] = ()
    first: tuple[str, ...] = ()
    together: bool = False


class NotWithinFound(NotWithin):
    """The same, not proven."""


class LeftUneven(Reason):
    """A balance without a limit is uneven."""

    before: Length
    after: Length


class NoPrice(Reason):
    """A part to buy has no price."""


class FigureAssumed(Reason, code=""):
    """A term of a reading is taken as right to ±`half`; `names` the part or the standard where there is one."""

    half: Length


class RepeatabilityAssumed(FigureAssumed):
    """How well an indicator repeats."""


class ResolutionAssumed(FigureAssumed):
    """How finely a dial can be read."""


class PermissibleErrorAssumed(FigureAssumed):
    """How right a dial is."""


class DimensionAssumed(FigureAssumed):
    """How right a dimension is."""


class GasketAssumed(FigureAssumed):
    """How right a gasket's thickness is."""


class CrushAssumed(FigureAssumed):
    """How far a gasket's crush may be off, which comes to ±`half`; `spread` in per cent of its free thickness."""

    spread: Fraction


class FarthestPull(Reason):
    """At worst the mean is as far off as the farthest pull."""


class ErrorsIndependent(Reason):
    """The errors of these readings are independent of each other."""


class UnmeasuredIndependent(Reason):
    """Unmeasured pieces are independent of each other."""


class MeasuredIndependent(Reason):
    """Measured pieces are independent of each other."""


class MicrometerShared(Reason):
    """Measured pieces share the error of one micrometer: ±`half` (None: not stated), by `source`."""

    half: Length | None
    source: str


class GaugeRepeats(Reason):
    """One reading of these gaps is off by the standard deviation `half`; `coarse` those whose blades promise more."""

    half: Length
    coarse: tuple[str, ...] = ()


class SizesLearnt(Reason):
    """Chances count these parts as thick as the shop's records say that their suppliers' pieces run."""


class HeatUniform(Reason):
    """The parts of these gaps are equally warm."""
