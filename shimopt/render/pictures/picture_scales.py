"""From where to where pictures show clearance, and where on the picture a clearance lies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from shimopt.job import Gap, Job, Window
from shimopt.render.pictures.gap_bars import Bar

_FAR_OUT = 5  # widths of a window: further out of it a bar stands behind a break
_CLEAR = 3  # between a line and a text [px]
BREAK = 14  # room for the mark of a break [px]


@dataclass(frozen=True, slots=True)
class Range:
    """From where to where a picture shows clearance [nm]; more lies further out on the sides in `far`, -1 and 1."""

    low: Fraction
    high: Fraction
    far: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Scale:
    """A range laid over a width [px] from `start` on."""

    within: Range
    start: float
    width: float

    @property
    def end(self) -> float:
        """Where it ends [px]."""
        return self.start + self.width

    def at(self, value: Fraction | int) -> float:
        """Where a clearance lies [px]."""
        return self.start + self.width * float((value - self.within.low) / (self.within.high - self.within.low))

    def window(self, window: Window) -> tuple[float, float]:
        """Where a window begins and ends [px]; at the edge where it has no such limit."""
        first = self.start if window.min is None else self.at(window.min)
        return first, self.end if window.max is None else self.at(window.max)

    def bar(self, bar: Bar) -> tuple[float, float]:
        """Where a bar begins and ends [px], never too thin to be seen."""
        best = self.at(bar.bracket.best)
        return min(self.at(bar.bracket.low), best - 2), max(self.at(bar.bracket.high), best + 2)


@dataclass(frozen=True, slots=True)
class Broken:
    """A scale with room beside it, from `start` to `end` [px], for what lies further out, behind a break."""

    scale: Scale
    start: float
    end: float

    def at(self, value: Fraction | int) -> float:
        """Where a clearance lies [px]; what is further out, in the middle of the room beyond the break."""
        within = self.scale.within
        if value > within.high and self.end > self.scale.end:
            return (self.scale.end + BREAK + self.end) / 2
        if value < within.low and self.start < self.scale.start:
            return (self.start + self.scale.start - BREAK) / 2
        return self.scale.at(value)

    def bar(self, bar: Bar) -> tuple[float, float]:
        """Where a bar begins and ends [px], to scale, but not beyond its room."""
        low, high = self.scale.bar(bar)
        side = is_far(bar, self.scale.within)
        if not side:
            return low, high
        room = (self.end - self.scale.end if side > 0 else self.scale.start - self.start) - BREAK
        half, at = min(high - low, room) / 2, self.at(bar.bracket.best)
        return at - half, at + half


def is_far(bar: Bar, within: Range) -> int:
    """On which side a bar lies out of a range: -1 below, 1 above, 0 for neither."""
    return (bar.bracket.best > within.high) - (bar.bracket.best < within.low)


def clear_of(lines: Sequence[float], middle: float, half: float, room: tuple[float, float]) -> float:
    """Where the middle of a text stands so that no upright line runs through it, near `middle` and within `room` [px].

    It stays where it is where there is no such place. Parameters: lines, where they stand; half, of the text's width.
    """
    near = [middle, *(x + way * (half + _CLEAR) for x in lines for way in (-1, 1))]
    free = [at for at in near if room[0] + half <= at <= room[1] - half and all(abs(at - x) > half for x in lines)]
    return min(free, key=lambda at: abs(at - middle), default=middle)


def common_ranges(job: Job, bars: Mapping[str, Sequence[Bar]]) -> dict[str, Range]:
    """The range of every gap's picture: the same for gaps with the same window, so that they can be compared.

    One that slipped does not flatten the others: it stands behind a break.
    """
    groups: dict[tuple[int | None, int | None], list[Gap]] = {}
    for gap in job.gaps:
        groups.setdefault((gap.window.min, gap.window.max), []).append(gap)
    ranges: dict[str, Range] = {}
    for gaps in groups.values():
        near, window = _near(gaps, bars), gaps[0].window
        # on both sides of the window room enough for a word
        room = (near.high - near.low or Fraction(1)) / 5
        below = room / 3 if window.min is None else max(room / 3, room - (window.min - near.low))
        above = room / 3 if window.max is None else max(room / 3, room - (near.high - window.max))
        low, high = near.low - below, near.high + above
        far = {is_far(bar, Range(low, high)) for gap in gaps for bar in bars[gap.name]}
        ranges |= {gap.name: Range(low, high, frozenset(far - {0})) for gap in gaps}
    return ranges


def span_of(window: Window, bars: Sequence[Bar]) -> Range:
    """From where to where a gap's bars and its window reach."""
    ends = [end for bar in bars for end in (bar.bracket.low, bar.bracket.high)]
    ends += [Fraction(limit) for limit in (window.min, window.max) if limit is not None]
    if window.min is None:
        # a window without a lower end is shown from nothing on
        ends.append(Fraction(0))
    return Range(min(ends), max(ends))


def within_windows(gaps: Sequence[Gap], bars: Mapping[str, Sequence[Bar]]) -> Range:
    """The range of these gaps' windows and bars, but for bars that are many widths out of their window."""
    near = _near(gaps, bars)
    room = (near.high - near.low or Fraction(1)) / 20
    return Range(near.low - room, near.high + room)


def _near(gaps: Sequence[Gap], bars: Mapping[str, Sequence[Bar]]) -> Range:
    """From where to where they reach, without the bars that are far out."""
    spans = [span_of(gap.window, [bar for bar in bars[gap.name] if not _far_out(bar, gap.window)]) for gap in gaps]
    return Range(min(span.low for span in spans), max(span.high for span in spans))


def _far_out(bar: Bar, window: Window) -> bool:
    if window.min is None or window.max is None or window.min == window.max:
        return False
    most = _FAR_OUT * (window.max - window.min)
    return not window.min - most <= bar.bracket.best <= window.max + most
