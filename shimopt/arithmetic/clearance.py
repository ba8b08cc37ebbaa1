"""The sums that decide, one function each. A stack is a tuple of indices into the job's stock, one per piece."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from shimopt.job import Gap, Job, Place, Window
from shimopt.lengths import Bracket, ends_beyond
from shimopt.parts import StockLine

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

_Exact = TypeVar("_Exact", int, Fraction, "npt.NDArray[np.int64]")
Stack = tuple[int, ...]
Verdict = Literal["inside", "outside", "unproven"]
NOTHING = Bracket(Fraction(0), Fraction(0), Fraction(0))


def thickness_of(stack: Iterable[int], stock: Sequence[StockLine]) -> Bracket:
    """A stack's thickness: sum of the pieces' lows, of their middles, of their highs."""
    low, best, high = Fraction(0), Fraction(0), Fraction(0)
    for index in stack:
        piece = stock[index].part.thickness
        low, best, high = low + piece.low, best + piece.best, high + piece.high
    return Bracket(low, best, high)


def after_shimming(gap: Gap, change: Mapping[str, Bracket]) -> Bracket:
    """reading + sum of effect × change of thickness, at worst over all three; a place that is not named stays."""
    low, best, high = gap.reading.bracket.low, gap.reading.bracket.best, gap.reading.bracket.high
    for place, effect in gap.effects:
        moved = times(effect, change.get(place, NOTHING), gap.reach(place))
        low, best, high = low + moved.low, best + moved.best, high + moved.high
    return Bracket(low, best, high)


def after_with(job: Job, gap: Gap, stack: Stack) -> Bracket:
    """The same with a stack in the one place that moves the gap."""
    place = job.place[gap.effects[0][0]]
    return after_shimming(gap, {place.name: change_of(place, stack, job.stock)})


def times(effect: Fraction, change: Bracket, reach: tuple[Fraction, Fraction] | None = None) -> Bracket:
    """What a change of thickness does to a gap, at worst over the change and over how far the effect may `reach`."""
    ends = [end * side for end in {*(reach or (effect,))} for side in (change.low, change.high)]
    return Bracket(min(ends), effect * change.best, max(ends))


def off_by(estimate: Fraction, window: Window) -> Fraction:
    """How far an estimate lies outside its window, 0 inside."""
    return window.off(estimate)


def stands_out(bracket: Bracket, window: Window) -> Fraction:
    """By how much a bracket stands out of its window, both ends together."""
    return window.out(bracket.low, bracket.high)


def out_at_ends(bracket: Bracket, window: Window) -> tuple[Fraction, Fraction]:
    """By how much a bracket stands out of its window below and above."""
    return ends_beyond(bracket.low, bracket.high, window.min, window.max)


def unproven(off: _Exact, out: _Exact, enough: bool | None) -> Any:
    """Whether a gap is inside by its best estimate only; of many gaps at once too.

    Parameters: off, how far the best estimate is outside; out, by how much the bracket stands out; enough, where a
    chance decides, whether it is as good as asked.
    """
    return (off == 0) & (out > 0 if enough is None else not enough)


def verdict_of(bracket: Bracket, window: Window, *, enough: bool | None = None) -> Verdict:
    """Outside when the best estimate is not in the window; else inside or unproven.

    Inside when the whole bracket lies in the window, or where a chance decides, when it is `enough`.
    """
    if off := off_by(bracket.best, window):
        return "outside"
    return "unproven" if unproven(off, stands_out(bracket, window), enough) else "inside"


def enough_of(gap: Gap, chance: Fraction | float | None) -> bool | None:
    """Whether a gap is as good as it has to be by its chance; None where its bracket decides.

    Never where it may be tight already. Parameter: chance, None where no chance decides.
    """
    if gap.may_be_tight:
        return False
    return None if gap.least_chance is None or chance is None else chance >= gap.least_chance


def change_of(place: Place, stack: Stack, stock: Sequence[StockLine]) -> Bracket:
    """The change of thickness: what goes in less what comes out.

    A piece that goes back into its own place cancels exactly; any other counts its error once.
    """
    if not place.installed:
        return thickness_of(stack, stock)
    into, out = turnover(place.installed, stack)
    gained, lost = thickness_of(into, stock), thickness_of(out, stock)
    return Bracket(gained.low - lost.high, gained.best - lost.best, gained.high - lost.low)


def turnover(before: Stack, stack: Stack) -> tuple[Stack, Stack]:
    """The pieces that go in and those that come out; what goes back in is neither."""
    new, old = Counter(stack), Counter(before)
    return tuple((new - old).elements()), tuple((old - new).elements())


def opened(place: Place, stack: Stack) -> bool:
    """Whether a place with pieces in it gets others."""
    return bool(place.installed) and stack != place.installed


def pieces_in(stack: Iterable[int], stock: Sequence[StockLine]) -> tuple[tuple[str, Fraction], ...]:
    """What equal packs have in common: their pieces by name, and by measure where one is not as marked."""
    return tuple(sorted(stock[i].part.like for i in stack))


def unlike(job: Job, stacks: Mapping[str, Stack], names: Sequence[str]) -> bool:
    """Whether the packs of places that must match hold other pieces than one another."""
    return len({pieces_in(stacks.get(name, ()), job.stock) for name in names}) > 1


def stays(job: Job, place: Place) -> bool:
    """Whether a place keeps what is in it: every gap that it moves is inside as read, and it does not say otherwise.

    One that is held keeps it in any case.
    """
    if place.held:
        return True
    if not place.installed or not place.keep:
        return False
    for gap in job.moved_by[place.name]:
        best, target = gap.reading.bracket.best, gap.window.target
        if off_by(best, gap.window):
            return False
        if place.keep_within is not None and target is not None and abs(best - target) > place.keep_within:
            return False
    return True


def further(job: Job, place: str, stack: Stack) -> int:
    """How far a stack is from what was in the place, squared.

    The squares of all places of a total add up to least where each stays as near as it can and none gives way alone:
    they are the distance from the old split in a straight line. Best estimates lie in the middle of whole nanometres,
    so half nanometres make whole numbers.
    """
    was = thickness_of(job.place[place].installed, job.stock).best
    return int(2 * (thickness_of(stack, job.stock).best - was)) ** 2
