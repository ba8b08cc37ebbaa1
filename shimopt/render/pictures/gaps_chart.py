"""All gaps of a job in one chart: a row each on one axis, from what was found to what comes of it.

Gaps of windows that are too far apart for one axis have an axis for each window. What lies far out of its window, such
as a reading that slipped, stands at the end of the axis behind a break, as long as it would be without.
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
from shimopt.render.pictures.chart_row import LINE, Form, broken, draw_row, far_text
from shimopt.render.pictures.gap_bars import Bar
from shimopt.render.pictures.picture_colours import FAINT, INK
from shimopt.render.pictures.picture_scales import Broken, Range, Scale, is_far, span_of, within_windows
from shimopt.render.pictures.svg import Svg, wide
from shimopt.render.screens.layout import folded
from shimopt.words.speaker import Speaker

_AXIS, _TOP = 20, 4
_ROWS, _MANY = (18, 15), 8  # how high a row is, and beyond so many gaps
# on one axis while no window is narrower than a so manieth part of it
_MOST_WINDOWS = 12
_LONGEST = Fraction(1, 2)  # of an axis, what stands behind its break
_MOST_TICKS = 5


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
        name: max(row, LINE * len(lines) + 3) if form.names else row + LINE * len(lines) + 3
        for name, lines in names.items()
    }
    blocks = [
        _Block(part, within, sum(tall[gap.name] for gap in part))
        for group in _on_one_axis(gaps, bars)
        for within in [within_windows(group, bars)]
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
        scale = _broken(block, bars, unit, form)
        top += _TOP
        begun = top
        for gap in block.gaps:
            draw_row(svg, scale, (top, tall[gap.name]), names[gap.name], (gap.window, bars[gap.name], unit), form)
            top += tall[gap.name]
        # over the light edge of what is written close above it
        _axis(svg, scale, (begun, begun + block.height), unit, form)
        top += _AXIS
    return svg.text()


def _broken(block: _Block, bars: Mapping[str, Sequence[Bar]], unit: str, form: Form) -> Broken:
    """The scale of an axis, with room at its ends for what lies further out: its figures, and its length to scale."""
    left = max(form.names, 8)
    width = form.width - left - 8
    span = block.within.high - block.within.low or Fraction(1)
    far = {
        side: [[bar for bar in bars[gap.name] if is_far(bar, block.within) == side] for gap in block.gaps]
        for side in (-1, 1)
    }
    texts = {s: max((far_text(of, unit, form) for of in far[s]), default=0.0) for s in far}
    lengths = {
        s: min(_LONGEST, max(sum(((b.bracket.high - b.bracket.low) / span for b in of), Fraction(0)) for of in far[s]))
        for s in far
    }
    inner = (width - sum(texts.values())) / float(1 + sum(lengths.values()))
    rooms = {s: texts[s] + inner * float(lengths[s]) for s in far}
    return Broken(Scale(block.within, left + rooms[-1], inner), left, left + width)


def _on_one_axis(gaps: Sequence[Gap], bars: Mapping[str, Sequence[Bar]]) -> list[list[Gap]]:
    """All gaps together, if no window becomes too narrow; else those of each window."""
    if _together(gaps, bars):
        return [list(gaps)]
    groups: dict[object, list[Gap]] = {}
    for gap in gaps:
        groups.setdefault((gap.window.min, gap.window.max), []).append(gap)
    return list(groups.values())


def _together(gaps: Sequence[Gap], bars: Mapping[str, Sequence[Bar]]) -> bool:
    spans = [span_of(gap.window, bars[gap.name]) for gap in gaps]
    across = max(span.high for span in spans) - min(span.low for span in spans)
    widths = [w.max - w.min for w in (gap.window for gap in gaps) if w.min is not None and w.max is not None]
    return not widths or across <= _MOST_WINDOWS * max(1, min(widths))


def _axis(svg: Svg, axis: Broken, down: tuple[float, float], unit: str, form: Form) -> None:
    """The axis with figures at round lengths, broken where it ends; a line where preload ends and play begins."""
    (top, bottom), scale = down, axis.scale
    say = Speaker(unit)
    svg.line(axis.start, bottom, axis.end, bottom, "axis", stroke=INK, stroke_width="0.8")
    broken(svg, axis, bottom)
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
        if x - 9 > wide("preload", form.small):
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
