"""A reading by feeler gauge, at one spot or at several round one face.

A blade that goes and the next one that does not give a bracket (common practice, no published source): the gap is at
least the first and at most the second.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated

from pydantic import BeforeValidator, StrictBool, model_validator

from shimopt.errors import RefusedError
from shimopt.fields import JobTable, Length, PlusMinus, is_bare, one_or_more, whole_number
from shimopt.lengths import Bracket
from shimopt.readings.reading import Basis, Form, Reading, Shape, Term


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
    """One spot's bracket, or from the mean of the lows to the mean of the highs of several. Raises RefusedError."""
    if not spots:
        raise RefusedError("a feeler reading names at least one spot", "give { go = ..., no_go = ... }")
    brackets = [_widened(_spot_bracket(spot), spot) for spot in spots]
    count, bracket, apart = len(brackets), brackets[0], Fraction(0)
    if count > 1:
        bracket = Bracket(
            sum((b.low for b in brackets), Fraction(0)) / count,
            sum((b.best for b in brackets), Fraction(0)) / count,
            sum((b.high for b in brackets), Fraction(0)) / count,
        )
        # spots agree while one gap could lie in all their brackets; beyond that the face is tilted
        apart = max(b.low for b in brackets) - min(b.high for b in brackets)
    tilted = Bracket.between(min(b.low for b in brackets), max(b.high for b in brackets)) if apart > 0 else None
    return Reading(
        bracket,
        "feeler",
        no_preload_assumed=any(not spot.go and spot.snug is None for spot in spots),
        tilt=max(Fraction(0), apart),
        spots=tilted,
        terms=_terms(spots, bracket),
        no_blade=_none_goes(spots[0]) if count == 1 else None,
        by="spots" if count > 1 else "pair" if spots[0].snug is None else "snug",
    )


def _none_goes(spot: Spot) -> int | None:
    """The blade that would not go, where none did and it is as thick as it is marked."""
    return None if spot.go or spot.blade_error else spot.no_go


def _terms(spots: Sequence[Spot], bracket: Bracket) -> tuple[Term, ...]:
    """What a widened bracket is built of: the blades as marked, and their errors, the mean of all spots."""
    if not any(spot.blade_error for spot in spots):
        return ()
    error = Fraction(sum(spot.blade_error * spot.leaves for spot in spots), len(spots))
    half = (bracket.high - bracket.low) / 2
    leaves = Fraction(max(spot.leaves for spot in spots if spot.blade_error))
    return (
        Term("blades", bracket.best, max(Fraction(0), half - error), ()),
        Term("blade_error", Fraction(0), error, (), count=leaves),
    )


def _widened(read: Bracket, spot: Spot) -> Bracket:
    """The bracket as wide as the errors of the blades make it; nothing is thinner than nothing."""
    if spot.blade_error < 0:
        raise RefusedError("a blade's error is not negative", "write it without a sign")
    if spot.leaves < 1:
        raise RefusedError("a reading takes at least one blade", "count the blades that were together")
    wide = spot.blade_error * spot.leaves
    if not wide:
        return read
    low, high = max(Fraction(0), read.low - wide), read.high + wide
    # the best estimate stays where the blades put it, unless nothing cuts the low end short
    return Bracket(low, read.best, high)


def _spot_bracket(spot: Spot) -> Bracket:
    if any(blade is not None and blade < 0 for blade in (spot.go, spot.no_go, spot.snug)):
        raise RefusedError("a blade is not thinner than nothing", "give blades from 0 up")
    if spot.snug is not None:
        return _snug_bracket(spot, spot.snug)
    if spot.step is not None:
        raise RefusedError("`step` belongs to `snug`", "give { snug = ..., step = ... } or { go = ..., no_go = ... }")
    if spot.no_go is None:
        if spot.go is None:
            raise RefusedError("a spot names its blades", "give { go = ..., no_go = ... }")
        raise RefusedError(
            "a blade that goes says only the least the gap can be", "add blades until one does not go: no_go = ..."
        )
    go = spot.go or 0
    if go >= spot.no_go:
        raise RefusedError("the blade that goes is not thinner than the one that does not", "swap go and no_go")
    return Bracket.between(go, spot.no_go)


def _snug_bracket(spot: Spot, snug: int) -> Bracket:
    if spot.go is not None or spot.no_go is not None:
        raise RefusedError("a spot is read by a tight pull or by go and no_go, not both", "keep one of the two")
    if spot.step is None or spot.step <= 0:
        raise RefusedError("a tight pull needs the step between neighbouring blades, above zero", "add step = ...")
    half = Fraction(spot.step, 2)
    if snug < half:
        raise RefusedError("a tight pull on a blade thinner than half a step is no reading", "give { no_go = ... }")
    return Bracket(snug - half, Fraction(snug), snug + half)


class BladesTable(JobTable):
    """The blades of one spot."""

    go: Length | None = None
    no_go: Length | None = None
    snug: Length | None = None
    step: Length | None = None


class FeelerTable(BladesTable):
    """One spot of a feeler reading."""

    blade_error: PlusMinus | None = None
    checked: StrictBool = False
    leaves: Annotated[int, whole_number(1, 50, "the number of blades together", "write it like 2")] | None = None

    def spot(self) -> Spot:
        """The spot as the program uses it. Raises RefusedError."""
        if self.leaves is not None and self.blade_error is None:
            raise RefusedError(
                "`leaves` says how often the error of a blade counts", "add blade_error = ..., for each blade"
            )
        return Spot(self.go, self.no_go, self.snug, self.step, self.blade_error or 0, self.leaves or 1)

    @model_validator(mode="after")
    def _can_be_read(self) -> FeelerTable:
        feeler_reading([self.spot()])
        return self


def blade_pair(spots: Sequence[FeelerTable]) -> tuple[int, int] | None:
    """The two neighbouring blades of a gap read at one spot by marked blades alone [nm]."""
    if len(spots) != 1 or spots[0].go is None or spots[0].no_go is None or spots[0].blade_error:
        return None
    return (spots[0].go, spots[0].no_go) if spots[0].go < spots[0].no_go else None


def _read(spots: Sequence[FeelerTable], _shape: Shape, _basis: Basis) -> Reading:
    return feeler_reading([spot.spot() for spot in spots])


FEELER = Form(
    key="feeler",
    field=Annotated[list[FeelerTable], BeforeValidator(one_or_more)],
    read=_read,
    bare=is_bare,
    blades=blade_pair,
)
