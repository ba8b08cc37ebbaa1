"""`shimopt help`: the pages in `shimopt/help`, one a topic, as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from shimopt.render.screens.layout import Line

_PAGES = Path(__file__).parents[1] / "help"
# in the order in which they are met
TOPICS = (
    "install",
    "job-file",
    "readings",
    "seats",
    "parts-tables",
    "places",
    "record",
    "order",
    "stock",
    "bench",
    "batch",
    "assortment",
    "history",
    "levels",
    "large-jobs",
    "json",
    "limits",
    "words",
)


@click.command("help", short_help="Pages on files, readings, seats, orders and more.")
@click.argument("topic", required=False, metavar="[TOPIC]", type=click.Choice(TOPICS, case_sensitive=False))
def help_command(topic: str | None) -> int:
    """Show the page of a TOPIC; without one, list them.

    \b
    Examples:
      shimopt help
      shimopt help readings
      shimopt help words | less
    """
    from shimopt.cli.terminal import print_page, say

    if topic is not None:
        print_page(list(lines_of_page(_text(topic))))
        return 0
    say("Topics. Read one with: shimopt help TOPIC")
    for name in TOPICS:
        say(f"  {name:<14}{_first_sentence(name)}")
    say("Every option of a command: shimopt COMMAND --help")
    return 0


def _text(topic: str) -> str:
    return (_PAGES / f"{topic}.md").read_text(encoding="utf-8")


def _first_sentence(topic: str) -> str:
    return _text(topic).splitlines()[2]


def lines_of_page(text: str) -> Iterator[Line]:
    """A page without what only Markdown needs: fences of code, signs of a heading (which is bold), stars."""
    code = False
    for line in text.splitlines():
        if line.startswith("```"):
            code = not code
        elif code:
            yield line, False
        elif line.startswith("#"):
            yield line.lstrip("# "), True
        else:
            yield line.replace("**", ""), False
