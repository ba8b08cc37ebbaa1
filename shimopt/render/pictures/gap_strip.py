"""The picture of one gap for a screen in the hand: the gap itself, cut open and laid on its scale.

Between two hatched faces lies the clearance; what goes in is drawn as thick as it is, between where the gap was found
and where it will be: the shim is the way from one to the other. What comes out is dashed. Below runs a rail with the
window as its slot, in which the free edge has to end up. Found is a hollow bar, then a solid one, both as long as they
are uncertain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from shimopt.job import Window
from shimopt.render.pictures.gap_bars import Bar
from shimopt.render.pictures.picture_colours import AGAINST, BAND, BODY, CAUTION, FAINT, HATCH, INK, METAL, PAPER, SUITS
from shimopt.render.pictures.picture_scales import Range, Scale, span_of
from shimopt.render.pictures.svg import HALO, Svg, wide
from shimopt.words.speaker import Speaker

WIDTH = 358
# room at the sides, a face that is far away, heights of the cut, the rail and a bar [px]
_EDGE, _FACE, _BAND, _RAIL, _MARK = 4, 12, 50, 20, 12
_LABEL, _SMALL = 17, 14  # sizes of text
_SHORT = 90  # so wide a text may stand over what is narrower [px]
_COLOURS = {"inside": SUITS, "unproven": CAUTION, "outside": AGAINST, "": INK}
_HATCHING = (
    '<pattern id="{0}" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f'<rect width="8" height="8" fill="{BODY}"/><line x1="0" y1="0" x2="0" y2="8" stroke="{HATCH}" stroke-width="2"/>'
    "</pattern>"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """What a strip shows: the window, the bars, what lies between them, and the sign and verdict of the last.

    `moves` names what goes in or comes out; `said` the clearance of each bar, where it is known; `key` is a
    word of letters and digits that no other picture of a page has.
    """

    title: str
    window: Window
    bars: Sequence[Bar]
    moves: str = ""
    sign: str = ""
    verdict: str = ""
    key: str = "a"
    said: tuple[str, ...] = ()


def strip_svg(strip: Strip, say: Speaker) -> str:
    """The picture as an SVG file. `say` knows with how many digits it is said what the gap comes to."""
    found, then = strip.bars[0], strip.bars[-1]
    two = len(strip.bars) > 1
    scale = _scale(strip)
    top = 40.0 if two else 4.0
    rail = top + _BAND
    bottom = rail + _RAIL
    height = bottom + 44
    svg = Svg(WIDTH, height, strip.title, within=True)
    svg.define(_HATCHING.format(f"hatch-{strip.key}"))
    svg.rect(0, 0, WIDTH, height, "paper", fill=PAPER)
    first, last = scale.window(strip.window)
    svg.rect(first, top, max(1.0, last - first), bottom - top, "window", fill=BAND)
    if not _loaded(strip):
        _faces(svg, scale, (top, strip.key), max(found.bracket.best, then.bracket.best))
    if two:
        _moved(svg, scale, top, found, then, strip.moves)
        _bar(svg, scale, found, top - 6 - _MARK, INK)
        _label(svg, scale, found, 17, _said(strip, 0, say), INK)
    if _loaded(strip):
        # over what goes in, so that its words can be read
        _zero(svg, scale, top, bottom)
    for y in (rail, bottom):
        svg.line(scale.start, y, scale.end, y, "axis", stroke=INK, stroke_width="1.2")
    for x, limit in ((first, strip.window.min), (last, strip.window.max)):
        if limit is not None:
            svg.line(x, rail - 6, x, bottom + 4, "limit", stroke=INK, stroke_width="3")
    colour = _COLOURS[strip.verdict]
    at = scale.at(then.bracket.best)
    svg.line(at, top, at, rail, "edge", stroke=colour, stroke_width="4")
    _bar(svg, scale, then, rail + (_RAIL - _MARK) / 2, colour)
    _label(svg, scale, then, height - 5, f"{_said(strip, -1, say)} {strip.sign}".rstrip(), colour)
    _figures(svg, scale, strip.window, bottom + 17, replace(say, digits=None))
    return svg.text()


def _loaded(strip: Strip) -> bool:
    """Whether anything of it is a preload: then no face is where nothing begins."""
    return span_of(strip.window, strip.bars).low < 0


def _said(strip: Strip, which: int, say: Speaker) -> str:
    bar = strip.bars[which]
    label = "stays" if bar.label == "left at" else bar.label
    return f"{label} {strip.said[which] if strip.said else say.clearance(bar.bracket.low, bar.bracket.high)}"


def _scale(strip: Strip) -> Scale:
    """From nothing to a little beyond what is farthest; from further on where that would leave no room for the rest."""
    span = span_of(strip.window, strip.bars)
    room = (span.high - span.low or Fraction(1000)) / 6
    low = span.low - room
    if 0 <= span.low <= 3 * (span.high - span.low):
        low = -room / 3
    return Scale(Range(low, span.high + room), _EDGE, WIDTH - 2 * _EDGE)


def _faces(svg: Svg, scale: Scale, at: tuple[float, str], edge: Fraction) -> None:
    """The fixed face where nothing begins, and the other as far from it as the gap, and what is in it, is wide."""
    top, key = at
    zero, other = scale.at(0), scale.at(edge)
    near = max(zero, scale.start + _FACE)
    fill = f"url(#hatch-{key})"
    svg.rect(scale.start, top, near - scale.start, _BAND, "face", fill=fill)
    svg.line(near, top, near, top + _BAND, "face-edge", stroke=INK, stroke_width="2")
    if zero < scale.start:
        # the face is further off than the picture shows: a break in it says so
        steps = [(near + 4 + 4 * (n % 2), top + _BAND * n / 8) for n in range(9)]
        for (x1, y1), (x2, y2) in pairwise(steps):
            svg.line(x1, y1, x2, y2, "break", stroke=INK, stroke_width="1.4")
    svg.rect(other, top, scale.end - other, _BAND, "face", fill=fill)
    svg.line(other, top, other, top + _BAND, "face-edge", stroke=INK, stroke_width="2")


def _zero(svg: Svg, scale: Scale, top: float, bottom: float) -> None:
    """Where preload ends and play begins, with both words."""
    at = scale.at(0)
    if not scale.start <= at <= scale.end:
        return
    svg.line(at, top, at, bottom, "zero", stroke=INK, stroke_width="1.6", stroke_dasharray="2 4")
    for text, anchor, x in (("preload", "end", at - 5), ("play", "start", at + 5)):
        room = x - scale.start if anchor == "end" else scale.end - x
        if room > wide(text, _SMALL):
            # above the pack and what lies in it, whose edges would go through it
            svg.write(x, top - 2, text, _SMALL, text_anchor=anchor, fill=FAINT, **HALO)


def _moved(svg: Svg, scale: Scale, top: float, found: Bar, then: Bar, moves: str) -> None:
    """What lies between found and then: a shim as thick as it is drawn, or the room of one that came out."""
    one, other = scale.at(found.bracket.best), scale.at(then.bracket.best)
    left, width = min(one, other), abs(other - one)
    if width < 1:
        return
    closes = other < one
    style = {"fill": METAL} if closes else {"fill": PAPER, "stroke_dasharray": "6 4"}
    svg.rect(left, top + 8, width, _BAND - 16, "shim" if closes else "shim-out", stroke=INK, stroke_width="2", **style)
    half = wide(moves, _LABEL) / 2
    # what is longer stands over the picture anyway
    if not moves or 2 * half > max(width, _SHORT):
        return
    middle = max(scale.start + half, min(left + width / 2, scale.end - half))
    svg.write(middle, top + _BAND / 2 + 6, moves, _LABEL, text_anchor="middle", font_weight="bold", fill=INK, **HALO)


def _bar(svg: Svg, scale: Scale, bar: Bar, top: float, colour: str) -> None:
    low, high = scale.bar(bar)
    fill = PAPER if bar.kind == "found" else colour
    svg.rect(low, top, high - low, _MARK, bar.kind, rx="2", fill=fill, stroke=colour, stroke_width="2")


def _label(svg: Svg, scale: Scale, bar: Bar, y: float, text: str, colour: str) -> None:
    """A bar's figures, over or under it."""
    half = wide(text, _LABEL) / 2
    at = max(scale.start + half, min(scale.at(bar.bracket.best), scale.end - half))
    weight = "bold" if bar.kind == "after" else "normal"
    svg.write(at, y, text, _LABEL, text_anchor="middle", font_weight=weight, fill=colour, **HALO)


def _figures(svg: Svg, scale: Scale, window: Window, y: float, say: Speaker) -> None:
    """The window's ends in figures; in one text where they would run into each other."""
    first, last = scale.window(window)
    ends = [(x, limit) for x, limit in ((first, window.min), (last, window.max)) if limit is not None]
    texts = [say.bare.clearance(limit, limit) for _, limit in ends]
    if len(texts) == 2 and last - first < 8 + sum(wide(text, _SMALL) for text in texts) / 2:
        ends, texts = [((first + last) / 2, 0)], [say.bare.window(window.stated_min, window.max)]
    for (x, _), text in zip(ends, texts, strict=True):
        half = wide(text, _SMALL) / 2
        middle = max(scale.start + half, min(x, scale.end - half))
        svg.write(middle, y, text, _SMALL, text_anchor="middle", fill=INK, **HALO)
