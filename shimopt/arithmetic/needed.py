"""The bracket of stack thickness that serves a gap which one place moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from shimopt.arithmetic.clearance import thickness_of, times
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket
from shimopt.probability import acceptance


@dataclass(frozen=True, slots=True)
class Span:
    """A range of stack thickness from 0 up [nm]; `most` is None where there is no upper end."""

    least: Fraction
    most: Fraction | None


def needed(job: Job, gap: Gap) -> Span | None:
    """The thickness, taken as exact, that brings the gap inside by what decides there; None where there is none.

    An effect that is not known exactly has to serve at both of its ends. Nor is any known where it turns too hard or
    too easily, its reading is disproved, or where it may be tight already, for it tells nothing.
    """
    if len(gap.effects) != 1 or job.turns_wrong(gap.name) or gap.may_be_tight:
        return None
    zone = None if gap.least_chance is None else guarded(gap)
    if gap.least_chance is not None and zone is None:
        return None
    (place, _), spans = gap.effects[0], []
    for effect in dict.fromkeys(gap.reach(place)):
        bare = _without(gap, effect, thickness_of(job.place[place].installed, job.stock))
        if zone is None:
            spans.append(_span(effect, bare, gap.window.min, gap.window.max))
        else:
            spans.append(_span(effect, Bracket(bare.best, bare.best, bare.best), *zone))
    return _common(spans)


def aimed(job: Job, gap: Gap) -> Span | None:
    """The thickness that brings the best estimate into the window; None where none does, or a torque disproves it."""
    best = without_shims(job, gap).best
    if len(gap.effects) != 1 or job.turns_wrong(gap.name):
        return None
    return _span(gap.effects[0][1], Bracket(best, best, best), gap.window.min, gap.window.max)


def without_shims(job: Job, gap: Gap) -> Bracket:
    """The gap as it would be with nothing in the places that move it: the reading less what was in."""
    low, best, high = gap.reading.bracket.low, gap.reading.bracket.best, gap.reading.bracket.high
    for place, effect in gap.effects:
        taken = times(-effect, thickness_of(job.place[place].installed, job.stock))
        low, best, high = low + taken.low, best + taken.best, high + taken.high
    return Bracket(low, best, high)


def guarded(gap: Gap) -> tuple[Fraction | int | None, Fraction | int | None] | None:
    """The zone of best estimates that are inside by what decides: the window less its guard bands; None: no zone.

    The stack is taken as exact. An end is None where the window has none.
    """
    window, read = gap.window, gap.reading.bracket
    if gap.least_chance is not None:
        return acceptance(gap.reading.errors, window.min, window.max, gap.least_chance)
    low = None if window.min is None else window.min + (read.best - read.low)
    high = None if window.max is None else window.max - (read.high - read.best)
    return None if low is not None and high is not None and low > high else (low, high)


def wanted(job: Job, gap: Gap) -> tuple[Fraction | None, Fraction | None]:
    """From which to which thickness the best estimate comes inside, if one place moves the gap; None: no such end."""
    effect, best = gap.effects[0][1], without_shims(job, gap).best
    ends = [None if limit is None else (limit - best) / effect for limit in (gap.window.min, gap.window.max)]
    return (ends[1], ends[0]) if effect < 0 else (ends[0], ends[1])


def _without(gap: Gap, effect: Fraction, was_in: Bracket) -> Bracket:
    """The gap with nothing in the one place that moves it, by one figure for its effect."""
    read, taken = gap.reading.bracket, times(-effect, was_in)
    return Bracket(read.low + taken.low, read.best + taken.best, read.high + taken.high)


def _common(spans: Sequence[Span | None]) -> Span | None:
    """What all spans hold; None where they hold nothing in common."""
    found = [span for span in spans if span is not None]
    if len(found) < len(spans):
        return None
    least = max(span.least for span in found)
    most = min((span.most for span in found if span.most is not None), default=None)
    return None if most is not None and most < least else Span(least, most)


def _span(
    effect: Fraction, reading: Bracket, window_min: Fraction | int | None, window_max: Fraction | int | None
) -> Span | None:
    if not effect:
        return None
    over = None if window_max is None else (reading.high - window_max) / -effect
    under = None if window_min is None else (reading.low - window_min) / -effect
    # a shim that closes the gap must take off at least what is over; one that opens it must add at least what is under
    least, most = (over, under) if effect < 0 else (under, over)
    least = max(Fraction(0), least or Fraction(0))
    return None if most is not None and most < least else Span(least, most)
