"""The picture of a gap, and those of all gaps of a job, each under its name, side by side: on A4 laid across, three.

Its window as a band, the clearance found and what comes of it as bars as long as they are uncertain, an arrow from one
to the other with the name of the shim that does it. It lives without colour: what was found is a hollow bar, what comes
of it a solid one.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise, product

from shimopt.job import Window
from shimopt.planner import Decision
from shimopt.render.pictures.chart_row import broken
from shimopt.render.pictures.gap_bars import Bar, job_bars, key_of
from shimopt.render.pictures.picture_colours import BAND, FAINT, INK, PAPER
from shimopt.render.pictures.picture_scales import Broken, Range, Scale, clear_of, common_ranges, is_far
from shimopt.render.pictures.svg import HALO, Svg, seen, wide
from shimopt.render.screens.layout import folded, whole_figures
from shimopt.words.picture_words import BROKEN, DOTS
from shimopt.words.speaker import Speaker

WIDTH = 353
_EDGE = 6
_LABEL, _SWAP, _MARK, _LINE = 12, 11, 10, 13  # sizes of text, height of a bar, from one line of small text to the next
_WORDS, _AXIS = 16, 20  # room for `tight` and `loose`, for the figures below the axis
_ASIDE = 44  # from their middle, as far as even short words of an arrow may reach to stand off a limit
_FAR = 84  # room for what is far out, behind its break
_FIGURE = re.compile(r"\d")
_BELOW, _LEAST = 58, 12  # character cells that surely fit the width, and that words are not folded shorter than


def gap_height(window: Window, bars: Sequence[Bar], within: Range, say: Speaker) -> float:
    """How high the picture of a gap is."""
    lanes = _laid_out(window, bars, _scale(0, within), say)
    return lanes[-1].end + _WORDS + _AXIS + _LINE * len(_shims(bars))


def _scale(left: float, within: Range) -> Broken:
    start, end = left + _EDGE, left + WIDTH - _EDGE
    first, last = start + _FAR * (-1 in within.far), end - _FAR * (1 in within.far)
    return Broken(Scale(within, first, last - first), start, end)


def _uprights(window: Window, bars: Sequence[Bar], scale: Scale) -> list[float]:
    """Where lines stand that no text should lie on [px]: the limits, and nothing between preload and play."""
    limits = zip(scale.window(window), (window.min, window.max), strict=True)
    zero = _loaded(window, bars) and scale.within.low < 0 < scale.within.high
    return [x for x, limit in limits if limit is not None] + [scale.at(0)] * zero


@dataclass(frozen=True, slots=True)
class _Words:
    """Lines of text below each other, and where their middle stands [px]."""

    lines: Sequence[str]
    middle: float
    clear: bool

    @classmethod
    def placed(
        cls, lines: Sequence[str], near: float, room: tuple[float, float], upright: Sequence[float], size: float
    ) -> _Words:
        """As near as may be within a room, clear of upright lines where there is a place that is."""
        half = max((seen(line, size) for line in lines), default=0) / 2
        at = clear_of(upright, near, half, room)
        return cls(lines, at, all(abs(at - x) > half for x in upright))


@dataclass(frozen=True, slots=True)
class _Lane:
    """Where a bar lies: its label and the base line of that, its middle, where all ends; and its arrow's words [px]."""

    label: _Words
    base: float
    middle: float
    end: float
    swap: _Words


def _laid_out(window: Window, bars: Sequence[Bar], scale: Broken, say: Speaker, top: float = 0) -> list[_Lane]:
    """The first bar under its label, each other above its own, with room between them for an arrow and its words."""
    upright, say = _uprights(window, bars, scale.scale), replace(say, loaded=_loaded(window, bars))
    label = _label(bars[0], scale, upright, say)
    middle = top + _LABEL + _LINE * (len(label.lines) - 1) + 9
    lanes = [_Lane(label, top + _LABEL, middle, middle + 5, _Words((), 0, True))]
    for before, bar in pairwise(bars):
        swap, label = _swap(before, bar, scale, upright), _label(bar, scale, upright, say)
        middle = lanes[-1].end + _LINE * len(swap.lines) + 12 + _MARK / 2
        base = middle + _MARK / 2 + _LABEL
        lanes.append(_Lane(label, base, middle, base + _LINE * (len(label.lines) - 1) + 3, swap))
    return lanes


