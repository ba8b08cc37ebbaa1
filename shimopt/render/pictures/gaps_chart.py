"""All gaps of a job in one chart: a row each on one axis, from what was found to what comes of it.

Gaps that are too far apart for one axis, such as one whose reading slipped, have one of their own below the others.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from rich.cells import cell_len

from shimopt.job import Gap
from shimopt.lengths import UNITS
from shimopt.render.pictures.gap_bars import Bar
from shimopt.render.pictures.gap_picture import HALO
from shimopt.render.pictures.picture_colours import BAND, FAINT, INK, PAPER
from shimopt.render.pictures.picture_scales import Range, Scale, clear_of, span_of
from shimopt.render.pictures.svg import Svg, wide
from shimopt.render.screens.layout import folded
from shimopt.words.speaker import Speaker

_AXIS, _TOP = 20, 4
_ROWS, _MANY = (18, 15), 8  # how high a row is, and beyond so many gaps
_LINE = 13  # from one line of a name to the next
# on one axis while no window is narrower than a so manieth part of it
_MOST_WINDOWS = 12
_MOST_TICKS = 5


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


ON_PAPER, ON_A_PHONE = Form(540, 140, 21, 11, 9.5, 440), Form(340, 0, 48, 12, 11.5, math.inf)


class Chart(NamedTuple):
    """A picture as an SVG file, and the gaps that are on it."""

    svg: str
    gaps: Sequence[Gap]


def charts(
    title: str, gaps: Sequence[Gap], bars: Mapping[str, Sequence[Bar]], unit: str, form: Form = ON_PAPER
) -> list[Chart]:
    """The chart of these gaps, in their order: one picture, or as many as pages need, all to the same scale."""
    many = len(gaps) > _MANY
    names = {name: _name_lines(told, form.cells, 1 if many else 2) for name, told in _told_apart(gaps, form).items()}
    row = _ROWS[many]
    tall = {
        name: max(row, _LINE * len(lines) + 3) if form.names else row + _LINE * len(lines) + 3
        for name, lines in names.items()
    }
    blocks = [
        _Block(part, within, sum(tall[gap.name] for gap in part))
        for group in _on_one_axis(gaps, bars)
        for within in [_range(group, bars)]
        for part in _parted(group, tall, form.page)
    ]
    return [
        Chart(_drawn(title, sheet, bars, (names, tall), unit, form), [gap for block in sheet for gap in block.gaps])
        for sheet in _sheets(blocks, form.page)
    ]


@dataclass(frozen=True, slots=True)
class _Block:
    """Gaps on one axis, its range, and how high their rows are [px]."""

    gaps: Sequence[Gap]
    within: Range
    height: float


def _name_lines(name: str, cells: int, most: int) -> list[str]:
    """A name in at most so many lines; the table beside the chart has it whole."""
    lines = folded(name, cells)
    if len(lines) <= most:
        return lines
    return [*lines[: most - 1], f"{folded(lines[most - 1], cells - 1)[0]}…"]


def _told_apart(gaps: Sequence[Gap], form: Form) -> dict[str, str]:
    """What each gap is called here: of long names only the words by which they differ."""
    whole = {gap.name: gap.name for gap in gaps}
    if len(gaps) < 2 or all(cell_len(name) <= form.cells for name in whole):
        return whole
    words = [name.split() for name in whole]
    ends = _alike([list(reversed(one)) for one in words])
    begins = _alike([one[: len(one) - ends] for one in words])
    told = {
        name: f"{' '.join(one[: len(one) - ends]).rstrip(',;')}{' …' if ends else ''}"
        for name, one in zip(whole, words, strict=True)
    }
    if all(cell_len(name) <= form.cells for name in told.values()):
        return told
    return {name: f"{'… ' if begins else ''}{' '.join(text.split()[begins:])}" for name, text in told.items()}


def _alike(words: Sequence[Sequence[str]]) -> int:
    """With how many of the same words all begin; one is left of each."""
    count = 0
    while all(len(one) > count + 1 for one in words) and len({one[count] for one in words}) == 1:
        count += 1
    return count


def _parted(gaps: Sequence[Gap], tall: Mapping[str, float], page: float) -> list[list[Gap]]:
    """The gaps of an axis in parts that go on a page."""
    parts: list[list[Gap]] = [[]]
    height = 0.0
    for gap in gaps:
        height += tall[gap.name]
        if parts[-1] and height > page:
            parts.append([])
            height = tall[gap.name]
        parts[-1].append(gap)
    return parts


def _sheets(blocks: Sequence[_Block], page: float) -> list[list[_Block]]:
    """Blocks that go on one picture."""
    sheets: list[list[_Block]] = [[]]
    for block in blocks:
        if sheets[-1] and sum(one.height + _TOP + _AXIS for one in [*sheets[-1], block]) > page + _TOP + _AXIS:
            sheets.append([])
        sheets[-1].append(block)
    return sheets


def _drawn(
    title: str,
    blocks: Sequence[_Block],
    bars: Mapping[str, Sequence[Bar]],
    rows: tuple[Mapping[str, Sequence[str]], Mapping[str, float]],
    unit: str,
    form: Form,
) -> str:
    """Parameters: rows, by gap the lines of its name, and how high its row is."""
    names, tall = rows
    svg, top = Svg(form.width, sum(block.height + _TOP + _AXIS for block in blocks), title), 0.0
    for block in blocks:
        left = max(form.names, 8)
        scale = Scale(block.within, left, form.width - left - 8)
        top += _TOP
        _axis(svg, scale, (top, top + block.height), unit, form)
        for gap in block.gaps:
            _row(svg, scale, (top, tall[gap.name]), names[gap.name], gap, bars[gap.name], form)
            top += tall[gap.name]
        top += _AXIS
    return svg.text()


def _on_one_axis(gaps: Sequence[Gap], bars: Mapping[str, Sequence[Bar]]) -> list[list[Gap]]:
    """All gaps together, if no window becomes too narrow; else those that are far off by themselves, then by window."""
    if _together(gaps, bars):
        return [list(gaps)]
    groups: dict[object, list[Gap]] = {}
    for gap in gaps:
        far = not _together([gap], bars)
        groups.setdefault(gap.name if far else (gap.window.min, gap.window.max), []).append(gap)
    return list(groups.values())


def _together(gaps: Sequence[Gap], bars: Mapping[str, Sequence[Bar]]) -> bool:
    spans = [span_of(gap.window, bars[gap.name]) for gap in gaps]
    across = max(span.high for span in spans) - min(span.low for span in spans)
    widths = [w.max - w.min for w in (gap.window for gap in gaps) if w.min is not None and w.max is not None]
    return not widths or across <= _MOST_WINDOWS * max(1, min(widths))


def _range(gaps: Sequence[Gap], bars: Mapping[str, Sequence[Bar]]) -> Range:
    spans = [span_of(gap.window, bars[gap.name]) for gap in gaps]
    low, high = min(span.low for span in spans), max(span.high for span in spans)
    room = (high - low or Fraction(1)) / 20
    return Range(low - room, high + room)


def _axis(svg: Svg, scale: Scale, down: tuple[float, float], unit: str, form: Form) -> None:
    """The axis with figures at round lengths; a line where preload ends and play begins."""
    top, bottom = down
    say = Speaker(unit)
    svg.line(scale.start, bottom, scale.end, bottom, "axis", stroke=INK, stroke_width="0.8")
    ticks = _round(scale.within, unit)
    below = scale.within.low < 0
    for number, at in enumerate(ticks):
        x, last = scale.at(at), number == len(ticks) - 1
        svg.line(x, bottom, x, bottom + 4, "tick", stroke=INK, stroke_width="0.8")
        text = "0" if not at else (say if last else say.bare)(abs(at))
        # left of nothing there is preload, and an axis that does not reach it says so
        text = f"preload {text}" if scale.within.high <= 0 and number == 0 else text
        # the last figure with its unit stays on the picture
        middle = min(x, form.width - 2 - wide(text, form.small) / 2)
        svg.write(middle, bottom + 15, text, form.small, text_anchor="middle", fill=INK)
    if below and scale.within.high > 0:
        x = scale.at(0)
        svg.upright(x, top, bottom, "zero", stroke=FAINT, stroke_width="1", stroke_dasharray="3 3")
        svg.write(x - 9, bottom + 15, "preload", form.small, text_anchor="end", fill=FAINT)
        svg.write(x + 9, bottom + 15, "play", form.small, fill=FAINT)


def _round(within: Range, unit: str) -> list[int]:
    """Round lengths within a range, few enough to be told apart."""
    of_one = UNITS[unit]
    span = within.high - within.low
    step = Fraction(of_one, 10**6)
    while span / step > _MOST_TICKS:
        # 1, 2, 5, 10, 20, 50, ...
        leading = int(str(step / Fraction(of_one, 10**6))[0])
        step *= Fraction(5, 2) if leading == 2 else 2
    first = -(-within.low // step)
    return [round(step * n) for n in range(first, within.high // step + 1)]


@dataclass(frozen=True, slots=True)
class _Mark:
    """Where a bar lies [px], and where its best estimate."""

    low: float
    high: float
    best: float


def _row(
    svg: Svg,
    scale: Scale,
    down: tuple[float, float],
    name: Sequence[str],
    gap: Gap,
    bars: Sequence[Bar],
    form: Form,
) -> None:  # a row is what it shows, where it stands, and how it is set
    """One gap: its name, its window, an arrow from what was found to what comes of it, with the shim's name."""
    (top, height), window = down, gap.window
    if not form.names:
        for number, line in enumerate(name):
            svg.write(2, top + 11 + _LINE * number, line, form.text, fill=INK)
        top, height = top + _LINE * len(name) + 3, height - _LINE * len(name) - 3
    middle = top + height / 2
    if form.names:
        for number, line in enumerate(name):
            svg.write(2, middle + 4 + _LINE * (number - (len(name) - 1) / 2), line, form.text, fill=INK)
    first, last = scale.window(window)
    svg.rect(first, top + 1, max(1.0, last - first), height - 2, "window", fill=BAND)
    upright = [x for x, limit in ((first, window.min), (last, window.max)) if limit is not None]
    for x in upright:
        svg.upright(x, top + 1, top + height - 1, "limit", stroke=INK, stroke_width="1.2")
    if window.target is not None:
        at = scale.at(window.target)
        svg.line(at, top + height - 4, at, top + height - 1, "target", stroke=INK, stroke_width="1.2")
    marks = [_Mark(*scale.bar(bar), scale.at(bar.bracket.best)) for bar in bars]
    for before, mark, bar in zip(marks, marks[1:], bars[1:], strict=False):
        _arrow(svg, middle, (before, mark), bar, upright, form)
    for mark, bar in zip(marks, bars, strict=True):
        paper = PAPER if bar.kind == "found" else INK
        style = {"rx": "1.5", "fill": paper, "stroke": INK, "stroke_width": "1.2"}
        svg.rect(mark.low, middle - 4, mark.high - mark.low, 8, bar.kind, **style)


def _arrow(svg: Svg, middle: float, ends: tuple[_Mark, _Mark], bar: Bar, upright: Sequence[float], form: Form) -> None:
    """From the edge of one mark to the edge of the next, its words off the upright lines; nothing where they touch."""
    before, after = ends
    left = after.best < before.best
    start, end = (before.low, after.high) if left else (before.high, after.low)
    if (start - end if left else end - start) < 8:
        return
    svg.line(start, middle, end, middle, "arrow", stroke=INK, stroke_width="1.1")
    tip = 6 if left else -6
    svg.polygon([(end + tip, middle - 3), (end + tip, middle + 3), (end, middle)], "arrow-head", fill=INK)
    room = abs(end - start) - 14
    if told := next((words for words in (bar.swap, bar.brief) if words and wide(words, form.small) < room), ""):
        half, room_at = wide(told, form.small) / 2, (end + 8, start - 1) if left else (start + 1, end - 8)
        x = clear_of(upright, (start + end) / 2, half, room_at)
        svg.write(x, middle - 2.5, told, form.small, text_anchor="middle", fill=INK, **HALO)
