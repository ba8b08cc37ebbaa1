"""How gaps wear, as a picture: each reading with what it leaves open, the straight line, and what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from math import sqrt

from shimopt.learning.visits import Needs
from shimopt.learning.wear import Wear
from shimopt.render.pictures.picture_colours import AGAINST, BAND, FAINT, INK, PAPER, SUITS
from shimopt.render.pictures.svg import Svg
from shimopt.words.came_back_words import NOTHING_DRAWN, PLOT_HEAD, PLOT_TITLE, wear_title
from shimopt.words.history_words import speaker_of

_WIDTH, _PANEL, _LEFT, _RIGHT, _HEAD = 332.0, 206.0, 78.0, 324.0, 58.0
_TOP, _BOTTOM = 48.0, 160.0
_MOST = 12


def wear_plot(wear: Sequence[tuple[Needs, Wear]], unit: str) -> str:
    """The picture as SVG, a panel for each gap; of many gaps those that come first."""
    panels = wear[:_MOST]
    height = _HEAD + _PANEL * max(1, len(panels))
    svg = Svg(_WIDTH, height, PLOT_TITLE, within=True)
    svg.rect(0, 0, _WIDTH, height, "", fill=PAPER)
    for number, line in enumerate(PLOT_HEAD if panels else NOTHING_DRAWN):
        svg.write(8, 20 + 18 * number, line, 14, fill=INK)
    for number, (needs, one) in enumerate(panels):
        _panel(svg, _HEAD + number * _PANEL, needs, one, unit)
    return svg.text()


def _panel(svg: Svg, top: float, needs: Needs, wear: Wear, unit: str) -> None:
    say = speaker_of(unit)
    days = [date.fromisoformat(reading.date).toordinal() for reading in wear.readings]
    ahead = date.fromisoformat(wear.next_date).toordinal()
    # an even bracket of half-width a has the variance a²/3
    halves = [sqrt(float(reading.half) ** 2 + 3 * float(reading.pieces)) for reading in wear.readings]
    values = [float(reading.value) for reading in wear.readings]
    ends = [value + sign * half for value, half in zip(values, halves, strict=True) for sign in (-1, 1)]
    least, most = min(*ends, wear.next.low), max(*ends, wear.next.high)
    first = min(days)
    began = wear.next.best - wear.a_year.best * (ahead - first) / 365.25

    def at(day: float, value: float) -> tuple[float, float]:
        across = (day - first) / (ahead - first)
        up = (value - least) / (most - least) if most > least else 0.5
        return _LEFT + (_RIGHT - _LEFT - 20) * across, top + _BOTTOM - (_BOTTOM - _TOP) * up

    whose, when = wear_title(needs, wear).rsplit(": ", 1)
    svg.write(8, top + 16, whose, 13, fill=INK)
    svg.write(8, top + 33, when, 13, fill=FAINT)
    for value in (least, (least + most) / 2, most):
        y = at(first, value)[1]
        svg.line(_LEFT, y, _RIGHT, y, "", stroke=BAND)
        svg.write(_LEFT - 4, y + 4, say(round(value)), 13, fill=FAINT, text_anchor="end")
    (x1, y1), (x2, y2) = at(first, began), at(ahead, wear.next.best)
    svg.line(x1, y1, x2, y2, "worn", stroke=SUITS)
    for day, value, half in zip(days, values, halves, strict=True):
        x, y = at(day, value)
        svg.line(x, at(day, value - half)[1], x, at(day, value + half)[1], "open", stroke=INK)
        svg.circle(x, y, 3, "read", fill=INK)
    svg.line(x2, at(ahead, wear.next.low)[1], x2, at(ahead, wear.next.high)[1], "next", stroke=AGAINST)
    svg.circle(x2, y2, 3.5, "next", fill=PAPER, stroke=AGAINST)
    labels = [(first, wear.readings[days.index(first)].date, "start"), (ahead, wear.next_date, "end")]
    for day, text, anchor in labels:
        svg.write(
            at(day, least)[0] + (10 if anchor == "end" else 0),
            top + _BOTTOM + 18,
            text,
            13,
            fill=FAINT,
            text_anchor=anchor,
        )