def _label(bar: Bar, scale: Broken, upright: Sequence[float], say: Speaker) -> _Words:
    """`found 17 to 18 thou` over or under its bar; in two lines, or further aside, where it would lie on a limit."""
    text, ends, ways = f"{bar.label} {say.clearance(bar.bracket.low, bar.bracket.high)}", scale.bar(bar), list[_Words]()
    figures, middle = _FIGURE.search(text), sum(ends) / 2
    parted = [text[: figures.start()].rstrip(), text[figures.start() :]] if figures else [text]
    for aside, lines in product((0, _ASIDE / 2), ([text], parted)):
        half = max(seen(line, _LABEL) for line in lines) / 2
        reach = 2 * half + aside
        over = max(scale.start, middle - reach), min(scale.end, middle + reach)
        near = max(scale.start + half, min(middle, scale.end - half))
        ways.append(_Words.placed(lines, near, over, upright, _LABEL))
    return next((way for way in ways if way.clear), ways[0])


def _swap(before: Bar, bar: Bar, scale: Broken, upright: Sequence[float]) -> _Words:
    """What goes in and out, beside its arrow or upon it, off the limits where there is a place that is."""
    one, other = sorted((scale.at(before.bracket.best), scale.at(bar.bracket.best)))
    upon, right, left = (one + 5, other - 5), (other + 5, scale.end), (scale.start, one - 5)
    rooms = sorted((upon, right, left), key=lambda room: room[0] - room[1])
    if upon[1] - upon[0] >= wide(bar.swap, _SWAP):
        rooms = [upon, *(room for room in rooms if room != upon)]
    ways = list[_Words]()
    for room, (parted, most) in product(rooms, ((False, WIDTH), (True, WIDTH), (True, _LEAST))):
        cells = max(_LEAST, min(most, int((room[1] - room[0]) / wide("n", _SWAP))))
        swaps = [words for words in bar.swap.split("; ") if words]
        lines = [line for words in swaps for line in _in_lines(words, cells, parted=parted)]
        if lines[1:] and bar.brief and bar.shims:
            # what stands below the scale piece by piece is not told across the picture too
            lines = [bar.brief]
        half = max((seen(line, _SWAP) for line in lines), default=0) / 2
        # near their arrow, on whichever side of it they are
        near, far = room[1] - half if room == left else room[0] + half, max(1.5 * half, _ASIDE)
        over = room if room == upon else (max(room[0], near - far), min(room[1], near + far))
        found = _Words.placed(lines, near, over, upright, _SWAP)
        if found.clear and 2 * half <= room[1] - room[0]:
            return found
        ways.append(found)
    return ways[0]


def _in_lines(words: str, cells: int, *, parted: bool) -> list[str]:
    """What goes in and out in lines of so many cells; where one is too short, what goes out has a line of its own."""
    into, change, out = words.partition(" for ")
    parts = [words] if (len(words) <= cells and not parted) or not change else [into, f"for {out}"]
    return [line for part in parts for line in _folded_whole(part, cells)]


def _folded_whole(words: str, cells: int) -> list[str]:
    """Words in lines of so many cells, a number and its unit on one of them."""
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in folded(whole_figures(words), cells, rest="  ")]


def draw_gap(
    svg: Svg, corner: tuple[float, float], window: Window, bars: Sequence[Bar], within: Range, say: Speaker
) -> None:
    """Draw the picture of a gap at this corner."""
    left, top = corner
    axis = _scale(left, within)
    scale = axis.scale
    lanes = _laid_out(window, bars, axis, say, top)
    bottom = lanes[-1].end + _WORDS
    first, last = scale.window(window)
    svg.rect(first, top, max(1.0, last - first), bottom - top, "window", fill=BAND)
    svg.line(axis.start, bottom, axis.end, bottom, "axis", stroke=INK, stroke_width="0.8")
    broken(svg, axis, bottom)
    if _loaded(window, bars) and within.low < 0 < within.high:
        _zero(svg, scale, (top, bottom), _uprights(window, bars, scale)[:-1])
    else:
        _sides(svg, window, scale, bottom)
    _limits(svg, window, scale, (top, bottom), say)
    if window.target is not None:
        at = scale.at(window.target)
        svg.line(at, bottom - 5, at, bottom + 5, "target", stroke=INK, stroke_width="1.6")
    for (before, bar), (upper, lower) in zip(pairwise(bars), pairwise(lanes), strict=True):
        ends = axis.at(before.bracket.best), axis.at(bar.bracket.best)
        turn = _arrow(svg, ends, (upper.end, lower.middle - _MARK / 2), lower.swap)
        broken(
            svg,
            axis,
            turn,
            {side for side in (-1, 1) if (is_far(before, within) == side) != (is_far(bar, within) == side)},
        )
    for bar, lane in zip(bars, lanes, strict=True):
        _bar(svg, bar, lane, axis)
    for number, line in enumerate(_shims(bars), start=1):
        svg.write(left + _EDGE, bottom + _AXIS - 3 + _LINE * number, line, 10.5, fill=FAINT)


