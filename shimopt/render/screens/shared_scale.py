"""One scale for all gaps of one window: the window in the same columns, what was read and what it comes to as marks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from shimopt.job import Window
from shimopt.lengths import spelled
from shimopt.render.screens.layout import Marks, padded

_FAR = Fraction(5, 4)  # widths of the window: what lies further out stands behind a break
_ROOM = Fraction(1, 12)


@dataclass(frozen=True, slots=True)
class SharedScale:
    """From `low` to `high` [nm] in `width` cells; what lies further out stands at the end, behind a break mark.

    It runs from tight to loose, as all pictures do: preload lies left of play, and more preload further left.
    """

    window: Window
    low: Fraction
    high: Fraction
    width: int
    marks: Marks

    @classmethod
    def of(cls, window: Window, points: Iterable[Fraction], width: int, marks: Marks) -> SharedScale:
        """The scale that holds the window and these clearances [nm], as far as they are not far out."""
        limits = [Fraction(limit) for limit in (window.min, window.max) if limit is not None]
        ends = [*points, *limits]
        low, high = min(ends), max(ends)
        if window.min is not None and window.max is not None and window.min < window.max:
            wide = Fraction(window.max - window.min)
            low, high = max(low, limits[0] - wide * _FAR), min(high, limits[-1] + wide * _FAR)
        room = (high - low or Fraction(1)) * _ROOM
        # a limit stands at the edge where nothing lies beyond it
        low -= room if window.min is None or low < window.min else 0
        high += room if window.max is None or high > window.max else 0
        return cls(window, low, high if high > low else low + 1, width, marks)

    def at(self, value: Fraction | int) -> int:
        """The cell of a length, the first or last for what lies further out."""
        cell = int((value - self.low) * (self.width - 1) / (self.high - self.low) + Fraction(1, 2))
        return max(0, min(self.width - 1, cell))

    def drawn(self, read: Fraction, after: Fraction) -> str:
        """One line: the window as a band, the clearance read and what it comes to, the way between them dotted."""
        marks, window = self.marks, self.window
        line = [" "] * self.width
        first = 0 if window.min is None else self.at(window.min)
        last = self.width - 1 if window.max is None else self.at(window.max)
        start, stop = sorted((self.at(read), self.at(after)))
        line[start : stop + 1] = marks.moved * (stop - start + 1)
        line[first : last + 1] = marks.band * (last - first + 1)
        if window.min is not None:
            line[first] = marks.left
        if window.max is not None:
            line[last] = marks.right
        for value in (read, after):
            self._break(line, value)
        line[self.at(read)] = marks.before
        line[self.at(after)] = marks.unchanged if read == after else marks.after
        return "".join(line)

    def _break(self, line: list[str], value: Fraction) -> None:
        cut = self.marks.cut
        if value > self.high and self.width > len(cut) + 2:
            line[-1 - len(cut) : -1] = cut
        if value < self.low and self.width > len(cut) + 2:
            line[1 : 1 + len(cut)] = cut

    def head(self, unit: str) -> str:
        """The limits of a window above their marks; empty where there is no room, or it holds play and preload."""
        line, end = "", 0
        for limit in (self.window.min, self.window.max):
            if limit is None:
                continue
            # of preload the line above says that it is one
            text = spelled(abs(limit), unit, with_unit=False)
            at = max(0, min(self.at(limit) - len(text) // 2, self.width - len(text)))
            if (limit < 0 and not self.window.wants_preload) or (line and at < end + 1) or len(text) > self.width:
                return ""
            line, end = padded(line, at) + text, at + len(text)
        return line
