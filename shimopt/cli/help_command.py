"""`shimopt help`: the pages in `shimopt/help`, one a topic, as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

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


class _Topic(click.Choice[str]):
    """A topic, or the name of a command: who looks for help by it finds it."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The topic or command of this name; what is neither is refused."""
        group = ctx.parent.command if ctx is not None and ctx.parent is not None else None
        if ctx is not None and isinstance(group, click.Group) and value in group.list_commands(ctx):
            return value
        return super().convert(value, param, ctx)


@click.command("help", short_help="Pages on files, readings, seats, orders and more.")
@click.argument("topic", required=False, metavar="[TOPIC]", type=_Topic(TOPICS, case_sensitive=False))
@click.pass_context
def help_command(ctx: click.Context, topic: str | None) -> int:
    """Show the page of a TOPIC, or the help of a command; without one, list them.

    \b
    Examples:
      shimopt help
      shimopt help readings
      shimopt help words | less
    """
    from shimopt.cli.terminal import print_page, say

    if (command := _command(ctx, topic)) is not None:
        with click.Context(command, info_name=topic, parent=ctx.parent) as of_command:
            print_page([(line, False) for line in command.get_help(of_command).splitlines()])
        return 0
    if topic is not None:
        print_page(list(lines_of_page(_text(topic))))
        return 0
    say("Topics. Read one with: shimopt help TOPIC")
    for name in TOPICS:
        say(f"  {name:<14}{_first_sentence(name)}")
    say("Every option of a command: shimopt COMMAND --help")
    return 0


def _command(ctx: click.Context, name: str | None) -> click.Command | None:
    """The command of this name that is no topic; None for no such."""
    group = ctx.parent.command if ctx.parent is not None else None
    if name is None or name in TOPICS or not isinstance(group, click.Group):
        return None
    return group.get_command(ctx, name)


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
