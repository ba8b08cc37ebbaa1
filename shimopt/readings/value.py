"""A reading given as a number, with or without ±: `value = "0.35 mm ± 0.01 mm"`, or a row of a table of gaps."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any, TypeVar

from shimopt.errors import RefusedError
from shimopt.fields import Reach, is_bare
from shimopt.lengths import Bracket, beyond
from shimopt.probability import Error, Even, Normal, triangular
from shimopt.readings.reading import Basis, Form, Reading, Shape, Term, estimated

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

_Exact = TypeVar("_Exact", int, "npt.NDArray[np.int64]")


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
    # what reads as nothing may be less, however finely it was read
    nothing = value.low <= 0 <= value.best
    if shape == "rectangular" or not half:
        return Reading(value, "value", no_preload_assumed=nothing)
    term = Term("stated", value.best, half, errors_of_half(half, shape))
    read = estimated("value", (term,), "worst case" if shape == "triangular" else basis)
    return replace(read, no_preload_assumed=nothing)


# what cannot be in a bracket: the rule, and its remedy
OUT_OF_ORDER = {
    "low": ("low is above high", "swap them"),
    "best": ("best lies outside low and high", "give a best estimate between them, or leave it blank"),
}


def out_of_order(low: _Exact, high: _Exact, best: _Exact | None) -> dict[str, Any]:
    """What cannot be in a bracket: low above high, a best estimate outside; of many brackets at once too."""
    found: dict[str, Any] = {"low": low > high}
    return found if best is None else found | {"best": beyond(best, best, low, high) > 0}


def bracket_reading(low: int, high: int, best: int | None) -> Reading:
    """The reading that a row of a gaps table states [nm]. Raises RefusedError."""
    for key, wrong in out_of_order(low, high, best).items():
        if wrong:
            raise RefusedError(*OUT_OF_ORDER[key])
    bracket = Bracket.between(low, high)
    if best is not None:
        bracket = Bracket(bracket.low, Fraction(best), bracket.high)
    return Reading(bracket, "table")


VALUE = Form(key="value", field=Reach, read=value_reading, takes_shape=True, bare=is_bare)
