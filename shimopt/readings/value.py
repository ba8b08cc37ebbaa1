"""A reading given as a number, with or without ±."""

from __future__ import annotations

from fractions import Fraction

from shimopt.lengths import Bracket
from shimopt.readings.built_up import Shape, errors_of_half
from shimopt.readings.reading import Basis, Reading, ReadingError, Term, estimated

__all__ = ["bracket_reading", "value_reading"]


def value_reading(value: Bracket, shape: Shape = "rectangular", basis: Basis = "95 %") -> Reading:
    """The reading that `value = "0.35 mm ± 0.01 mm"` states; without ± it is taken as exact.

    The ± is a hard bound, spread evenly or in a triangle; only where it is called normal is it two standard
    uncertainties, and the bracket one of 95 % unless the worst case is asked for.
    """
    half = value.high - value.best
    if shape == "rectangular" or not half:
        return Reading(value, "value")
    term = Term("stated", value.best, half, errors_of_half(half, shape))
    return estimated("value", (term,), "worst case" if shape == "triangular" else basis)


def bracket_reading(low: int, high: int, best: int | None) -> Reading:
    """The reading that a row of a gaps table states [nm]. Raises ReadingError."""
    if low > high:
        raise ReadingError("low is above high", "swap them")
    if best is not None and not low <= best <= high:
        raise ReadingError("best lies outside low and high", "give a best estimate between them, or leave it blank")
    bracket = Bracket.between(low, high)
    if best is not None:
        bracket = Bracket(bracket.low, Fraction(best), bracket.high)
    return Reading(bracket, "table")
