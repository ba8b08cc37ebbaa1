"""The sums that decide, one function each. A stack is a tuple of indices into the job's stock, one per piece."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Literal

from shimopt.job import Gap, Window
from shimopt.lengths import Bracket
from shimopt.parts import StockLine

__all__ = [
    "NOTHING",
    "Stack",
    "Verdict",
    "after_shimming",
    "off_by",
    "stands_out",
    "thickness_of",
    "times",
    "verdict_of",
]

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
    """reading + sum of effect × change of thickness, worst case over reading and pieces; a place not named stays."""
    low, best, high = gap.reading.bracket.low, gap.reading.bracket.best, gap.reading.bracket.high
    for place, effect in gap.effects:
        moved = times(effect, change.get(place, NOTHING))
        low, best, high = low + moved.low, best + moved.best, high + moved.high
    return Bracket(low, best, high)


def times(effect: Fraction, change: Bracket) -> Bracket:
    """What a change of thickness does to a gap; the effect's sign decides which end meets which."""
    ends = (effect * change.low, effect * change.high)
    return Bracket(min(ends), effect * change.best, max(ends))


def off_by(estimate: Fraction, window: Window) -> Fraction:
    """How far an estimate lies outside its window, 0 inside."""
    if window.min is not None and estimate < window.min:
        return window.min - estimate
    if window.max is not None and estimate > window.max:
        return estimate - window.max
    return Fraction(0)


def stands_out(bracket: Bracket, window: Window) -> Fraction:
    """By how much a bracket stands out of its window, both ends together."""
    below = Fraction(0) if window.min is None else max(Fraction(0), window.min - bracket.low)
    above = Fraction(0) if window.max is None else max(Fraction(0), bracket.high - window.max)
    return below + above


def verdict_of(bracket: Bracket, window: Window, *, enough: bool | None = None) -> Verdict:
    """Outside when the best estimate is not in the window; else inside or unproven.

    Inside when the whole bracket lies in the window, or where a chance decides, when it is `enough`.
    """
    if off_by(bracket.best, window) > 0:
        return "outside"
    return "inside" if (stands_out(bracket, window) == 0 if enough is None else enough) else "unproven"
