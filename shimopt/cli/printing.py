"""Lines on the terminal: as wide as it is up to 100 columns, 80 where there is none, and only what it can show."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from shimopt.render.layout import Line
    from shimopt.render.scale import Marks

__all__ = ["marks", "print_lines"]


def print_lines(lines: Callable[[int], list[Line]]) -> None:
    """Print the lines made for the terminal's width, bold where it has bold."""
    from rich.console import Console
    from rich.text import Text

    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        # a name that the terminal cannot show is shown by its escapes, never a crash
        reconfigure(errors="backslashreplace")
    console = Console(highlight=False, markup=False, emoji=False)
    width = min(100, console.width) if console.is_terminal else 80
    for text, bold in lines(max(40, width)):
        if console.is_terminal:
            console.print(Text(text, style="bold" if bold else ""), soft_wrap=True)
        else:
            click.echo(text)


def marks() -> Marks:
    """The marks that the terminal can show."""
    from shimopt.render.scale import ASCII, UNICODE

    text = "".join(str(getattr(UNICODE, name)) for name in UNICODE.__slots__)
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return ASCII
    return UNICODE
