"""The bracket of stack thickness that serves a gap which one place moves."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from shimopt.check.arithmetic import thickness_of, times
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket

__all__ = ["Span", "aimed", "needed", "wanted", "without_shims"]


@dataclass(frozen=True, slots=True)
class Span:
    """A range of stack thickness from 0 up [nm]; `most` is None where there is no upper end."""

    least: Fraction
    most: Fraction | None


def needed(job: Job, gap: Gap) -> Span | None:
    """The thickness that surely brings the whole reading into the window; None where there is none."""
    return _span(gap, without_shims(job, gap))


def aimed(job: Job, gap: Gap) -> Span | None:
    """The thickness that brings the best estimate into the window; None where there is none."""
    best = without_shims(job, gap).best
    return _span(gap, Bracket(best, best, best))


def without_shims(job: Job, gap: Gap) -> Bracket:
    """The gap as it would be with nothing in the places that move it: the reading less what was in."""
    low, best, high = gap.reading.bracket.low, gap.reading.bracket.best, gap.reading.bracket.high
    for place, effect in gap.effects:
        taken = times(-effect, thickness_of(job.place[place].installed, job.stock))
        low, best, high = low + taken.low, best + taken.best, high + taken.high
    return Bracket(low, best, high)


def wanted(job: Job, gap: Gap) -> tuple[Fraction | None, Fraction | None]:
    """From which to which thickness the best estimate comes inside, of a gap that one place moves; None: no such end."""
    effect, best = gap.effects[0][1], without_shims(job, gap).best
    ends = [None if limit is None else (limit - best) / effect for limit in (gap.window.min, gap.window.max)]
    return (ends[1], ends[0]) if effect < 0 else (ends[0], ends[1])


def _span(gap: Gap, bare: Bracket) -> Span | None:
    if len(gap.effects) != 1:
        return None
    effect, window = gap.effects[0][1], gap.window
    over = None if window.max is None else (bare.high - window.max) / -effect
    under = None if window.min is None else (bare.low - window.min) / -effect
    # a shim that closes the gap must take off at least what is over; one that opens it must add at least what is under
    least, most = (over, under) if effect < 0 else (under, over)
    least = max(Fraction(0), least or Fraction(0))
    return None if most is not None and most < least else Span(least, most)
