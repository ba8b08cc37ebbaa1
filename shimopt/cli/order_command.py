"""`shimopt order`."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shimopt.cli.dates import date_option
from shimopt.cli.order_files import refuse_call, refuse_files, write_card, write_order
from shimopt.cli.seconds import Seconds

if TYPE_CHECKING:
    from shimopt.job import Job

__all__ = ["order_command"]

# nominal: about so many search nodes a second on two cores of 2026; a limit in nodes gives the same order everywhere
_NODES_PER_SECOND = 5
_DEFAULT_LIMIT = 10


@click.command("order", short_help="What to buy so that one order is enough, with bench cards.")
@click.argument("jobs", nargs=-1, required=True, metavar="JOB...", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the order as JSON instead of the screen.")
@click.option(
    "-o",
    "--output",
    "outputs",
    metavar="FILE",
    multiple=True,
    help="Write to FILE by its ending: .csv or .xlsx the purchase list, .txt an order per supplier, .json "
    "everything; - is standard output. Can be given several times.",
)
@click.option(
    "--card",
    "cards",
    metavar="FILE",
    multiple=True,
    help="Write the bench card to FILE by its ending: .pdf or .html for the bench, .txt, .csv. Can be given "
    "several times.",
)
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Size of the card's paper."
)
@date_option("Date on the card")
@click.option(
    "--unit", type=click.Choice(["mm", "in", "thou"]), help="Unit of the screen; the first job's if not given."
)
@click.option(
    "--drawer", type=click.Path(path_type=Path), metavar="FILE", help="Use this drawer in place of the jobs'."
)
@click.option("--need-by", metavar="DATE", help="Leave out what arrives later than this day, like 2027-03-01.")
@click.option("--spend", metavar="MONEY", help="Spend at most so much, and cover as much as that can.")
@click.option(
    "--time-limit",
    type=Seconds(min=0.1, max=1_000_000),
    default=_DEFAULT_LIMIT,
    show_default=True,
    metavar="SECONDS",
    help="About how long to search per step; counted in steps, to repeat.",
)
@click.option("--quiet", is_flag=True, help="Print nothing; the exit code answers.")
def order_command(
    jobs: tuple[Path, ...],
    as_json: bool,
    outputs: tuple[str, ...],
    cards: tuple[str, ...],
    unit: str | None,
    drawer: Path | None,
    need_by: str | None,
    spend: str | None,
    time_limit: float,
    quiet: bool,
    paper: str,
    moment: tuple[str, datetime],
) -> int:
    """What to buy for JOB so that the final build needs no second order.

    The cheapest purchase such that, wherever in their brackets the final
    readings fall, a stack that is surely inside can be made from drawer plus
    order, for all gaps at once; and the card that says what to fit. Several
    jobs share drawer and postage. The exit code is 0 where every reading is
    covered, 1 where one is not, 2 where the input is wrong.

    \b
    Examples:
      shimopt order demo_data/quarry-tram
      shimopt order demo_data/quarry-tram --need-by 2027-03-01 --spend 25
      shimopt order demo_data/quarry-tram -o purchase.xlsx --card card.pdf
      shimopt order demo_data/quarry-tram demo_data/swing-bridge --json
    """
    from shimopt.cli.printing import print_lines, print_text
    from shimopt.cli.progress import sign_of_life
    from shimopt.cli.writing import refuse_input
    from shimopt.ordering.order import make_order
    from shimopt.render.json_view import json_text
    from shimopt.render.order_json import order_object
    from shimopt.render.order_screen import order_lines
    from shimopt.words.order_words import LEVEL_NAMES

    money, days = _money(spend), _days(need_by)
    refuse_files(outputs, cards)
    loaded = _loaded(jobs, drawer)
    inputs = [name for job in loaded for name in job.inputs]
    for name in (*outputs, *cards):
        if name != "-":
            refuse_input(Path(name), inputs)
    with sign_of_life("ordering") as progress:
        order = make_order(
            loaded,
            within_days=days,
            spend=money,
            nodes=max(1, round(time_limit * _NODES_PER_SECOND)),
            progress=progress and (lambda level: progress(LEVEL_NAMES.get(level, level))),
        )
    shown_unit = unit or order.jobs[0].unit
    for name in outputs:
        if name != "-":
            write_order(Path(name), order)
    for name in cards:
        write_card(Path(name), order, shown_unit, paper, moment)
    if as_json or "-" in outputs:
        if not quiet or "-" in outputs:
            print_text(json_text(order_object(order)))
    elif not quiet:
        print_lines(lambda width, _: order_lines(order, shown_unit, width))
    return 0 if order.whole else 1


def _loaded(jobs: Sequence[Path], drawer: Path | None) -> list[Job]:
    """All jobs, each once, with every problem of any of them told at once. Raises InputError."""
    from shimopt.errors import InputError, Problem
    from shimopt.job import load_job

    loaded: dict[str, Job] = {}
    problems: list[Problem] = []
    for path in jobs:
        try:
            job = load_job(path, drawer=drawer)
            loaded.setdefault(os.path.realpath(job.inputs[0]), job)
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(dict.fromkeys(problems))
    return list(loaded.values())


def _money(text: str | None) -> Decimal | None:
    if text is None:
        return None
    try:
        money = Decimal(text)
    except InvalidOperation:
        money = Decimal("NaN")
    if not money.is_finite() or money > 10**9 or -int(money.normalize().as_tuple().exponent) > 6:
        refuse_call(
            "--spend", text, "this is not an amount of money", "write it like 25 or 12.50, without the currency"
        )
    if money <= 0:
        refuse_call("--spend", text, "a budget of nothing buys nothing", "give an amount above 0, or leave --spend out")
    return money


def _days(text: str | None) -> int | None:
    if text is None:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError:
        refuse_call("--need-by", text, "this is not a date", "write it like 2027-03-01: year, month, day")
        return None
    days = (day - date.today()).days
    if days < 0:
        refuse_call("--need-by", text, "this day is past", "give a day from today on")
    return days
