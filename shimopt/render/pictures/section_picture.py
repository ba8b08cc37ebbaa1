"""The seat in section with a part on it, to scale: in the middle, at full shift, and both edges of the bore enlarged.

One piece of drawing code shows the same geometry through four windows of different scale. Along the shaft another scale
is used than across it, for a shim is thin; the picture says how much larger.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import replace

from shimopt.errors import shown
from shimopt.job import Seat
from shimopt.lengths import Bracket
from shimopt.parts import Part
from shimopt.parts.part import called
from shimopt.render.pictures.part_on_seat import Geometry, Window, draw_section, geometry_of
from shimopt.render.pictures.picture_colours import (
    AGAINST,
    BODY,
    CAUTION,
    FAINT,
    HATCH,
    INK,
    PAPER,
    PLAY,
    SUITS,
    TOO_MUCH,
)
from shimopt.render.pictures.svg import Svg
from shimopt.render.screens.layout import folded
from shimopt.seats import OnSeat
from shimopt.words.finding_words import finding_words
from shimopt.words.fit_words import missing_words
from shimopt.words.speaker import Speaker, listed

MOST_DRAWN = 40
_LEGEND = (
    "Hatched: the body with its face (dashed: not described). Thick blue line: the face carried; red line: bare.",
    "Blue dots: play that is allowed; red stripes: play beyond it; full red: two things would be in one place.",
)
_WIDTH, _PANEL, _LINE = 860, 386, 16
_HIGH = 290.0  # of a window that shows the whole section
_COLOURS = {"suits": SUITS, "caution": CAUTION, "stop": AGAINST}
# of one part and of several
_SAID = {
    "suits": ("suits", "suit"),
    "caution": ("suits, with a caution", "suit, with a caution"),
    "stop": ("stop: does not suit", "stop: do not suit"),
}
_HATCHING = (
    '<pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f'<rect width="7" height="7" fill="{BODY}"/><line x1="0" y1="0" x2="0" y2="7" stroke="{HATCH}"/></pattern>'
    '<pattern id="play" width="6" height="6" patternUnits="userSpaceOnUse">'
    f'<rect width="6" height="6" fill="{PLAY}"/><circle cx="3" cy="3" r="0.9" fill="{SUITS}"/></pattern>'
    '<pattern id="gap" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)">'
    f'<rect width="5" height="5" fill="{TOO_MUCH}"/><line x1="0" y1="0" x2="0" y2="5" stroke="{AGAINST}" '
    'stroke-width="2"/></pattern>'
)


Shown = tuple[Part, Seat, OnSeat]


def sections_svg(shown_parts: Sequence[Shown], unit: str) -> str:
    """One picture of all these parts on their seats, one below the other, with what was found; at most MOST_DRAWN.

    Parts of one seat and shape of which the same was found are drawn once, as the thickest of them.
    """
    say = Speaker(unit)
    groups = _alike(shown_parts, say)
    drawn = groups[:MOST_DRAWN]
    names = [_title(group) for group in drawn]
    texts = [[*_thickest(group, say), *_sentences(group[0][2], say)] for group in drawn]
    tall = [_PANEL + _LINE * len(lines) + 22 * len(name) + 8 for name, lines in zip(names, texts, strict=True)]
    height = sum(tall) + 60
    svg = Svg(_WIDTH, height, "Parts on their seats, in section")
    svg.define(_HATCHING)
    svg.rect(0, 0, _WIDTH, height, "paper", fill=PAPER)
    top = 10.0
    for group, name, lines, step in zip(drawn, names, texts, tall, strict=True):
        _panel(svg, top, max(group, key=lambda one: one[0].thickness.best), name, lines, say)
        top += step
    for number, line in enumerate(_LEGEND):
        svg.write(16, top + 8 + 15 * number, line, 11.5, fill=FAINT)
    if left_out := sum(map(len, groups[MOST_DRAWN:])):
        svg.write(16, top + 44, f"{left_out} more are not drawn: choose with --part and --seat", 13)
    return svg.text()


def _alike(shown_parts: Sequence[Shown], say: Speaker) -> list[list[Shown]]:
    """Parts of one shape on one seat of which the same is said, in the order of the first of each."""
    groups: dict[object, list[Shown]] = {}
    for one in shown_parts:
        part, seat, answer = one
        shape = (part.inner, part.outer, part.edge, part.form, part.material)
        # without a shape there is nothing that they share
        alone = part.inner is None and len(groups)
        groups.setdefault((shape, alone, seat.name, answer.verdict, *_sentences(answer, say)), []).append(one)
    return list(groups.values())


def _thickest(group: Sequence[Shown], say: Speaker) -> list[str]:
    """Which of several parts is drawn."""
    if len(group) == 1:
        return []
    part = max(group, key=lambda one: one[0].thickness.best)[0]
    return [f"Drawn: the thickest, {shown(part.name)}, {say(part.thickness.best)}."]


def _title(group: Sequence[Shown]) -> list[str]:
    """`S-05, S-10 and S-20 on plain end: suit`, in lines that fit."""
    # a part, and one of it that was measured, are one name
    names = list(dict.fromkeys(called(part.name, part.piece) for part, _, _ in group))
    _, seat, answer = group[0]
    said = _SAID[answer.verdict]
    return folded(f"{listed(names, len(names))} on {shown(seat.name)}: {said[len(names) > 1]}", 78)


def small_section_svg(part: Part, seat: Seat, verdict: str) -> str:
    """The part on its seat in the middle and at full shift, without words; empty where it cannot be drawn."""
    geometry = geometry_of(part, seat)
    if geometry is None:
        return ""
    svg = Svg(400, _HIGH, f"{part.name} on {seat.name}, in section", within=True)
    svg.define(_HATCHING)
    for window, moved in zip(_whole(geometry, (0, 210), 0), (0.0, geometry.shift), strict=True):
        draw_section(svg, window, geometry, moved, _COLOURS[verdict])
    return svg.text()


def pack_section_svg(pack: Sequence[Part], seat: Seat) -> str:
    """Shims as they lie on their seat, from the face, without words; empty where they cannot be drawn."""
    total = sum(part.thickness.best for part in pack)
    narrowest = min(pack, key=lambda part: part.inner.best if part.inner else 0)
    geometry = geometry_of(replace(narrowest, thickness=Bracket.between(total, total)), seat)
    if geometry is None:
        return ""
    svg = Svg(190, _HIGH, f"a pack on {seat.name}, in section", within=True)
    svg.define(_HATCHING)
    (whole,) = _whole(geometry, (0,), 0)
    # wide enough to tell the pieces apart
    window = replace(whole, along=max(whole.along, 84 / geometry.thickness))
    draw_section(svg, window, geometry, 0.0, _COLOURS["suits"])
    at = 0.0
    for part in pack[:-1]:
        at += float(part.thickness.best) / 1e6
        for side in (1.0, -1.0):
            ends = (*window.at(at, side * geometry.bore), *window.at(at, side * geometry.outside))
            svg.line(*ends, "joint", stroke=PAPER, stroke_width="2")
    return svg.text()


def _sentences(answer: OnSeat, say: Speaker) -> list[str]:
    told = [f"{f.grade}: {finding_words(f, say)}." for f in answer.findings]
    if not told:
        told = ["Nothing speaks against it."]
    missing = dict.fromkeys(missing_words(one.lack) for one in answer.not_checked)
    if missing:
        told.append(f"Not checked: {', '.join(missing)}.")
    return [line for text in told for line in textwrap.wrap(text, 112, subsequent_indent="    ")]


def _panel(svg: Svg, top: float, drawn: Shown, names: Sequence[str], lines: Sequence[str], say: Speaker) -> None:
    part, seat, answer = drawn
    colour = _COLOURS[answer.verdict]
    svg.rect(10, top, 6, 22 * len(names) + 2, "verdict", fill=colour)
    for number, line in enumerate(names):
        svg.write(24, top + 18 + 22 * number, line, 17, font_weight="bold", fill=colour)
    geometry = geometry_of(part, seat)
    below = top + 22 * len(names)
    if geometry is None:
        svg.write(24, below + 38, "No drawing: the bore of the part, or the shaft, is not known.", 13)
    else:
        _views(svg, below + 12, geometry, colour, say)
    for number, line in enumerate(lines):
        svg.write(24, below + _PANEL - 22 + _LINE * number, line, 12.5)


def _whole(geometry: Geometry, lefts: Sequence[float], top: float) -> list[Window]:
    """Windows of the whole section, side by side."""
    across = _HIGH / (2 * geometry.reach * 1.06)
    along = max(across, 16 / geometry.thickness)
    return [Window(left, top, 190, _HIGH, left + 66, top + _HIGH / 2, along, across) for left in lefts]


def _views(svg: Svg, top: float, geometry: Geometry, colour: str, say: Speaker) -> None:
    """The four windows with their titles and measures."""
    height = _HIGH
    whole = _whole(geometry, (16, 216), top + 22)
    along, across = whole[0].along, whole[0].across
    near = geometry.detail
    closer = 130 / (2 * near)
    close_along = max(closer, 40 / geometry.thickness)
    details = []
    for at, side in ((0, 1), (1, -1)):
        window_top = top + 22 + at * 160
        # the shaft's surface lies in the middle of the window
        middle = window_top + 65 + side * geometry.shaft * closer
        details.append(Window(430, window_top, 170, 130, 490, middle, close_along, closer))
    for window, title, moved in zip(whole, ("in the middle", "at full shift"), (0.0, geometry.shift), strict=True):
        svg.write(window.left, top + 14, title, 13)
        draw_section(svg, window, geometry, moved, colour)
    times = f", {closer / across:.0f} times larger" if closer > 1.5 * across else ""
    svg.write(430, top + 14, f"the bore's edges at full shift{times}", 13)
    for window in details:
        draw_section(svg, window, geometry, geometry.shift, colour)
        svg.rect(window.left, window.top, window.width, window.height, "frame", fill="none", stroke=FAINT)
    _measures(svg, details, geometry, say)
    svg.write(
        16,
        top + 22 + height + 18,
        f"To scale across the shaft; along it {along / across:.1f} times larger.",
        11,
        fill=FAINT,
    )


def _measures(svg: Svg, details: Sequence[Window], g: Geometry, say: Speaker) -> None:
    """Beside the enlarged edges: the play, and how much of it is allowed."""
    x = 610.0
    lines = [f"shaft {say(g.sizes['shaft'])}", f"bore {say(g.sizes['bore'])}"]
    if g.sizes["held"] != g.sizes["shaft"]:
        lines.insert(1, f"groove {say(g.sizes['held'])}")
    play = g.sizes["play"]
    lines.append(f"too small by {say(-play)}" if play < 0 else f"play {say(play)}")
    lines.append(f"allowed {say(g.sizes['allowed'])}")
    for number, line in enumerate(lines):
        svg.write(
            x,
            details[1].top + 18 + 17 * number,
            line,
            13,
            font_weight="bold" if line.startswith(("play", "too")) else "normal",
        )
    upper, lower = details
    svg.write(x, upper.top + 18, "the side that touches", 12, fill=FAINT)
    if g.sizes.get("shift"):
        svg.write(x, upper.top + 36, f"pushed {say(g.sizes['shift'])} off centre", 12)
    if play > 0:
        # the allowed play as a line: what of the gap lies beyond it is too much
        _, y = lower.at(0, -(g.held + float(g.sizes["allowed"]) / 1e6))
        if lower.top < y < lower.top + lower.height:
            svg.line(lower.left, y, lower.left + lower.width, y, "allowed", stroke=SUITS, stroke_dasharray="6 3")
            svg.write(lower.left + 4, y - 4, "allowed", 10.5, fill=INK)
