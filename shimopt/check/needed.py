"""The bracket of stack thickness that serves a gap which one place moves."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from shimopt.job import Gap
from shimopt.lengths import Bracket

__all__ = ["Span", "aimed", "needed"]


@dataclass(frozen=True, slots=True)
class Span:
    """A range of stack thickness from 0 up [nm]; `most` is None where there is no upper end."""

    least: Fraction
    most: Fraction | None


def needed(gap: Gap) -> Span | None:
    """The thickness that surely brings the whole reading into the window; None where there is none."""
    return _span(gap, gap.reading.bracket)


def aimed(gap: Gap) -> Span | None:
    """The thickness that brings the best estimate into the window; None where there is none."""
    best = gap.reading.bracket.best
    return _span(gap, Bracket(best, best, best))


def _span(gap: Gap, reading: Bracket) -> Span | None:
    if len(gap.effects) != 1:
        return None
    effect, window = gap.effects[0][1], gap.window
    over = None if window.max is None else (reading.high - window.max) / -effect
    under = None if window.min is None else (reading.low - window.min) / -effect
    # a shim that closes the gap must take off at least what is over; one that opens it must add at least what is under
    least, most = (over, under) if effect < 0 else (under, over)
    least = max(Fraction(0), least or Fraction(0))
    return None if most is not None and most < least else Span(least, most)
