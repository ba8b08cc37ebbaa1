"""A small SVG writer: shapes and text, numbers in pixels, everything that a user typed made harmless."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from shimopt.errors import shown


class Svg:
    """A picture under construction; `text` gives the finished file."""

    def __init__(self, width: float, height: float, title: str) -> None:
        self._head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
            f'viewBox="0 0 {width:g} {height:g}" font-family="sans-serif" role="img">'
        )
        self._parts = [f"<title>{escape(shown(title))}</title>"]
        self._clips = 0

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
        self._parts.append(
            f'<line class="{kind}" x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}"{_style(style)}/>'
        )

    def write(self, x: float, y: float, text: str, size: float = 12, **style: str) -> None:
        """One line of text with its base line at y."""
        self._parts.append(
            f'<text x="{_n(x)}" y="{_n(y)}" font-size="{size:g}"{_style(style)}>{escape(shown(text, 400))}</text>'
        )

    def text(self) -> str:
        """The finished file."""
        return "\n".join([self._head, *self._parts, "</svg>"]) + "\n"


def _n(value: float) -> str:
    return f"{round(value, 2):g}"


def _style(style: dict[str, str]) -> str:
    return "".join(f' {key.replace("_", "-")}="{value}"' for key, value in style.items())
