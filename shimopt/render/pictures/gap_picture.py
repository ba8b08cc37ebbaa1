"""The picture of a gap: its window as a band, the clearance before and after as bars as long as they are uncertain.

It lives without colour: what was found is a hollow bar, what comes of it a solid one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from shimopt.arithmetic.clearance import Stack
from shimopt.job import Gap, Job, Window
from shimopt.lengths import Bracket
from shimopt.planner import Decision
from shimopt.render.pictures.svg import Svg
from shimopt.render.screens.layout import folded
from shimopt.words.letter_words import PICTURE_KEY
from shimopt.words.speaker import Speaker

__all__ = ["Bar", "Range", "bars_svg", "common_ranges", "job_bars", "job_picture", "rows_svg"]

_WIDTH, _LEFT, _LANE, _TOP = 353, 124, 22, 5
_INK, _BAND, _FAINT = "#111111", "#dcdcdc", "#5a5a5a"
# character cells that surely fit the width of a picture
_TITLE, _NAME, _NOTE, _BELOW = 32, 38, 58, 58
_STEP = 13  # from one line below the scale to the next
_SHORT = 18  # where a label has more characters, all are set smaller
# beyond so many window widths a gap gets a scale of its own, so that one slip does not flatten all pictures
_MOST_WINDOWS = 8


@dataclass(frozen=True, slots=True)
class Bar:
    """A clearance to draw, hollow for what was found, solid for what comes of it; and the `shims` that are in then."""

    label: str
    bracket: Bracket
    kind: Literal["found", "after"]
    shims: str = ""


@dataclass(frozen=True, slots=True)
class Range:
    """From where to where a picture shows clearance [nm]."""

    low: Fraction
    high: Fraction


def common_ranges(job: Job, bars: Mapping[str, Sequence[Bar]]) -> dict[str, Range]:
    """The range of every gap's picture: the same for gaps with the same window, so that they can be compared."""
    groups: dict[tuple[int | None, int | None], list[Gap]] = {}
    for gap in job.gaps:
        key = (gap.window.min, gap.window.max)
        alone = _span(gap.window, bars[gap.name])
        wide = (
            gap.window.min is not None
            and gap.window.max is not None
            and (alone.high - alone.low > _MOST_WINDOWS * max(1, gap.window.max - gap.window.min))
        )
        groups.setdefault((None, -len(groups)) if wide else key, []).append(gap)
    ranges = {}
    for gaps in groups.values():
        spans = [_span(gap.window, bars[gap.name]) for gap in gaps]
        low, high = min(span.low for span in spans), max(span.high for span in spans)
        window = gaps[0].window
        # on both sides of the window room enough for a word
        room = (high - low or Fraction(1)) / 5
        below = room / 3 if window.min is None else max(room / 3, room - (window.min - low))
        above = room / 3 if window.max is None else max(room / 3, room - (high - window.max))
        for gap in gaps:
            ranges[gap.name] = Range(low - below, high + above)
    return ranges


def _span(window: Window, bars: Sequence[Bar]) -> Range:
    ends = [end for bar in bars for end in (bar.bracket.low, bar.bracket.high)]
    ends += [Fraction(limit) for limit in (window.min, window.max) if limit is not None]
    if window.min is None:
        # a window without a lower end is shown from nothing on
        ends.append(Fraction(0))
    return Range(min(ends), max(ends))


def bars_svg(title: str, window: Window, bars: Sequence[Bar], within: Range, unit: str) -> str:
    """One gap's picture as an SVG file."""
    svg = Svg(_WIDTH, _height(bars), title)
    _draw(svg, (0, 0), window, bars, within, (Speaker(unit), _letters(unit, [(window, bars)])))
    return svg.text()


