"""A reading by dial indicator: several pulls, the dial's resolution and permissible error, a lever at an angle.

Mean of n pulls, standard uncertainty s/sqrt(n) with n - 1 degrees of freedom (type A, JCGM 100:2008, 4.2.3); resolution
d spread evenly over ±d/2 (F.2.2.1), permissible error evenly over ± itself (4.3.7). A lever that stands at an angle a
to the face turns further than the face moves: movement = reading × cos a (published tables of makers of such
indicators: 0.200 mm read at 30 degrees are 0.174 mm).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from math import cos, radians
from typing import Annotated, Any

from pydantic import BeforeValidator, StrictBool, model_validator

from shimopt.errors import RefusedError
from shimopt.fields import JobTable, Length, PlusMinus, PositiveLength, is_bare, one_or_more, plain_number
from shimopt.probability import Even, Student, half_width
from shimopt.readings.instruments import (
    DIAL_SOURCE,
    FEWEST_PULLS,
    INDICATOR_ERROR,
    INDICATOR_REPEATABILITY,
    INDICATOR_RESOLUTION,
    dial_error,
)
from shimopt.readings.reading import LIKELY_SHARE, Basis, Form, Reading, Shape, Term, estimated

_MOST_PULLS = 1000
# common practice, no source: pulls of one gap never lie so many times apart, and a slip of a point (10) comes near it
_APART = 8
# ... and they agree with one another where none is more than so many times another
_AGREE = 2


@dataclass(frozen=True, slots=True)
class Dial:
    """What a dial indicator showed and what is known of it [nm, degrees]; None where nobody said.

    `travel`, the dial's measuring range, stands for the error that a standard allows it, where no `error` is stated.
    Read at places `round_wheel`, the smallest counts: a wheel runs out, and there it is tightest.
    """

    readings: Sequence[int]
    resolution: int | None = None
    error: int | None = None
    lever_angle: Decimal | None = None
    travel: int | None = None
    round_wheel: bool = False


def cosine(angle: Decimal) -> Fraction:
    """cos of an angle from 0 to below 90 degrees, rounded to six decimals. Raises RefusedError."""
    if not 0 <= angle < 90:
        raise RefusedError(
            "a lever stands at an angle from 0 to below 90 degrees to the face", "measure the angle between them"
        )
    rounded = Fraction(round(Decimal(cos(radians(float(angle)))), 6))
    if rounded < Fraction(1, 10):
        raise RefusedError("a lever so near to 90 degrees shows nothing of the movement", "set it flatter")
    return rounded


def indicator_reading(dial: Dial, basis: Basis = "95 %") -> Reading:
    """Mean of the pulls, round a wheel the smallest, and how well it is known. Raises RefusedError."""
    pulls = len(dial.readings)
    if not pulls:
        raise RefusedError("an indicator has at least one reading", "write readings = [...], one number for each pull")
    if pulls > _MOST_PULLS:
        raise RefusedError(f"an indicator has at most {_MOST_PULLS:,} readings", "leave some out")
    if dial.resolution is not None and dial.resolution <= 0:
        raise RefusedError("a resolution is above zero", "write the smallest step that you can read on the dial")
    if dial.error is not None and dial.error < 0:
        raise RefusedError("a permissible error is not negative", "write it without a sign")
    factor = Fraction(1) if dial.lever_angle is None else cosine(dial.lever_angle)
    mean = Fraction(min(dial.readings)) if dial.round_wheel else Fraction(sum(dial.readings), pulls)
    # what is corrected is rounded to whole nanometres: its cosine is rounded too
    best = mean if factor == 1 else Fraction(round(mean * factor))
    terms = [Term("round_wheel" if dial.round_wheel else "pulls", mean, Fraction(0), (), count=Fraction(pulls))]
    if factor != 1:
        terms.append(Term("lever", best - mean, Fraction(0), (), f"{dial.lever_angle}", count=factor))
    terms.append(_repeats((min(dial.readings),) if dial.round_wheel else dial.readings, mean, factor))
    resolution = INDICATOR_RESOLUTION if dial.resolution is None else Fraction(dial.resolution)
    error, source = _permissible(dial, resolution)
    for code, half, name, assumed in (
        ("resolution", resolution / 2 * factor, "", dial.resolution is None),
        ("permissible_error", error * factor, source, dial.error is None),
    ):
        as_read = None if factor == 1 else half / factor
        terms.append(Term(code, Fraction(0), half, (Even(half),) if half else (), name, assumed, as_read=as_read))
    found = estimated("indicator", terms, basis)
    # a dial shows no preload: a pull of nothing, or a bracket that reaches below it, may hide one
    nothing = 0 in dial.readings or found.bracket.low <= 0 <= found.bracket.best
    return replace(found, pulls=pulls, no_preload_assumed=nothing)


def refuse_lone_pull(readings: Sequence[int], remedy: str) -> None:
    """Raise RefusedError where one of three pulls or more is about ten times all the others, or a tenth."""
    pulls = sorted(readings)
    ways = (pulls[0], pulls[1:]), (pulls[-1], pulls[:-1])
    for lone, others in ways if len(pulls) >= FEWEST_PULLS else ():
        if lone <= 0 or others[0] <= 0 or others[-1] > _AGREE * others[0]:
            continue
        above, below = Fraction(lone, others[-1]), Fraction(others[0], lone)
        if max(above, below) >= _APART:
            times = f"{round(above)} times" if above > 1 else f"1/{round(below)} of"
            pull = f"pull {readings.index(lone) + 1} is {times} the others"
            raise RefusedError(f"{pull}: its decimal point may have slipped, or its unit", remedy)


def _permissible(dial: Dial, resolution: Fraction) -> tuple[Fraction, str]:
    """The permissible error, and the standard that states it where the shop does not."""
    if dial.error is not None:
        if dial.travel is not None:
            raise RefusedError("`travel` stands for an error that is not stated", "keep one of error and travel")
        return Fraction(dial.error), ""
    if dial.travel is None:
        return INDICATOR_ERROR, ""
    if dial.lever_angle is not None:
        raise RefusedError(
            f"{DIAL_SOURCE} is for dials with a plunger, and a lever angle is stated",
            "state the lever indicator's error = ... instead of travel",
        )
    return dial_error(int(resolution), dial.travel), DIAL_SOURCE


def _repeats(readings: Sequence[int], mean: Fraction, factor: Fraction) -> Term:
    """How well the pulls repeat: from three on by their own spread, below by common practice.

    A spread has no hard bound. As worst case stands (an assumption) the farthest pull, or the mean's 95 % interval
    where that is wider, so that the worst case is never narrower than 95 %.
    """
    pulls = len(readings)
    if pulls < FEWEST_PULLS:
        half = INDICATOR_REPEATABILITY * factor
        as_read = None if factor == 1 else INDICATOR_REPEATABILITY
        return Term("repeatability", Fraction(0), half, (Even(half),), assumed=True, as_read=as_read)
    square = sum(((reading - mean) ** 2 for reading in readings), Fraction(0)) / (pulls - 1) / pulls
    farthest = max(abs(reading - mean) for reading in readings) * factor
    errors = (Student(square * factor**2, pulls - 1),) if square else ()
    worst = max(farthest, Fraction(half_width(errors, LIKELY_SHARE)))
    apart = Fraction(max(readings) - min(readings))
    return Term("repeats", Fraction(0), worst, errors, count=Fraction(pulls), apart=apart)


def _angle(value: Any) -> Decimal:
    number = plain_number(value)
    if number is None:
        raise RefusedError("this is a number", "write it like 30, without quotes")
    if abs(number) > 10**6:
        raise RefusedError("this number is out of all range", "check the digits")
    return number


class IndicatorTable(JobTable):
    """`indicator = { ... }`."""

    readings: Annotated[list[Length], BeforeValidator(one_or_more)]
    resolution: Length | None = None
    error: PlusMinus | None = None
    lever_angle: Annotated[Decimal, BeforeValidator(_angle)] | None = None
    travel: PositiveLength | None = None
    checked: StrictBool = False

    @model_validator(mode="after")
    def _can_be_read(self) -> IndicatorTable:
        _read(self, "rectangular", "95 %")
        return self


def _read(table: IndicatorTable, _shape: Shape, basis: Basis) -> Reading:
    return indicator_reading(_dial(table), basis)


def _read_round_wheel(table: IndicatorTable, basis: Basis) -> Reading:
    return indicator_reading(replace(_dial(table), round_wheel=True), basis)


def _dial(table: IndicatorTable) -> Dial:
    return Dial(table.readings, table.resolution, table.error, table.lever_angle, table.travel)


def _bare(written: Any) -> bool:
    return isinstance(written, dict) and is_bare(written.get("readings"))


INDICATOR = Form(key="indicator", field=IndicatorTable, read=_read, bare=_bare, read_round_wheel=_read_round_wheel)
