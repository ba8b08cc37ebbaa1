"""Where a gap wears from rebuild to rebuild: a straight line through dated readings, and what the next one will need.

A reading says between which blades a gap lies, not where: the line has to pass there on that day. How likely a line is
by all of them is a product of such shares, each with the normal errors of the pieces that were in and of the hand; how
far the hand errs is not known beforehand and is summed over a grid, so readings that lie on no straight line make what
is said wider by themselves. Lines are told by where they are on the first and on the last day, each as likely
beforehand. Plain least squares counts what blades leave open once for where the line is and again for how steep it is:
its ranges hold 99 times in 100 where a gap wears slowly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from fractions import Fraction

import numpy as np

from shimopt.learning.mixture import Floats, normal_share

# fewer days of reading make no line
FEWEST_DAYS = 2
_YEAR = 365.25
# a reading is never known better than to a micrometre (common practice, no source) [nm]
_FINEST = 1_000.0
# how far a hand errs, in steps between blades: from next to nothing up, beforehand half a Student's t (3 dof)
_HANDS, _HAND_USUAL, _LEAST_HAND, _MOST_HAND = 10, 0.1, 0.01, 8.0
# further than half a step is not the hand's alone
_TOO_FAR = 0.5
# lines that are looked at: by where they are on the first day and on the last
_LINES, _REACH = 31, 3.5
_SHARE_AT = np.linspace(-6.0, 6.0, 2_401)
_SHARE = normal_share(_SHARE_AT)


class LeftOut(StrEnum):
    """Why a reading says nothing of wear."""

    OFF = "not as predicted"
    NOTHING = "of nothing"
    NO_DAY = "without a day"
    TO_COME = "of a day yet to come"


@dataclass(frozen=True, slots=True)
class Dated:
    """What a gap was on a day, give or take `half` [nm], evenly; `pieces`: the variance of those that were in [nm²]."""

    date: str
    value: Fraction
    half: Fraction
    pieces: Fraction = Fraction(0)


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


@dataclass(frozen=True, slots=True)
class _Lines:
    """Lines by where they are on the `first` and on the `last` day, each with its weight, and the hand's error."""

    first: Floats
    last: Floats
    weights: Floats
    hand: float


def wear_of(readings: Sequence[Dated]) -> Wear | None:
    """The line through readings of one gap that have a date; None where they are of too few days."""
    readings = [reading for reading in readings if _is_day(reading.date)]
    days = [date.fromisoformat(reading.date).toordinal() for reading in readings]
    if len(set(days)) < FEWEST_DAYS:
        return None
    long = max(days) - min(days)
    ahead = round(long / (len(set(days)) - 1))
    at: Floats = (np.array(days, float) - min(days)) / long
    found = _by_all_hands(readings, at)
    first, last, weights = (np.concatenate([getattr(one, name) for one in found]) for name in _COLUMNS)
    too_far = sum(float(one.weights.sum()) for one in found if one.hand > _TOO_FAR)
    return Wear(
        tuple(readings),
        _estimate((last - first) * _YEAR / long, weights),
        date.fromordinal(max(days) + ahead).isoformat(),
        _estimate(last + (last - first) * ahead / long, weights),
        too_far > float(weights.sum()) / 2,
    )


_COLUMNS = ("first", "last", "weights")


def _by_all_hands(readings: Sequence[Dated], at: Floats) -> list[_Lines]:
    """Lines for each error of the hand; `at` is 0 on the first day and 1 on the last."""
    values = np.array([float(reading.value) for reading in readings])
    half = np.array([max(float(reading.half), _FINEST) for reading in readings])
    pieces = np.array([float(reading.pieces) for reading in readings])
    step = 2 * float(np.median(half))
    most = max(_MOST_HAND, float(np.ptp(values)) / step)
    hands = np.geomspace(_LEAST_HAND, most, _HANDS)
    likely = hands / (1 + (hands / _HAND_USUAL) ** 2) ** 2
    found = []
    for hand, share in zip(hands.tolist(), likely.tolist(), strict=True):
        spread = np.sqrt(pieces + (hand * step) ** 2)
        if (lines := _by_hand(values, half, spread, at)) is not None:
            first, last, weights = lines
            found.append(_Lines(first, last, share * weights, hand))
    return found


def _by_hand(values: Floats, half: Floats, spread: Floats, at: Floats) -> tuple[Floats, Floats, Floats] | None:
    """Lines, and how likely each is where readings err so, normally; None where there are none."""
    reach = half + _REACH * spread
    ends = []
    for day in (0.0, 1.0):
        low, high = (values - reach)[at == day].max(), (values + reach)[at == day].min()
        if low >= high:
            return None
        ends.append(low + (high - low) * (np.arange(_LINES) + 0.5) / _LINES)
    first, last = (grid.ravel() for grid in np.meshgrid(*ends, indexing="ij"))
    weights = np.full(len(first), (ends[0][1] - ends[0][0]) * (ends[1][1] - ends[1][0]))
    for value, wide, err, when in zip(values, half, spread, at, strict=True):
        off = first + (last - first) * when - value
        weights *= np.interp((off + wide) / err, _SHARE_AT, _SHARE) - np.interp((off - wide) / err, _SHARE_AT, _SHARE)
    return first, last, weights


def _estimate(lengths: Floats, weights: Floats) -> Estimate:
    """The mean, and the middle 95 %."""
    order = np.argsort(lengths)
    share = np.cumsum(weights[order])
    low, high = np.interp(np.array([0.025, 0.975]) * share[-1], share - weights[order] / 2, lengths[order])
    return Estimate(float(lengths @ weights / share[-1]), float(low), float(high))
