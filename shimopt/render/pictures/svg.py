"""A small SVG writer: shapes and text, numbers in pixels, everything that a user typed made harmless."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from html import escape

from rich.cells import cell_len

from shimopt.errors import shown
from shimopt.render.pictures.picture_colours import PAPER

_ABOVE, _BELOW = 0.85, 0.3  # how far a text reaches from its base line, by its size
_SEEN = 0.835  # of the width that is surely enough for a text, what most texts take: half of its size a letter
# what lies behind a text ends a little before it
HALO = {"stroke": PAPER, "stroke_width": "3", "paint_order": "stroke", "stroke_linejoin": "round"}


def wide(text: str, size: float) -> float:
    """About how wide a text is [px]."""
    return 0.6 * size * cell_len(text)


def seen(text: str, size: float) -> float:
    """How wide most texts look [px]: where one stands off a line beside it, this much is enough."""
    return _SEEN * wide(text, size)


@dataclass(frozen=True, slots=True)
class _Box:
    """Where a text lies [px]."""

    left: float
    right: float
    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class _Upright:
    """A line that waits for the texts that are written later; `at` is its place among the parts."""

    at: int
    x: float
    top: float
    bottom: float
    kind: str
    style: dict[str, str]


class Svg:
    """A picture under construction; `text` gives the finished file.

    It keeps to a narrow window by itself, unless it is `within` a page, whose style sheet alone says how wide it is.
    """

    def __init__(self, width: float, height: float, title: str, *, within: bool = False) -> None:
        narrow = "" if within else ' style="max-width:100%"'
        self._head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
            f'viewBox="0 0 {width:g} {height:g}" font-family="sans-serif" role="img"{narrow}>'
        )
        self._parts = [f"<title>{escape(shown(title))}</title>"]
        self._clips = 0
        self._uprights: list[_Upright] = []
        self._boxes: list[_Box] = []

    def define(self, markup: str) -> None:
        """Add a definition, such as a hatching, as it stands."""
        self._parts.append(f"<defs>{markup}</defs>")

    def begin(self, x: float, y: float, width: float, height: float) -> None:
        """Begin a window: what is drawn until `end` shows only inside it."""
        self._clips += 1
        self._parts.append(
            f'<clipPath id="window{self._clips}"><rect x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" '
            f'height="{_n(height)}"/></clipPath><g clip-path="url(#window{self._clips})">'
        )

    def end(self) -> None:
        """End the window."""
        self._parts.append("</g>")

    def polygon(self, points: Iterable[tuple[float, float]], kind: str, **style: str) -> None:
        """A filled shape; `kind` becomes its class, by which tests and readers find it."""
        told = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        self._parts.append(f'<polygon class="{kind}" points="{told}"{_style(style)}/>')

    def rect(self, x: float, y: float, width: float, height: float, kind: str, **style: str) -> None:
        """A rectangle from its upper left corner."""
        self._parts.append(
            f'<rect class="{kind}" x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}"{_style(style)}/>'
        )

    def circle(self, x: float, y: float, radius: float, kind: str, **style: str) -> None:
        """A circle round a point."""
        self._parts.append(f'<circle class="{kind}" cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}"{_style(style)}/>')

    def line(self, x1: float, y1: float, x2: float, y2: float, kind: str, **style: str) -> None:
        """A straight line."""
        self._parts.append(_line(x1, y1, x2, y2, kind, style))

    def upright(self, x: float, top: float, bottom: float, kind: str, **style: str) -> None:
        """An upright line, left out where a text lies on it, be that written before or after."""
        self._uprights.append(_Upright(len(self._parts), x, top, bottom, kind, style))
        self._parts.append("")

    def write(self, x: float, y: float, text: str, size: float = 12, **style: str) -> None:
        """One line of text with its base line at y."""
        broad = seen(text, size)
        left = x - broad * {"middle": 0.5, "end": 1.0}.get(style.get("text_anchor", ""), 0.0)
        self._boxes.append(_Box(left, left + broad, y - _ABOVE * size, y + _BELOW * size))
        self._parts.append(
            f'<text x="{_n(x)}" y="{_n(y)}" font-size="{size:g}"{_style(style)}>{escape(shown(text, 400))}</text>'
        )

    def text(self) -> str:
        """The finished file."""
        parts = list(self._parts)
        for line in self._uprights:
            ends = self._clear(line)
            drawn = (_line(line.x, top, line.x, bottom, line.kind, line.style) for top, bottom in ends)
            parts[line.at] = "\n".join(drawn)
        return "\n".join([self._head, *filter(None, parts), "</svg>"]) + "\n"

    def _clear(self, line: _Upright) -> Iterator[tuple[float, float]]:
        """From where to where an upright line is drawn."""
        over = sorted((box.top, box.bottom) for box in self._boxes if box.left < line.x < box.right)
        at = line.top
        for top, bottom in over:
            if at < min(top, line.bottom):
                yield at, min(top, line.bottom)
            at = max(at, bottom)
        if at < line.bottom:
            yield at, line.bottom


def _line(x1: float, y1: float, x2: float, y2: float, kind: str, style: dict[str, str]) -> str:
    return f'<line class="{kind}" x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}"{_style(style)}/>'


def _n(value: float) -> str:
    return f"{round(value, 2):g}"


def _style(style: dict[str, str]) -> str:
    return "".join(f' {key.replace("_", "-")}="{value}"' for key, value in style.items())
