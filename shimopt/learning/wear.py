"""Where a gap wears from rebuild to rebuild: a straight line through dated readings, and what the next one will need.

Each reading counts by how well it is known (weighted least squares with known variances). Where readings lie further
from the line than their brackets explain but once in 20 times, their own scatter is taken (Birge's ratio, with
Student's t): then wear is not as straight as the line, and what is said is wider. Where all of them lie within one step
of the blades they are rounded alike, which no number of them averages away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from fractions import Fraction
from math import sqrt

from shimopt.probability import Even, Normal, Student, half_width

# fewer days of reading make no line
FEWEST_DAYS = 3
_SHARE = Fraction(95, 100)
_YEAR = 365.25
# what a blade's even bracket leaves is never less than a micrometre (common practice, no source) [nm]
_FINEST = Fraction(1_000)


class LeftOut(StrEnum):
    """Why a reading says nothing of wear."""

    OFF = "not as predicted"
    NOTHING = "of nothing"
    NO_DAY = "without a day"
    TO_COME = "of a day yet to come"


@dataclass(frozen=True, slots=True)
class Dated:
    """What a gap was on a day [nm], and the variance of that [nm²]."""

    date: str
    value: Fraction
    square: Fraction


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value, and from where to where it is 19 times in 20 [nm]."""

    best: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Wear:
    """A line through readings: `a_year` how much the gap grows in a year, `next` what it is at the `next_date`.

    That is as long after the last reading as readings lie apart on average. `scatters`: they lie further from the line
    than their brackets explain.
    """

    readings: tuple[Dated, ...]
    a_year: Estimate
    next_date: str
    next: Estimate
    scatters: bool

    @property
    def shows(self) -> bool:
        """Whether it surely grows, or surely shrinks."""
        return self.a_year.low > 0 or self.a_year.high < 0


def _is_day(text: str) -> bool:
    """Whether a text is a day of the calendar, in ISO 8601."""
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def no_day(told: str) -> LeftOut | None:
    """Why a record's date is none to go by; in some places tomorrow has begun already."""
    if not _is_day(told):
        return LeftOut.NO_DAY
    return LeftOut.TO_COME if told > (date.today() + timedelta(days=1)).isoformat() else None


def _rounded_alike(readings: Sequence[Dated]) -> float:
    """The variance that no number of readings averages away [nm²]; 0 where they lie more than a step apart."""
    finest = float(min(reading.square for reading in readings))
    values = [float(reading.value) for reading in readings]
    # an even bracket as long as a step has the variance step²/12
    return finest if max(values) - min(values) <= sqrt(12 * finest) else 0.0


def _seldom_above(dof: int) -> float:
    """What chi-squared over its degrees of freedom exceeds once in 20 times (Wilson and Hilferty, 1931)."""
    part = 2 / (9 * dof)
    return (1 - part + 1.645 * sqrt(part)) ** 3


def wear_of(readings: Sequence[Dated]) -> Wear | None:
    """The line through readings of one gap that have a date; None where they are of fewer than three days."""
    readings = [reading for reading in readings if _is_day(reading.date)]
    days = [date.fromisoformat(reading.date).toordinal() for reading in readings]
    if len(set(days)) < FEWEST_DAYS:
        return None
    weights = [1 / float(max(reading.square, _FINEST**2)) for reading in readings]
    values = [float(reading.value) for reading in readings]
    total = sum(weights)
    middle = sum(w * day for w, day in zip(weights, days, strict=True)) / total
    mean = sum(w * value for w, value in zip(weights, values, strict=True)) / total
    spread = sum(w * (day - middle) ** 2 for w, day in zip(weights, days, strict=True))
    slope = sum(w * (day - middle) * value for w, day, value in zip(weights, days, values, strict=True)) / spread
    off = sum(
        w * (value - mean - slope * (day - middle)) ** 2 for w, day, value in zip(weights, days, values, strict=True)
    )
    dof = len(readings) - 2
    scatter, alike = off / dof, _rounded_alike(readings)
    scatters = scatter > _seldom_above(dof)
    ahead = max(days) + round((max(days) - min(days)) / (len(set(days)) - 1))

    def known(best: float, square: float, rounded: float = 0.0) -> Estimate:
        """An estimate of this variance by the brackets alone [nm²], beside it evenly off by up to `rounded` [nm]."""
        error = Student(Fraction(square * scatter), dof) if scatters else Normal(Fraction(square))
        half = half_width([error, *([Even(Fraction(rounded))] if rounded else [])], _SHARE)
        return Estimate(best, best - half, best + half)

    return Wear(
        tuple(readings),
        known(slope * _YEAR, _YEAR**2 * (1 / spread + 2 * alike / (max(days) - min(days)) ** 2)),
        date.fromordinal(ahead).isoformat(),
        known(
            mean + slope * (ahead - middle),
            (0.0 if alike else 1 / total) + (ahead - middle) ** 2 / spread,
            sqrt(3 * alike),
        ),
        scatters,
    )
