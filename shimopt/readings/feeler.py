"""A reading by feeler gauge, at one spot or at several round one face.

A blade that goes and the next one that does not give a bracket (common practice, no published source): the gap is at
least the first and at most the second.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from shimopt.lengths import Bracket
from shimopt.readings.reading import Reading, ReadingError, Term

__all__ = ["Spot", "feeler_reading"]


@dataclass(frozen=True, slots=True)
class Spot:
    """What the blades said at one spot [nm]: which went, which did not; or a tight pull and the blades' step.

    `blade_error` is how far each blade may be from its marking, `leaves` how many were together.
    """

    go: int | None = None
    no_go: int | None = None
    snug: int | None = None
    step: int | None = None
    blade_error: int = 0
    leaves: int = 1


def feeler_reading(spots: Sequence[Spot]) -> Reading:
    """One spot's bracket, or from the mean of the lows to the mean of the highs of several. Raises ReadingError."""
    if not spots:
        raise ReadingError("a feeler reading names at least one spot", "give { go = ..., no_go = ... }")
    brackets = [_widened(_spot_bracket(spot), spot) for spot in spots]
    count = len(brackets)
    bracket = Bracket(
        sum((b.low for b in brackets), Fraction(0)) / count,
        sum((b.best for b in brackets), Fraction(0)) / count,
        sum((b.high for b in brackets), Fraction(0)) / count,
    )
    # spots agree while one gap could lie in all their brackets; beyond that the face is tilted
    apart = max(b.low for b in brackets) - min(b.high for b in brackets)
    return Reading(
        bracket,
        "feeler",
        no_preload_assumed=any(spot.go is None and spot.snug is None for spot in spots),
        tilt=max(Fraction(0), apart),
        terms=_terms(spots, bracket),
    )


def _terms(spots: Sequence[Spot], bracket: Bracket) -> tuple[Term, ...]:
    """What a widened bracket is built of: the blades as marked, and their errors, the mean of all spots."""
    error = Fraction(sum(spot.blade_error * spot.leaves for spot in spots), len(spots))
    if not error:
        return ()
    half = (bracket.high - bracket.low) / 2
    leaves = Fraction(max(spot.leaves for spot in spots if spot.blade_error))
    return (
        Term("blades", bracket.best, max(Fraction(0), half - error), ()),
        Term("blade_error", Fraction(0), error, (), count=leaves),
    )


def _widened(read: Bracket, spot: Spot) -> Bracket:
    """The bracket as wide as the errors of the blades make it; nothing is thinner than nothing."""
    if spot.blade_error < 0:
        raise ReadingError("a blade's error is not negative", "write it without a sign")
    if spot.leaves < 1:
        raise ReadingError("a reading takes at least one blade", "count the blades that were together")
    wide = spot.blade_error * spot.leaves
    if not wide:
        return read
    low, high = max(Fraction(0), read.low - wide), read.high + wide
    # the best estimate stays where the blades put it, unless nothing cuts the low end short
    return Bracket(low, read.best, high)


def _spot_bracket(spot: Spot) -> Bracket:
    if any(blade is not None and blade < 0 for blade in (spot.go, spot.no_go, spot.snug)):
        raise ReadingError("a blade is not thinner than nothing", "give blades from 0 up")
    if spot.snug is not None:
        return _snug_bracket(spot)
    if spot.step is not None:
        raise ReadingError("`step` belongs to `snug`", "give { snug = ..., step = ... } or { go = ..., no_go = ... }")
    if spot.no_go is None:
        if spot.go is None:
            raise ReadingError("a spot names its blades", "give { go = ..., no_go = ... }")
        raise ReadingError(
            "a blade that goes says only the least the gap can be", "add blades until one does not go: no_go = ..."
        )
    go = spot.go or 0
    if go >= spot.no_go:
        raise ReadingError("the blade that goes is not thinner than the one that does not", "swap go and no_go")
    return Bracket.between(go, spot.no_go)


def _snug_bracket(spot: Spot) -> Bracket:
    if spot.go is not None or spot.no_go is not None:
        raise ReadingError("a spot is read by a tight pull or by go and no_go, not both", "keep one of the two")
    if spot.step is None or spot.step <= 0:
        raise ReadingError("a tight pull needs the step between neighbouring blades, above zero", "add step = ...")
    assert spot.snug is not None
    half = Fraction(spot.step, 2)
    if spot.snug < half:
        raise ReadingError("a tight pull on a blade thinner than half a step is no reading", "give { no_go = ... }")
    return Bracket(spot.snug - half, Fraction(spot.snug), spot.snug + half)
