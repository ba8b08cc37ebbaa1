"""A row of a chart: a gap, its window, an arrow from what was found to what comes of it, with the shim's name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from shimopt.job import Window
from shimopt.render.pictures.gap_bars import Bar
from shimopt.render.pictures.picture_colours import BAND, INK, PAPER
from shimopt.render.pictures.picture_scales import BREAK, Broken, Scale, clear_of, is_far
from shimopt.render.pictures.svg import HALO, Svg, seen, wide
from shimopt.words.speaker import Speaker

LINE = 13  # from one line of a name to the next [px]
_BETWEEN = 5  # between what stands behind a break [px]


class Form(NamedTuple):
    """How wide a chart is and how much of that names take [px], in how many cells of text, and the sizes of text.

    Names that take no width stand above their rows.
    """

    width: float
    names: float
    cells: int
    text: float
    small: float
    page: float  # no picture is higher, so that it goes on a page


@dataclass(frozen=True, slots=True)
class _Mark:
    """Where a bar lies [px], and its best estimate; from where to where it takes room with the figures beside it."""

    low: float
    high: float
    best: float
    room: tuple[float, float]
    text: str = ""


def draw_row(
    svg: Svg,
    axis: Broken,
    down: tuple[float, float],
    name: Sequence[str],
    shown: tuple[Window, Sequence[Bar], str],
    form: Form,
) -> None:  # a row is what it shows, where it stands, and how it is set
    """Draw one gap. Parameters: down, where the row begins and how high it is; shown, its window, bars and unit."""
    (top, height), (window, bars, unit), scale = down, shown, axis.scale
    if not form.names:
        for number, line in enumerate(name):
            svg.write(2, top + 11 + LINE * number, line, form.text, fill=INK)
        top, height = top + LINE * len(name) + 3, height - LINE * len(name) - 3
    middle = top + height / 2
    if form.names:
        for number, line in enumerate(name):
            svg.write(2, middle + 4 + LINE * (number - (len(name) - 1) / 2), line, form.text, fill=INK)
    upright = _window(svg, scale, (top, height), window)
    marks = _marks(axis, bars, unit, form)
    aside = _beside(svg, axis, middle, (marks, bars), upright, form)
    for before, mark, bar in zip(marks, marks[1:], bars[1:], strict=False):
        _arrow(svg, middle, (before, mark), "" if aside else _upon(before, mark, bar, form), upright, form)
    for mark, bar in zip(marks, bars, strict=True):
        paper = PAPER if bar.kind == "found" else INK
        style = {"rx": "1.5", "fill": paper, "stroke": INK, "stroke_width": "1.2"}
        svg.rect(mark.low, middle - 4, mark.high - mark.low, 8, bar.kind, **style)
        if mark.text:
            right = mark.room[1] > mark.high
            x, end = (mark.high + _BETWEEN, "start") if right else (mark.low - _BETWEEN, "end")
            svg.write(x, middle + 3.5, mark.text, form.small, text_anchor=end, fill=INK)
    broken(svg, axis, middle, {is_far(bar, scale.within) for bar in bars})


def _window(svg: Svg, scale: Scale, down: tuple[float, float], window: Window) -> list[float]:
    """The window as a band with its limits and target; where its limits stand."""
    top, height = down
    first, last = scale.window(window)
    svg.rect(first, top + 1, max(1.0, last - first), height - 2, "window", fill=BAND)
    upright = [x for x, limit in ((first, window.min), (last, window.max)) if limit is not None]
    for x in upright:
        svg.upright(x, top + 1, top + height - 1, "limit", stroke=INK, stroke_width="1.2")
    if window.target is not None:
        at = scale.at(window.target)
        svg.line(at, top + height - 4, at, top + height - 1, "target", stroke=INK, stroke_width="1.2")
    return upright


def far_text(bars: Sequence[Bar], unit: str, form: Form) -> float:
    """How much room these bars of one gap take behind a break beside their length, with the figures of one alone."""
    if not bars:
        return 0.0
    figures = wide(_figures(bars[0], unit), form.small) + _BETWEEN if len(bars) == 1 else 0.0
    return BREAK + (_BETWEEN + _THIN) * len(bars) + figures


_THIN = 4  # no bar is thinner [px]


def _figures(bar: Bar, unit: str) -> str:
    return Speaker(unit).bare.clearance(bar.bracket.low, bar.bracket.high)


def _marks(axis: Broken, bars: Sequence[Bar], unit: str, form: Form) -> list[_Mark]:
    """Where all bars of a row lie: on the scale, or at the ends of the axis, the furthest outermost."""
    scale, marks = axis.scale, dict[int, _Mark]()
    for side, edge, inner in ((-1, axis.start, scale.start), (1, axis.end, scale.end)):
        far = [at for at, bar in enumerate(bars) if is_far(bar, scale.within) == side]
        for at in sorted(far, key=lambda at: -side * bars[at].bracket.best):
            low, high = scale.bar(bars[at])
            length = min(high - low, abs(edge - inner) / len(far) - BREAK)
            low, high = sorted((edge, edge - side * length))
            text = _figures(bars[at], unit) if len(far) == 1 else ""
            beside = wide(text, form.small) + _BETWEEN if text else 0.0
            room = (low - beside - _BETWEEN, high) if side > 0 else (low, high + beside + _BETWEEN)
            marks[at] = _Mark(low, high, (low + high) / 2, room, text)
            edge -= side * (length + _BETWEEN)
    for at, bar in enumerate(bars):
        if at not in marks:
            low, high = scale.bar(bar)
            marks[at] = _Mark(low, high, scale.at(bar.bracket.best), (low, high))
    return [marks[at] for at in range(len(bars))]


def broken(svg: Svg, axis: Broken, y: float, sides: set[int] | None = None) -> None:
    """The mark of a break at this height, at the ends beyond which something stands, or at these of them."""
    scale = axis.scale
    for side, edge, x in ((-1, axis.start, scale.start - BREAK / 2), (1, axis.end, scale.end + BREAK / 2)):
        if abs(edge - x) < BREAK or (sides is not None and side not in sides):
            continue
        svg.rect(x - 3, y - 2, 6, 4, "break-gap", fill=PAPER)
        for off in (-3, 3):
            svg.line(x + off - 2, y + 4, x + off + 2, y - 4, "break", stroke=INK, stroke_width="1")


def _arrow(svg: Svg, middle: float, ends: tuple[_Mark, _Mark], told: str, upright: Sequence[float], form: Form) -> None:
    """From the edge of one mark to the edge of the next, its words off the upright lines; nothing where they touch."""
    start, end = _tips(*ends)
    left = end < start
    if (start - end if left else end - start) < 8:
        return
    if told:
        # the arrow runs over the light edge of its words, not they over it
        x, _ = _placed(told, (start, end), upright, form)
        svg.write(x, middle - 2.5, told, form.small, text_anchor="middle", fill=INK, **HALO)
    svg.line(start, middle, end, middle, "arrow", stroke=INK, stroke_width="1.1")
    tip = 6 if left else -6
    svg.polygon([(end + tip, middle - 3), (end + tip, middle + 3), (end, middle)], "arrow-head", fill=INK)


def _tips(before: _Mark, after: _Mark) -> tuple[float, float]:
    """Where an arrow begins and ends [px]."""
    left = after.best < before.best
    return (before.room[0], after.room[1]) if left else (before.room[1], after.room[0])


def _placed(told: str, ends: tuple[float, float], upright: Sequence[float], form: Form) -> tuple[float, bool]:
    """Where the middle of an arrow's words stands upon it, and whether that is clear of the upright lines."""
    start, end = ends
    half, room_at = wide(told, form.small) / 2, (end + 8, start - 1) if end < start else (start + 1, end - 8)
    x = clear_of(upright, (start + end) / 2, half, room_at)
    return x, all(abs(x - at) > seen(told, form.small) / 2 for at in upright)


