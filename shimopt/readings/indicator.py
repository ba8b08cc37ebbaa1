"""A reading by dial indicator: several pulls, the dial's resolution and permissible error, a lever at an angle.

Mean of n pulls, standard uncertainty s/sqrt(n) with n - 1 degrees of freedom (type A, JCGM 100:2008, 4.2.3); resolution
d spread evenly over ±d/2 (F.2.2.1), permissible error evenly over ± itself (4.3.7). A lever that stands at an angle a
to the face turns further than the face moves: movement = reading × cos a (published tables of makers of such
indicators: 0.200 mm read at 30 degrees are 0.174 mm).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import cos, radians

from shimopt.probability import Even, Student, half_width
from shimopt.readings.defaults import FEWEST_PULLS, INDICATOR_ERROR, INDICATOR_REPEATABILITY, INDICATOR_RESOLUTION
from shimopt.readings.instruments import DIAL_SOURCE, dial_error
from shimopt.readings.reading import LIKELY_SHARE, Basis, Reading, ReadingError, Term, estimated

__all__ = ["Dial", "cosine", "indicator_reading"]

_MOST_PULLS = 1000


@dataclass(frozen=True, slots=True)
class Dial:
    """What a dial indicator showed and what is known of it [nm, degrees]; None where nobody said.

    `travel`, the dial's measuring range, stands for the error that a standard allows it, where no `error` is stated.
    """

    readings: Sequence[int]
    resolution: int | None = None
    error: int | None = None
    lever_angle: Decimal | None = None
    travel: int | None = None


def cosine(angle: Decimal) -> Fraction:
    """cos of an angle from 0 to below 90 degrees, rounded to six decimals. Raises ReadingError."""
    if not 0 <= angle < 90:
        raise ReadingError(
            "a lever stands at an angle from 0 to below 90 degrees to the face", "measure the angle between them"
        )
    rounded = Fraction(round(Decimal(cos(radians(float(angle)))), 6))
    if rounded < Fraction(1, 10):
        raise ReadingError("a lever so near to 90 degrees shows nothing of the movement", "set it flatter")
    return rounded


def indicator_reading(dial: Dial, basis: Basis = "95 %") -> Reading:
    """Mean of the pulls and how well it is known. Raises ReadingError."""
    pulls = len(dial.readings)
    if not pulls:
        raise ReadingError("an indicator has at least one reading", "write readings = [...], one number for each pull")
    if pulls > _MOST_PULLS:
        raise ReadingError(f"an indicator has at most {_MOST_PULLS:,} readings", "leave some out")
    if dial.resolution is not None and dial.resolution <= 0:
        raise ReadingError("a resolution is above zero", "write the smallest step that you can read on the dial")
    if dial.error is not None and dial.error < 0:
        raise ReadingError("a permissible error is not negative", "write it without a sign")
    factor = Fraction(1) if dial.lever_angle is None else cosine(dial.lever_angle)
    mean = Fraction(sum(dial.readings), pulls)
    # a corrected mean is rounded to whole nanometres: its cosine is rounded too
    best = mean if factor == 1 else Fraction(round(mean * factor))
    terms = [Term("pulls", best, Fraction(0), (), count=Fraction(pulls))]
    if factor != 1:
        terms.append(Term("lever", Fraction(0), Fraction(0), (), count=factor))
    terms.append(_repeats(dial.readings, mean, factor))
    resolution = INDICATOR_RESOLUTION if dial.resolution is None else Fraction(dial.resolution)
    error, source = _permissible(dial, resolution)
    for code, half, name, assumed in (
        ("resolution", resolution / 2 * factor, "", dial.resolution is None),
        ("permissible_error", error * factor, source, dial.error is None),
    ):
        terms.append(Term(code, Fraction(0), half, (Even(half),) if half else (), name, assumed))
    found = estimated("indicator", terms, basis)
    return Reading(
        found.bracket,
        found.kind,
        found.basis,
        spread=found.spread,
        terms=found.terms,
        worst=found.worst,
        likely=found.likely,
        pulls=pulls,
    )


def _permissible(dial: Dial, resolution: Fraction) -> tuple[Fraction, str]:
    """The permissible error, and the standard that states it where the shop does not."""
    if dial.error is not None:
        if dial.travel is not None:
            raise ReadingError("`travel` stands for an error that is not stated", "keep one of error and travel")
        return Fraction(dial.error), ""
    if dial.travel is None:
        return INDICATOR_ERROR, ""
    return dial_error(int(resolution), dial.travel), DIAL_SOURCE


def _repeats(readings: Sequence[int], mean: Fraction, factor: Fraction) -> Term:
    """How well the pulls repeat: from three on by their own spread, below by common practice.

    A spread has no hard bound. As worst case stands (an assumption) the farthest pull, or the mean's 95 % interval
    where that is wider, so that the worst case is never narrower than 95 %.
    """
    pulls = len(readings)
    if pulls < FEWEST_PULLS:
        half = INDICATOR_REPEATABILITY * factor
        return Term("repeatability", Fraction(0), half, (Even(half),), assumed=True)
    square = sum(((reading - mean) ** 2 for reading in readings), Fraction(0)) / (pulls - 1) / pulls
    farthest = max(abs(reading - mean) for reading in readings) * factor
    errors = (Student(square * factor**2, pulls - 1),) if square else ()
    worst = max(farthest, Fraction(half_width(errors, LIKELY_SHARE)))
    return Term("repeats", Fraction(0), worst, errors, count=Fraction(pulls))