def rows_svg(title: str, rows: Sequence[tuple[str, Window, Sequence[Bar], Range]], unit: str, note: str) -> str:
    """The pictures of many gaps below each other, each under its name."""
    letters = _letters(unit, [(window, bars) for _, window, bars, _ in rows])
    titles, notes = folded(title, _TITLE), folded(note, _NOTE)
    names = [folded(name, _NAME) for name, _, _, _ in rows]
    tall = [17 * len(lines) + 6 + _height(bars) for lines, (_, _, bars, _) in zip(names, rows, strict=True)]
    width, height = _WIDTH + 20, 22 * len(titles) + 16 + sum(tall) + 14 * len(notes) + 14
    svg = Svg(width, height, title)
    svg.rect(0, 0, width, height, "paper", fill="#ffffff")
    top = _lines(svg, titles, 6, 22, 17, font_weight="bold") + 8
    for lines, (_, window, bars, within), step in zip(names, rows, tall, strict=True):
        below = _lines(svg, lines, top, 17, 14, font_weight="bold") + 5
        _draw(svg, (10, below), window, bars, within, (Speaker(unit), letters))
        top += step
    _lines(svg, notes, top + 4, 14, 11)
    return svg.text()


def _lines(svg: Svg, lines: Sequence[str], top: float, step: float, size: float, **style: str) -> float:
    """Lines of text below each other; gives where they end."""
    for number, line in enumerate(lines, start=1):
        svg.write(10, top + step * number - 3, line, size, **style)
    return top + step * len(lines)


def _height(bars: Sequence[Bar]) -> int:
    return _scale_height(bars) + _STEP * len(_shims(bars))


def _scale_height(bars: Sequence[Bar]) -> int:
    return _TOP + _LANE * len(bars) + (16 if len(bars) == 1 else 8) + 16


def _shims(bars: Sequence[Bar]) -> list[str]:
    """What was in and what will be, in lines that go below the scale."""
    return [
        line
        for bar in bars
        if bar.shims
        for line in folded(f"{bar.label.removesuffix(' at')} with {bar.shims} in", _BELOW, rest="  ")
    ]


def _labels(window: Window, bars: Sequence[Bar], say: Speaker) -> list[str]:
    """`found 0.35 mm`; where a preload can be, each says whether it is one."""
    ends = [Fraction(end) for end in (window.min, window.max) if end is not None]
    loaded = any(end < 0 for end in [*ends, *(bar.bracket.low for bar in bars)])
    say = replace(say, loaded=loaded)
    return [f"{bar.label} {say.clearance(bar.bracket.best, bar.bracket.best)}" for bar in bars]


def _letters(unit: str, gaps: Sequence[tuple[Window, Sequence[Bar]]]) -> float:
    """How large the labels of all bars of a picture are set: as the longest has to be."""
    longest = max((len(text) for window, bars in gaps for text in _labels(window, bars, Speaker(unit))), default=0)
    return 13 if longest <= _SHORT else 10.5


def _draw(
    svg: Svg,
    corner: tuple[float, float],
    window: Window,
    bars: Sequence[Bar],
    within: Range,
    words: tuple[Speaker, float],
) -> None:
    """Parameters: words, who speaks, and how large the labels are set."""
    (left, top), (say, letters) = corner, words
    start, width = left + _LEFT, _WIDTH - _LEFT - 8
    bottom = top + _scale_height(bars) - 18

    def at(value: Fraction | int) -> float:
        return start + width * float((value - within.low) / (within.high - within.low))

    first = start if window.min is None else at(window.min)
    last = start + width if window.max is None else at(window.max)
    svg.rect(first, top + 2, max(1.0, last - first), bottom - top - 2, "window", fill=_BAND)
    svg.line(start, bottom + 2, start + width, bottom + 2, "axis", stroke=_INK, stroke_width="0.8")
    _limits(svg, window, (first, last, start + width), (top, bottom), say)
    if window.min is not None:
        svg.write((start + first) / 2, bottom - 2, "tight", 11, text_anchor="middle", fill=_FAINT)
    if window.max is not None:
        svg.write((last + start + width) / 2, bottom - 2, "loose", 11, text_anchor="middle", fill=_FAINT)
    for lane, (bar, label) in enumerate(zip(bars, _labels(window, bars, say), strict=True)):
        middle = top + _TOP + _LANE * lane + _LANE / 2 - 3
        svg.write(left, middle + 4.5, label, letters)
        low, high = at(bar.bracket.low), at(bar.bracket.high)
        low, high = min(low, at(bar.bracket.best) - 2), max(high, at(bar.bracket.best) + 2)
        hollow = bar.kind == "found"
        svg.rect(
            low,
            middle - 5,
            high - low,
            10,
            bar.kind,
            rx="2",
            fill="#ffffff" if hollow else _INK,
            stroke=_INK,
            stroke_width="1.4",
        )
        svg.circle(at(bar.bracket.best), middle, 2.4, f"{bar.kind}-best", fill=_INK if hollow else "#ffffff")
    for number, line in enumerate(_shims(bars), start=1):
        svg.write(left, bottom + 18 + _STEP * number, line, 10.5, fill=_FAINT)


