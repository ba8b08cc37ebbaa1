"""Lines on a terminal: as wide as it is up to 100 columns, 80 where there is none, in characters that it can show."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from shimopt.render.layout import Line
    from shimopt.render.scale import Marks

__all__ = ["print_lines"]


def print_lines(lines_of: Callable[[int, Marks], list[Line]]) -> None:
    """Print what `lines_of` makes of a width and of marks."""
    from rich.console import Console
    from rich.text import Text

    from shimopt.render.scale import ASCII, UNICODE

    marks = UNICODE if _can_show("".join(str(getattr(UNICODE, name)) for name in UNICODE.__slots__)) else ASCII
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        # a name that the terminal cannot show is shown by its escapes, never a crash
        reconfigure(errors="backslashreplace")
    console = Console(highlight=False, markup=False, emoji=False)
    width = min(100, console.width) if console.is_terminal else 80
    for text, bold in lines_of(max(40, width), marks):
        if console.is_terminal:
            console.print(Text(text, style="bold" if bold else ""), soft_wrap=True)
        else:
            click.echo(text)


def _can_show(text: str) -> bool:
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True
