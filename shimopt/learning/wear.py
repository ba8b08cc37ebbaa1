"""Where a gap wears from rebuild to rebuild: a straight line through dated readings, and what the next one will need.

A reading says between which blades a gap lies, not where: the line has to pass there on that day. How likely a line is
by all of them is a product of such shares, each with the normal errors of the pieces that were in and of the hand. What
a stack is off is the same as long as it stays in: that says nothing of wear. How far the hand errs is not known
beforehand and is summed over a grid, so readings that lie on no straight line make what is said wider by themselves.
Lines are told by where they are on the first and on the last day, each as likely beforehand. Plain least squares counts
what blades leave open once for where the line is and again for how steep it is: its ranges hold 99 times in 100 where a
gap wears slowly.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from fractions import Fraction
from math import pi, sqrt

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
# lines that are looked at, each way: within so many standard deviations; lighter ones matter no more
_LINES, _REACH, _LIGHT = 25, 4.5, 1e-4
# how far a stack may be off
_NODES, _REACH_OF_STACK = 15, 2.8
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
    """What a gap was on a day, give or take `half` [nm], evenly.

    `pieces`: the variance of those that were in [nm²], the same error wherever the same `stack` was in; `own`: that of
    the gauge, where it is known.
    """

    date: str
    value: Fraction
    half: Fraction
    pieces: Fraction = Fraction(0)
    stack: str = ""
    own: Fraction = Fraction(0)


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


def wear_of(readings: Sequence[Dated]) -> Wear | None:
    """The line through readings of one gap that have a date; None where they are of too few days."""
    readings = [reading for reading in readings if _is_day(reading.date)]
    days = [date.fromisoformat(reading.date).toordinal() for reading in readings]
    if len(set(days)) < FEWEST_DAYS:
        return None
    long = max(days) - min(days)
    ahead = round(long / (len(set(days)) - 1))
    first, last, weights, too_far = _lines(_Readings.of(readings, (np.array(days, float) - min(days)) / long))
    return Wear(
        tuple(readings),
        _estimate((last - first) * _YEAR / long, weights),
        date.fromordinal(max(days) + ahead).isoformat(),
        _estimate(last + (last - first) * ahead / long, weights),
        too_far > 0.5,
    )


@dataclass(frozen=True, slots=True)
class _Readings:
    """By reading: its value and half [nm], the variance of its own errors [nm²], and `at`, 0 on the first day and 1 on
    the last; `shared`: readings of one stack by their numbers, and the variance of its pieces.
    """

    values: Floats
    half: Floats
    own: Floats
    at: Floats
    shared: tuple[tuple[list[int], float], ...]

    @classmethod
    def of(cls, readings: Sequence[Dated], at: Floats) -> _Readings:
        """Those of one gap; a stack that was read once errs as its reading does."""
        values, half, own, pieces = (
            np.array([float(getattr(reading, name)) for reading in readings])
            for name in ("value", "half", "own", "pieces")
        )
        times = Counter(reading.stack for reading in readings if reading.stack and reading.pieces)
        stacks = [stack for stack, count in times.items() if count > 1]
        shared = [[at for at, reading in enumerate(readings) if reading.stack == stack] for stack in stacks]
        alone = np.array([reading.stack not in stacks for reading in readings])
        return cls(
            values, np.maximum(half, _FINEST), own + pieces * alone, at, tuple((of, pieces[of[0]]) for of in shared)
        )


def _lines(read: _Readings) -> tuple[Floats, Floats, Floats, float]:
    """Lines: where they are on the first day and on the last, how likely each is, and that a hand alone errs not so."""
    step = 2 * float(np.median(read.half))
    most = max(_MOST_HAND, float(np.ptp(read.values)) / step)
    hands = np.geomspace(_LEAST_HAND, most, _HANDS)
    likely = hands / (1 + (hands / _HAND_USUAL) ** 2) ** 2
    found = [(hand, share, _by_hand(read, (hand * step) ** 2)) for hand, share in zip(hands, likely, strict=True)]
    first, last = (np.concatenate([lines[end] for *_, (lines, _) in found]) for end in (0, 1))
    weights = np.concatenate([share * told for _, share, (_, told) in found])
    far = np.concatenate([np.full(len(told), hand > _TOO_FAR) for hand, _, (_, told) in found])
    return first, last, weights, float(weights[far].sum() / weights.sum())


def _by_hand(read: _Readings, hand: float) -> tuple[Floats, Floats]:
    """Lines, and the weight of each where the hand errs by this variance [nm²].

    They lie in a grid about what least squares holds likely, and again in one about those that the readings allow.
    """
    ends = np.stack([1 - read.at, read.at], axis=1)
    each = read.half**2 / 3 + read.own + hand
    variance = np.diag(each)
    for of, square in read.shared:
        variance[np.ix_(of, of)] += square
    told = np.linalg.solve(variance, ends)
    spread = np.linalg.inv(ends.T @ told)
    middle, root = spread @ (told.T @ read.values), np.linalg.cholesky(spread)
    low, high = np.full(2, -_REACH), np.full(2, _REACH)
    for _ in range(2):
        cell = (high - low) / _LINES
        sides = [low[side] + cell[side] * (np.arange(_LINES) + 0.5) for side in (0, 1)]
        grid = np.stack([side.ravel() for side in np.meshgrid(*sides, indexing="ij")])
        lines = middle[:, None] + root @ grid
        weights = _likely(read, hand, each, read.values[:, None] - ends @ lines)
        near = grid[:, weights > _LIGHT * weights.max()]
        if near.size:
            low, high = near.min(axis=1) - cell, near.max(axis=1) + cell
    return lines, weights * cell.prod() * np.linalg.det(root)


def _likely(read: _Readings, hand: float, each: Floats, off: Floats) -> Floats:
    """How likely readings are that are so far off each line."""
    err = np.sqrt(read.own + hand)

    def between(at: int, length: Floats) -> Floats:
        up_to, below = ((length + side * read.half[at]) / err[at] for side in (1, -1))
        found: Floats = np.interp(up_to, _SHARE_AT, _SHARE) - np.interp(below, _SHARE_AT, _SHARE)
        return found

    found: Floats = np.ones(off.shape[1])
    together = {at for of, _ in read.shared for at in of}
    for at in range(len(off)):
        if at not in together:
            found *= between(at, off[at])
    for of, square in read.shared:
        # how far this stack is off, about what its readings hold likely
        weight = 1 / (1 / square + (1 / each[of]).sum())
        nodes = _REACH_OF_STACK * np.linspace(-1, 1, _NODES)[:, None] * sqrt(weight)
        stack = weight * (off[of] / each[of][:, None]).sum(axis=0) + nodes
        share = np.exp(-(stack**2) / (2 * square)) * (nodes[1] - nodes[0]) / sqrt(2 * pi * square)
        for at in of:
            share = share * between(at, off[at] - stack)
        found *= share.sum(axis=0)
    return found


def _estimate(lengths: Floats, weights: Floats) -> Estimate:
    """The mean, and the middle 95 %."""
    order = np.argsort(lengths)
    share = np.cumsum(weights[order])
    low, high = np.interp(np.array([0.025, 0.975]) * share[-1], share - weights[order] / 2, lengths[order])
    return Estimate(float(lengths @ weights / share[-1]), float(low), float(high))
