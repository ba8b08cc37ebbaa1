"""From where to where pictures show clearance, and where on the picture a clearance lies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from shimopt.job import Gap, Job, Window
from shimopt.render.pictures.gap_bars import Bar

# beyond so many window widths a gap gets a scale of its own, so that one slip does not flatten all pictures
_MOST_WINDOWS = 8
_FAR_OUT = 5  # widths of a window: further out of it a bar stands behind a break
_CLEAR = 3  # between a line and a text [px]


@dataclass(frozen=True, slots=True)
class Range:
    """From where to where a picture shows clearance [nm]."""

    low: Fraction
    high: Fraction


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
    """A scale with room beside it, from `first` to `last` [px], for what lies further out, behind a break."""

    scale: Scale
    first: float
    last: float


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
    """The range of every gap's picture: the same for gaps with the same window, so that they can be compared."""
    groups: dict[tuple[int | None, int | None], list[Gap]] = {}
    for gap in job.gaps:
        key = (gap.window.min, gap.window.max)
        alone = span_of(gap.window, bars[gap.name])
        wide = (
            gap.window.min is not None
            and gap.window.max is not None
            and (alone.high - alone.low > _MOST_WINDOWS * max(1, gap.window.max - gap.window.min))
        )
        groups.setdefault((None, -len(groups)) if wide else key, []).append(gap)
    ranges = {}
    for gaps in groups.values():
        spans = [span_of(gap.window, bars[gap.name]) for gap in gaps]
        low, high = min(span.low for span in spans), max(span.high for span in spans)
        window = gaps[0].window
        # on both sides of the window room enough for a word
        room = (high - low or Fraction(1)) / 5
        below = room / 3 if window.min is None else max(room / 3, room - (window.min - low))
        above = room / 3 if window.max is None else max(room / 3, room - (high - window.max))
        for gap in gaps:
            ranges[gap.name] = Range(low - below, high + above)
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
    spans = [span_of(gap.window, [bar for bar in bars[gap.name] if not _far_out(bar, gap.window)]) for gap in gaps]
    low, high = min(span.low for span in spans), max(span.high for span in spans)
    room = (high - low or Fraction(1)) / 20
    return Range(low - room, high + room)


def _far_out(bar: Bar, window: Window) -> bool:
    if window.min is None or window.max is None or window.min == window.max:
        return False
    most = _FAR_OUT * (window.max - window.min)
    return not window.min - most <= bar.bracket.best <= window.max + most