def _upon(before: _Mark, after: _Mark, bar: Bar, form: Form) -> str:
    """The words that find room upon an arrow, if any do."""
    room = max(before.room[0] - after.room[1], after.room[0] - before.room[1]) - 14
    return next((words for words in (bar.swap, bar.brief) if words and wide(words, form.small) < room), "")


def _beside(
    svg: Svg,
    axis: Broken,
    middle: float,
    drawn: tuple[Sequence[_Mark], Sequence[Bar]],
    upright: Sequence[float],
    form: Form,
) -> bool:  # beside `_arrow`, whose words it writes where they have no room upon it
    """What goes in, of a single arrow too short for it: behind the bar it begins at, else behind the one it goes to.

    So too where it would lie on a limit. Gives whether it was written.
    """
    marks, bars = drawn
    if len(marks) != 2 or any(mark.text for mark in marks):
        return False
    told = _upon(marks[0], marks[1], bars[1], form)
    if told and _placed(told, _tips(*marks), upright, form)[1]:
        return False
    low, high = min(mark.room[0] for mark in marks), max(mark.room[1] for mark in marks)
    rooms = [(axis.scale.start, low - _BETWEEN), (high + _BETWEEN, axis.scale.end)]
    if marks[1].best < marks[0].best:
        rooms.reverse()
    for words in (bars[1].swap, bars[1].brief):
        half = wide(words, form.small) / 2
        for room in rooms:
            near = room[0] + half if room[0] > high else room[1] - half
            x = clear_of(upright, near, half, room)
            if words and 2 * half < room[1] - room[0]:
                svg.write(x, middle + 3.5, words, form.small, text_anchor="middle", fill=INK, **HALO)
                return True
    return False
