"""A small scale drawn in characters: where the clearance lies in its window, before and after."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from shimopt.job import Window
from shimopt.lengths import Bracket

__all__ = ["ASCII", "UNICODE", "Marks", "drawn_scale"]


@dataclass(frozen=True, slots=True)
class Marks:
    """The characters of a scale and of the verdicts."""

    left: str
    right: str
    band: str
    open: str
    span: str
    before: str
    after: str
    unchanged: str
    inside: str
    outside: str
    unproven: str


UNICODE = Marks("├", "┤", "─", " ", "━", "○", "●", "●", "✓", "✗", "?")
ASCII = Marks("[", "]", "-", " ", "=", "o", "X", "X", "ok", "!!", "??")


def drawn_scale(before: Bracket, after: Bracket, window: Window, marks: Marks, width: int) -> str:
    """One line of `width` characters: the window as a band, the brackets as bars, the best estimates as points."""
    ends = [before.low, before.high, after.low, after.high]
    ends += [Fraction(limit) for limit in (window.min, window.max) if limit is not None]
    low, high = min(ends), max(ends)
    # a one-sided window runs on beyond what was read
    room = (high - low or Fraction(1)) / 12
    low, high = low - room, high + room

    def at(value: Fraction | int) -> int:
        return int((value - low) * (width - 1) / (high - low) + Fraction(1, 2))

    line = [marks.open] * width
    first = 0 if window.min is None else at(window.min)
    last = width - 1 if window.max is None else at(window.max)
    line[first : last + 1] = marks.band * (last - first + 1)
    for bracket in (before, after):
        if bracket.low < bracket.high:
            start, stop = at(bracket.low), at(bracket.high)
            line[start : stop + 1] = marks.span * (stop - start + 1)
    if window.min is not None:
        line[first] = marks.left
    if window.max is not None:
        line[last] = marks.right
    line[at(before.best)] = marks.before
    line[at(after.best)] = marks.unchanged if before == after else marks.after
    return "".join(line)