def _loaded(window: Window, bars: Sequence[Bar]) -> bool:
    """Whether a preload can be, so that each clearance says whether it is one."""
    ends = [Fraction(end) for end in (window.min, window.max) if end is not None]
    return any(end < 0 for end in [*ends, *(bar.bracket.low for bar in bars)])


def _zero(svg: Svg, scale: Scale, down: tuple[float, float], limits: Sequence[float]) -> None:
    """The line between preload and play, with these words on its sides, off the limits."""
    (top, bottom), x = down, scale.at(0)
    svg.upright(x, top, bottom, "zero", stroke=FAINT, stroke_width="1", stroke_dasharray="3 3")
    for word, way, room in (("preload", -1, (scale.start, x - 5)), ("play", 1, (x + 5, scale.end))):
        half = wide(word, _SWAP) / 2
        if room[1] - room[0] > 2 * half:
            middle = clear_of(limits, x + way * (5 + half), half, room)
            svg.write(middle, bottom - 4, word, _SWAP, text_anchor="middle", fill=FAINT)


def _sides(svg: Svg, window: Window, scale: Scale, bottom: float) -> None:
    """On which side of the window it is tight, and on which loose."""
    first, last = scale.window(window)
    if window.min is not None:
        svg.write((scale.start + first) / 2, bottom - 4, "tight", _SWAP, text_anchor="middle", fill=FAINT)
    if window.max is not None:
        svg.write((last + scale.end) / 2, bottom - 4, "loose", _SWAP, text_anchor="middle", fill=FAINT)


def _limits(svg: Svg, window: Window, scale: Scale, down: tuple[float, float], say: Speaker) -> None:
    """The window's ends as upright lines with their figures; as one text where they would run into each other."""
    (first, last), (top, bottom) = scale.window(window), down
    figures = [(x, limit) for x, limit in ((first, window.min), (last, window.max)) if limit is not None]
    for x, _ in figures:
        svg.upright(x, top, bottom + 4, "limit", stroke=INK, stroke_width="1.6")
    speakers = [say.bare] * (len(figures) - 1) + [say]
    texts = [one.clearance(limit, limit) for one, (_, limit) in zip(speakers, figures, strict=True)]
    if len(texts) == 2 and last - first < 6 + (wide(texts[0], _LABEL) + wide(texts[1], _LABEL)) / 2:
        figures, texts = [((first + last) / 2, 0)], [say.window(window.stated_min, window.max)]
    for (x, _), text in zip(figures, texts, strict=True):
        _centred(svg, x, bottom + 16, text, scale)


def _centred(svg: Svg, x: float, y: float, text: str, scale: Scale | Broken) -> None:
    """A text in the middle over x, as far as there is room for it."""
    half = seen(text, _LABEL) / 2
    middle = max(scale.start + half, min(x, scale.end - half))
    svg.write(middle, y, text, _LABEL, text_anchor="middle", fill=INK, **HALO)


def _bar(svg: Svg, bar: Bar, lane: _Lane, scale: Broken) -> None:
    """A bar with its label over it."""
    low, high = scale.bar(bar)
    ink, paper = (INK, PAPER) if bar.kind == "found" else (PAPER, INK)
    svg.rect(
        low, lane.middle - _MARK / 2, high - low, _MARK, bar.kind, rx="2", fill=paper, stroke=INK, stroke_width="1.4"
    )
    svg.circle(scale.at(bar.bracket.best), lane.middle, 2.4, f"{bar.kind}-best", fill=ink)
    for number, line in enumerate(lane.label.lines):
        _centred(svg, lane.label.middle, lane.base + _LINE * number, line, scale)


