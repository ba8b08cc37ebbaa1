"""All gaps of a job in one chart: a row each on one axis, from what was found to what comes of it.

Gaps that are too far apart for one axis, such as one whose reading slipped, have one of their own below the others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from shimopt.job import Gap
from shimopt.lengths import UNITS
from shimopt.render.pictures.bars import Bar
from shimopt.render.pictures.colours import BAND, FAINT, INK, PAPER
from shimopt.render.pictures.gap_picture import HALO, wide
from shimopt.render.pictures.scales import Range, Scale, span_of
from shimopt.render.pictures.svg import Svg
from shimopt.render.screens.layout import folded
from shimopt.words.speaker import Speaker

__all__ = ["Chart", "charts"]

_WIDTH, _NAMES, _AXIS, _TOP = 540, 140, 20, 4
_PAGE = 440  # no picture is higher, so that it goes on a page
_ROWS, _MANY = (18, 15), 8  # how high a row is, and beyond so many gaps
_TEXT, _SMALL = 11, 9.5
_NAME_CELLS = 21
# on one axis while no window is narrower than a so manieth part of it
_MOST_WINDOWS = 12
_MOST_TICKS = 5


class Chart(NamedTuple):
    """A picture as an SVG file, and the gaps that are on it."""

    svg: str
    gaps: Sequence[Gap]


def charts(title: str, gaps: Sequence[Gap], bars: Mapping[str, Sequence[Bar]], unit: str) -> list[Chart]:
    """The chart of these gaps, in their order: one picture, or as many as pages need, all to the same scale."""
    names = {gap.name: _name_lines(gap.name) for gap in gaps}
    row = _ROWS[len(gaps) > _MANY]
    tall = {gap.name: max(row, 13 * len(names[gap.name]) + 3) for gap in gaps}
    blocks = [
        _Block(part, _range(group, bars), sum(tall[gap.name] for gap in part))
        for group in _on_one_axis(gaps, bars)
        for part in _parted(group, tall)
    ]
    return [
        Chart(_drawn(title, sheet, bars, (names, tall), unit), [gap for block in sheet for gap in block.gaps])
        for sheet in _sheets(blocks)
    ]


@dataclass(frozen=True, slots=True)
class _Block:
    """Gaps on one axis, its range, and how high their rows are [px]."""

    gaps: Sequence[Gap]
    within: Range
    height: float


def _name_lines(name: str) -> list[str]:
    """A name in at most two lines; the table beside the chart has it whole."""
    lines = folded(name, _NAME_CELLS)
    return lines if len(lines) <= 2 else [lines[0], f"{lines[1]}…"]


def _parted(gaps: Sequence[Gap], tall: Mapping[str, float]) -> list[list[Gap]]:
    """The gaps of an axis in parts that go on a page."""
    parts: list[list[Gap]] = [[]]
    for gap in gaps:
        if parts[-1] and sum(tall[one.name] for one in [*parts[-1], gap]) > _PAGE:
            parts.append([])
        parts[-1].append(gap)
    return parts


def _sheets(blocks: Sequence[_Block]) -> list[list[_Block]]:
    """Blocks that go on one picture."""
    sheets: list[list[_Block]] = [[]]
    for block in blocks:
        if sheets[-1] and sum(one.height + _TOP + _AXIS for one in [*sheets[-1], block]) > _PAGE + _TOP + _AXIS:
            sheets.append([])
        sheets[-1].append(block)
    return sheets


def _drawn(
    title: str,
    blocks: Sequence[_Block],
    bars: Mapping[str, Sequence[Bar]],
    rows: tuple[Mapping[str, Sequence[str]], Mapping[str, float]],
    unit: str,
) -> str:
    """Parameters: rows, by gap the lines of its name, and how high its row is."""
    names, tall = rows
    svg, top = Svg(_WIDTH, sum(block.height + _TOP + _AXIS for block in blocks), title), 0.0
    for block in blocks:
        scale = Scale(block.within, _NAMES, _WIDTH - _NAMES - 8)
        top += _TOP
        _axis(svg, scale, (top, top + block.height), unit)
        for gap in block.gaps:
            _row(svg, scale, (top, tall[gap.name]), names[gap.name], gap, bars[gap.name])
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


def _axis(svg: Svg, scale: Scale, down: tuple[float, float], unit: str) -> None:
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
        svg.write(x, bottom + 15, text, _SMALL, text_anchor="middle", fill=INK)
    if below and scale.within.high > 0:
        x = scale.at(0)
        svg.line(x, top, x, bottom, "zero", stroke=FAINT, stroke_width="1", stroke_dasharray="3 3")
        svg.write(x - 9, bottom + 15, "preload", _SMALL, text_anchor="end", fill=FAINT)
        svg.write(x + 9, bottom + 15, "play", _SMALL, fill=FAINT)


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


def _row(svg: Svg, scale: Scale, down: tuple[float, float], name: Sequence[str], gap: Gap, bars: Sequence[Bar]) -> None:
    """One gap: its name, its window, an arrow from what was found to what comes of it, with the shim's name."""
    (top, height), window = down, gap.window
    middle = top + height / 2
    for number, line in enumerate(name):
        svg.write(2, middle + 4 + 13 * (number - (len(name) - 1) / 2), line, _TEXT, fill=INK)
    first, last = scale.window(window)
    svg.rect(first, top + 1, max(1.0, last - first), height - 2, "window", fill=BAND)
    for x, limit in ((first, window.min), (last, window.max)):
        if limit is not None:
            svg.line(x, top + 1, x, top + height - 1, "limit", stroke=INK, stroke_width="1.2")
    if window.target is not None:
        at = scale.at(window.target)
        svg.line(at, top + height - 4, at, top + height - 1, "target", stroke=INK, stroke_width="1.2")
    marks = [_Mark(*scale.bar(bar), scale.at(bar.bracket.best)) for bar in bars]
    for before, mark, bar in zip(marks, marks[1:], bars[1:], strict=False):
        _arrow(svg, middle, before, mark, bar.swap)
    for mark, bar in zip(marks, bars, strict=True):
        paper = PAPER if bar.kind == "found" else INK
        style = {"rx": "1.5", "fill": paper, "stroke": INK, "stroke_width": "1.2"}
        svg.rect(mark.low, middle - 4, mark.high - mark.low, 8, bar.kind, **style)


def _arrow(svg: Svg, middle: float, before: _Mark, after: _Mark, swap: str) -> None:
    """From the edge of one mark to the edge of the next; nothing where they touch."""
    left = after.best < before.best
    start, end = (before.low, after.high) if left else (before.high, after.low)
    if (start - end if left else end - start) < 8:
        return
    svg.line(start, middle, end, middle, "arrow", stroke=INK, stroke_width="1.1")
    tip = 6 if left else -6
    svg.polygon([(end + tip, middle - 3), (end + tip, middle + 3), (end, middle)], "arrow-head", fill=INK)
    if swap and wide(swap, _SMALL) + 14 < abs(end - start):
        svg.write((start + end) / 2, middle - 2.5, swap, _SMALL, text_anchor="middle", fill=INK, **HALO)
