"""`shimopt make`: a required thickness from the drawer, for jobs that are no gap."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["make_command"]

# common practice, no source
_TOLERANCE = "0.02 mm"


@click.command("make", short_help="A required thickness from the drawer.")
@click.argument("thickness")
@click.option(
    "--from",
    "drawer",
    type=click.Path(path_type=Path),
    default=Path("drawer.csv"),
    show_default=True,
    metavar="FILE",
    help="The drawer.",
)
@click.option(
    "--tolerance",
    default=_TOLERANCE,
    show_default=True,
    metavar="LENGTH",
    help="How far off it may be either way (common practice).",
)
@click.option("--most", type=click.IntRange(1, 12), default=4, show_default=True, help="The most pieces.")
@click.option("--json", "as_json", is_flag=True, help="Print the stack as JSON instead of the screen.")
@click.option(
    "--unit", type=click.Choice(["mm", "um", "in", "thou"]), default="mm", show_default=True, help="Unit of the screen."
)
def make_command(thickness: str, drawer: Path, tolerance: str, most: int, as_json: bool, unit: str) -> int:
    """Make THICKNESS, such as 2.35mm or "92.5 thou", from what is on hand.

    The fewest pieces that come within the tolerance, then the nearest of them.
    Pieces whose bores are known to differ are not put together.
    The exit code is 0 where there is such a stack, 1 where there is none.

    \b
    Examples:
      shimopt make 2.35mm
      shimopt make "11 thou" --from demo_data/swing-bridge/drawer.csv
      shimopt make 0.9mm --from drawer.csv --tolerance 0.05mm --json
    """
    from shimopt.candidates import TooManyError
    from shimopt.candidates.making import make_thickness, nearest_thickness
    from shimopt.cli.printing import print_lines, print_text
    from shimopt.parts import load_stock
    from shimopt.render.json_view import json_text
    from shimopt.render.make_view import make_lines, make_object

    wanted, within = _length(thickness, "THICKNESS"), _length(tolerance, "--tolerance", least=0)
    stock = load_stock(drawer, []).lines
    try:
        stack = make_thickness(wanted, within, stock, most)
        nearest = nearest_thickness(wanted, stock, most) if stack is None else ()
    except TooManyError:
        raise click.UsageError("more stacks would do than can be compared; ask for a smaller --tolerance") from None
    if as_json:
        print_text(json_text(make_object(wanted, within, stock, stack, nearest)))
    else:
        print_lines(lambda width, _: make_lines(wanted, within, most, stock, stack, nearest, unit, width))
    return 0 if stack is not None else 1


def _length(text: str, where: str, least: int = 1) -> int:
    from shimopt.errors import InputError, Problem
    from shimopt.lengths import LengthError, length_of

    try:
        nm = length_of(text, None)
    except LengthError as error:
        raise InputError([Problem("", where, text, error.rule, error.remedy)]) from None
    if nm < least:
        rule = "a thickness is above zero" if least else "a tolerance is not negative"
        raise InputError([Problem("", where, text, rule, "write it like 2.35mm")])
    return nm
