"""The curve of time against gaps, drawn with the project's own SVG writer; both axes logarithmic."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import log10

from shimopt.render.pictures.svg import Svg

__all__ = ["drawn_curve"]

_LEFT, _TOP, _WIDE, _HIGH = 70.0, 40.0, 480.0, 260.0
_COLOURS = ("#1f5fa8", "#b3541e")
_MACHINE = "2 cores, Python 3.11, ortools 9.15"


def drawn_curve(seconds: Mapping[str, Sequence[tuple[int, float]]]) -> str:
    """An SVG file: by drawer, how many seconds so many gaps take."""
    points = [point for line in seconds.values() for point in line]
    gaps = [log10(count) for count, _ in points]
    least, most = min(gaps), max(gaps)
    low, high = 0, max(1, round(max(log10(time) for _, time in points) + 0.5))
    picture = Svg(_LEFT + _WIDE + 40, _TOP + _HIGH + 60, "Seconds to plan so many gaps with one drawer")

    def x(count: float) -> float:
        return _LEFT + (log10(count) - least) / (most - least) * _WIDE

    def y(time: float) -> float:
        return _TOP + (high - log10(max(time, 1.0))) / (high - low) * _HIGH

    picture.write(_LEFT, 22, f"Seconds to plan so many gaps with one drawer, all levels ({_MACHINE})", 13)
    for power in range(low, high + 1):
        picture.line(_LEFT, y(10.0**power), _LEFT + _WIDE, y(10.0**power), "grid", stroke="#cccccc")
        picture.write(_LEFT - 8, y(10.0**power) + 4, f"{10**power:,}", 12, text_anchor="end")
    for count in sorted({count for count, _ in points}):
        picture.write(x(count), _TOP + _HIGH + 20, f"{count:,}", 11, text_anchor="middle")
    for number, (name, line) in enumerate(seconds.items()):
        colour = _COLOURS[number % len(_COLOURS)]
        for (count, time), (further, longer) in pairwise(line):
            picture.line(x(count), y(time), x(further), y(longer), "curve", stroke=colour, stroke_width="2")
        for count, time in line:
            picture.circle(x(count), y(time), 3.5, "point", fill=colour)
        picture.write(_LEFT + 14, _TOP + 18 + 18 * number, name, 12, fill=colour)
    picture.write(_LEFT + _WIDE / 2, _TOP + _HIGH + 44, "gaps", 12, text_anchor="middle")
    return picture.text()