def _limits(
    svg: Svg, window: Window, across: tuple[float, float, float], down: tuple[float, float], say: Speaker
) -> None:
    """The window's ends as upright lines with their figures; side by side where they would run into each other.

    Parameters: across, where the window begins and ends and where the picture ends [px]; down, its top and bottom.
    """
    (first, last, end), (top, bottom) = across, down
    figures = [(x, limit) for x, limit in ((first, window.min), (last, window.max)) if limit is not None]
    for x, _ in figures:
        svg.line(x, top, x, bottom + 6, "limit", stroke=_INK, stroke_width="1.6")
    texts = [
        (say if number == len(figures) - 1 else say.bare).clearance(limit, limit)
        for number, (_, limit) in enumerate(figures)
    ]
    if len(texts) == 2 and last - first < 5 + 7 * (len(texts[0]) + len(texts[1])) / 2:
        # too narrow for two figures: one text in the middle, as far as there is room for it
        text = say.window(window.min, window.max)
        half = 3.4 * len(text)
        middle = max(end - _WIDTH + _LEFT + half, min((first + last) / 2, end - half))
        svg.write(middle, bottom + 18, text, 12, text_anchor="middle")
        return
    for (x, _), text in zip(figures, texts, strict=True):
        near_end = x > end - 4 * len(text)
        svg.write(end if near_end else x, bottom + 18, text, 12, text_anchor="end" if near_end else "middle")


def job_bars(decision: Decision) -> dict[str, list[Bar]]:
    """What to draw for every gap: as found at first, as measured after the last visit, and as it will be."""
    job = decision.job
    bars = {}
    for gap in job.gaps:
        first = job.as_first_read.get(gap.name, gap.reading).bracket
        after = decision.outcome.gaps[gap.name].after
        read = gap.reading.bracket if gap.reading.after_fitting else None
        places = [place for place, _ in gap.effects]
        changes = any(decision.changes.at[place].changed for place in places)
        visited = any(decision.visit.at[place].changed for place in places)
        was, now, then = _in_then(decision, gap.name, places)
        found = [Bar("found", first, "found", was)]
        if read is not None:
            found.append(Bar("measured", read, "found" if changes else "after", now))
        if changes or (read is None and (visited or first != after)):
            found.append(Bar("after", after, "after", then))
        bars[gap.name] = found if len(found) > 1 else [Bar("left at", after, "after", now)]
    return bars


def _in_then(decision: Decision, gap: str, places: Sequence[str]) -> tuple[str, str, str]:
    """The shims at places that move a gap: first, now and then; empty where none ever was in."""
    job, say = decision.job, Speaker.of(decision.job)
    now = {place: job.place[place].installed for place in places}
    was = job.read_with if job.records else now
    began = job.began_with if job.records else {place: job.place[place].came_out for place in places}
    if not any(now[place] or was.get(place) or began.get(place) for place in places):
        return "", "", ""

    def named(stacks: Mapping[str, Stack]) -> str:
        return ", ".join(
            f"{say.stack(stacks.get(place, ()), place)}{'' if place == gap else f' at {place}'}" for place in places
        )

    return named(was), named(now), named(decision.stacks)


def job_picture(decision: Decision, unit: str) -> str:
    """The gaps below each other as an SVG file."""
    bars = job_bars(decision)
    ranges = common_ranges(decision.job, bars)
    rows = [(gap.name, gap.window, bars[gap.name], ranges[gap.name]) for gap in decision.job.gaps]
    return rows_svg(decision.job.title, rows, unit, PICTURE_KEY)
