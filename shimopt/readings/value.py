"""A reading given as a number, with or without ±: `value = "0.35 mm ± 0.01 mm"`, or a row of a table of gaps."""

from __future__ import annotations

from fractions import Fraction

from shimopt.errors import RefusedError
from shimopt.fields import Reach, is_bare
from shimopt.lengths import Bracket
from shimopt.probability import Error, Even, Normal, triangular
from shimopt.readings.reading import Basis, Form, Reading, Shape, Term, estimated

__all__ = ["VALUE", "bracket_reading", "errors_of_half", "value_reading"]


def errors_of_half(half: Fraction, shape: Shape) -> tuple[Error, ...]:
    """How an error stated as ± `half` is spread; for a normal one ± is taken as two standard uncertainties."""
    if not half:
        return ()
    match shape:
        case "rectangular":
            return (Even(half),)
        case "triangular":
            return triangular(half)
        case "normal":
            # k = 2, as certificates state it (JCGM 100, 6.3.3)
            return (Normal(half**2 / 4),)


def value_reading(value: Bracket, shape: Shape = "rectangular", basis: Basis = "95 %") -> Reading:
    """The reading that `value = "0.35 mm ± 0.01 mm"` states; without ± it is taken as exact.

    The ± is a hard bound, spread evenly or in a triangle; only where it is called normal is it two standard
    uncertainties, and the bracket one of 95 % unless the worst case is asked for.
    """
    half = value.high - value.best
    if shape == "rectangular" or not half:
        return Reading(value, "value", no_preload_assumed=value.low == value.best == 0)
    term = Term("stated", value.best, half, errors_of_half(half, shape))
    return estimated("value", (term,), "worst case" if shape == "triangular" else basis)


def bracket_reading(low: int, high: int, best: int | None) -> Reading:
    """The reading that a row of a gaps table states [nm]. Raises RefusedError."""
    if low > high:
        raise RefusedError("low is above high", "swap them")
    if best is not None and not low <= best <= high:
        raise RefusedError("best lies outside low and high", "give a best estimate between them, or leave it blank")
    bracket = Bracket.between(low, high)
    if best is not None:
        bracket = Bracket(bracket.low, Fraction(best), bracket.high)
    return Reading(bracket, "table")


VALUE = Form(key="value", field=Reach, read=value_reading, takes_shape=True, bare=is_bare)