def _arrow(svg: Svg, across: tuple[float, float], down: tuple[float, float], swap: _Words) -> float:
    """From one bar to the next, with what goes out and in; how far down it turns."""
    (x1, x2), (y1, y2) = across, down
    turn = y1 + _LINE * len(swap.lines) + 3
    half = max((seen(line, _SWAP) for line in swap.lines), default=0) / 2
    for number, line in enumerate(swap.lines, start=1):
        svg.write(swap.middle - half, y1 - 2 + _LINE * number, line, _SWAP, fill=INK, **HALO)
    for ends in ((x1, y1, x1, turn), (x1, turn, x2, turn), (x2, turn, x2, y2 - 4)):
        svg.line(*ends, "arrow", stroke=INK, stroke_width="1.2")
    svg.polygon([(x2 - 3.5, y2 - 6), (x2 + 3.5, y2 - 6), (x2, y2)], "arrow-head", fill=INK)
    return turn


def _shims(bars: Sequence[Bar]) -> list[str]:
    """What was in and what will be, and what else is told of a bar, in lines that go below the scale."""
    said = []
    for bar in bars:
        said += [bar.note] if bar.note else []
        said += [f"{bar.label.removesuffix(' at')} with {bar.shims} in"] if bar.shims else []
    return [line for words in said for line in _folded_whole(words, _BELOW)]


_PAGE = 1123  # 297 mm at 96 dots an inch
_MARGIN, _BETWEEN = 10, 20
_NAME = 17  # height of a line of a gap's name


def job_picture(decision: Decision, unit: str, across: int = _PAGE) -> str:
    """All gaps of a job as an SVG file, in as many columns as fit `across` [px]; one where none fits."""
    job, bars = decision.job, job_bars(decision, unit)
    ranges = common_ranges(job, bars)
    columns = min(len(job.gaps), max(1, (across - 2 * _MARGIN + _BETWEEN) // (WIDTH + _BETWEEN)))
    rows = [job.gaps[at : at + columns] for at in range(0, len(job.gaps), columns)]
    names = {gap.name: folded(gap.name, WIDTH // 9) for gap in job.gaps}
    named = [_NAME * max(len(names[gap.name]) for gap in row) + 6 for row in rows]
    say = Speaker(unit)
    tall = [max(gap_height(gap.window, bars[gap.name], ranges[gap.name], say) for gap in row) for row in rows]

    width = 2 * _MARGIN + columns * WIDTH + (columns - 1) * _BETWEEN
    is_broken = any(within.far for within in ranges.values())
    key = f"{key_of(job, bars)} {DOTS}{f' {BROKEN}' if is_broken else ''}"
    titles, notes = folded(job.title, width // 11), folded(key, int(width / 6.7))
    height = 22 * len(titles) + 20 + sum(named) + sum(tall) + 12 * len(rows) + 14 * len(notes) + _MARGIN
    svg = Svg(width, height, job.title)
    svg.rect(0, 0, width, height, "paper", fill=PAPER)
    top = _lines(svg, titles, (_MARGIN, 8), 22, 17, font_weight="bold", fill=INK) + 12
    for row, above, below in zip(rows, named, tall, strict=True):
        for column, gap in enumerate(row):
            left = _MARGIN + column * (WIDTH + _BETWEEN)
            _lines(svg, names[gap.name], (left + 6, top), _NAME, 14, font_weight="bold", fill=INK)
            draw_gap(svg, (left, top + above), gap.window, bars[gap.name], ranges[gap.name], say)
        top += above + below + 12
    _lines(svg, notes, (_MARGIN + 6, top), 14, 11, fill=FAINT)
    return svg.text()


def _lines(
    svg: Svg, lines: Sequence[str], corner: tuple[float, float], step: float, size: float, **style: str
) -> float:
    """Lines of text below each other; gives where they end."""
    left, top = corner
    for number, line in enumerate(lines, start=1):
        svg.write(left, top + step * number - 3, line, size, **style)
    return top + step * len(lines)
