"""`shimopt order`: what to buy, and the files it writes; what the parcel brought (`came.py`) against it."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from shimopt.cli import shared_options as options
from shimopt.cli.planning import refuse_undecided
from shimopt.cli.shared_options import Call, Moment, gathered
from shimopt.watch import ORDER_STEPS, Watch

if TYPE_CHECKING:
    from shimopt.job import Job
    from shimopt.ordering.order_result import Order

_OF_ORDERS = (".csv", ".xlsx", ".txt", ".json")
_OF_CARDS = (".pdf", ".html", ".csv", ".txt")


@dataclass(frozen=True, kw_only=True)
class _Order(Call):
    jobs: tuple[Path, ...]
    outputs: tuple[str, ...]
    cards: tuple[str, ...]
    paper: str
    moment: Moment
    need_by: str | None
    spend: str | None
    top_up: bool
    suppliers: int | None
    keep_balances: bool
    time_limit: float | None
    steps: int
    semicolons: bool
    exact_names: bool
    came: Path | None
    ordered: Path | None
    yes: bool


@click.command("order", short_help="What to buy so that one order is enough, with bench cards.")
@click.argument("jobs", nargs=-1, required=True, metavar="JOB...", type=click.Path(path_type=Path))
@options.json_option("Print the order as JSON instead of the screen.")
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
@options.paper_option("Size of the card's paper.")
@options.date_option("Date on order texts and card")
@options.unit_option("Unit of the screen; the first job's if not given.")
@options.drawer_option("Use this drawer in place of the jobs'.")
@click.option("--need-by", metavar="DATE", help="Leave out what arrives later than this day, like 2027-03-01.")
@click.option("--spend", metavar="MONEY", help="Spend at most so much, and cover as much as that can.")
@click.option(
    "--top-up/--no-top-up",
    default=True,
    help="Whether what a supplier's smallest order leaves over is filled with sizes that may serve too.",
)
@click.option("--suppliers", metavar="N", type=click.IntRange(min=1), help="Order from at most N suppliers.")
@click.option(
    "--keep-balances",
    is_flag=True,
    help="Buy what keeps balances (`within`) where places act together, wherever something on offer does.",
)
@click.option(
    "--semicolons",
    is_flag=True,
    help="Write .csv with semicolons and decimal commas, as spreadsheets of most European languages read it.",
)
@click.option(
    "--came",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Hold what arrived against the order: a parts table, counted (on_hand), measured as far as it was.",
)
@click.option(
    "--ordered",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="With --came: what was ordered, the .csv or .json that -o wrote; else it is worked out anew.",
)
@click.option("--yes", is_flag=True, help="With --came: put what fits into the drawer.")
@options.exact_names_option()
@options.limit_options(ORDER_STEPS)
@options.quiet_option()
@gathered(_Order)
def order_command(call: _Order) -> int:
    """What to buy for JOB so that the final build needs no second order.

    The cheapest purchase such that drawer plus order hold for every gap
    pieces of its own, of which a stack that is surely inside can be made
    wherever in its bracket the final reading falls; and the card that says
    what to fit. Several jobs share drawer and postage. The exit code is 0
    where every reading is covered, 1 where one is not, 2 where the input is
    wrong.

    When the parcel is there, --came says whether it is what was ordered, and
    whether it is enough with the drawer as it is now: 0 where it is, for
    every gap at every reading, else 1.

    \b
    Examples:
      shimopt order demo_data/quarry-tram
      shimopt order demo_data/quarry-tram --need-by 2027-03-01 --spend 25
      shimopt order demo_data/quarry-tram -o purchase.xlsx --card card.pdf
      shimopt order demo_data/quarry-tram demo_data/swing-bridge --json
      shimopt order demo_data/quarry-tram --came arrived.csv --yes
    """
    from shimopt.cli.stopping import only_voice, seconds_left, watched
    from shimopt.cli.terminal import sign_of_life
    from shimopt.ordering.merged_jobs import with_coming
    from shimopt.words.order_words import LEVEL_NAMES

    money, days = _money(call.spend), _days(call.need_by)
    _refuse_files(call.outputs, call.cards)
    if call.came is not None:
        return _arrived(call, call.came, days, money)
    if call.yes or call.ordered is not None:
        raise click.UsageError(f"{'--yes' if call.yes else '--ordered'} belongs to what arrived: --came FILE")
    with sign_of_life("ordering") as progress:
        watch = Watch(
            seconds_left(call.time_limit),
            call.steps,
            progress and (lambda level: progress(LEVEL_NAMES.get(level, level))),
        )
        with watched(watch, lambda: _given(call, watch.best), lambda: watch.best is not None):
            jobs = _loaded(call.jobs, call.drawer)
            _refuse_inputs(call, jobs)
            refuse_undecided(*jobs)
            asked = with_coming(jobs)
            order = _ordering(call, days, money)(asked, watch=watch)
        only_voice()
    return _given(call, order)


def _arrived(call: _Order, came: Path, days: int | None, money: Decimal | None) -> int:
    """What the parcel brought against the order."""
    from shimopt.cli.came import give_parcel, refuse_several_drawers
    from shimopt.cli.stopping import only_voice, seconds_left, watched
    from shimopt.cli.terminal import sign_of_life
    from shimopt.receiving import received

    if call.outputs:
        raise click.UsageError("-o writes an order; what --came finds is told by --json, and --card writes its card")
    with sign_of_life("ordering"):
        watch = Watch(seconds_left(call.time_limit), call.steps)
        with watched(watch):
            jobs = _loaded(call.jobs, call.drawer)
            _refuse_inputs(call, jobs, came, *([call.ordered] if call.ordered else []))
            # whether it is enough goes by what was read
            refuse_undecided(*jobs)
            if call.yes:
                refuse_several_drawers(jobs)
            anew = partial(_ordering(call, days, money), watch=watch)
            parcel = received(jobs, came, ordered=call.ordered, anew=anew, watch=watch)
        only_voice()
    unit = call.unit or jobs[0].unit
    return give_parcel(
        parcel,
        unit,
        accept=call.yes,
        as_json=call.as_json,
        quiet=call.quiet,
        cards_of=lambda now: {Path(name): _card_bytes(Path(name), now, unit, call) for name in call.cards},
    )


def _ordering(call: _Order, days: int | None, money: Decimal | None) -> Callable[..., Order]:
    """How orders are made as it was asked for."""
    from shimopt.ordering.order import make_order

    terms = partial(make_order, within_days=days, spend=money, suppliers=call.suppliers)
    return partial(terms, top_up=call.top_up, keep_balances=call.keep_balances)


def _refuse_inputs(call: _Order, jobs: Sequence[Job], *more: Path) -> None:
    from shimopt.tables.replacing import refuse_input

    inputs = [*(name for job in jobs for name in job.inputs), *map(str, more)]
    for name in (*call.outputs, *call.cards):
        if name != "-":
            refuse_input(Path(name), inputs)


def _given(call: _Order, order: object) -> int:
    """Write and print an order as it was asked for; the exit code. Of one that was interrupted no file is written."""
    from shimopt.cli.stopping import INTERRUPTED, interrupted
    from shimopt.cli.terminal import print_lines, print_text, say
    from shimopt.ordering.order import OrderSoFar
    from shimopt.ordering.order_result import Order
    from shimopt.render.json.order_json import order_object
    from shimopt.render.json.results_json import json_text
    from shimopt.render.screens.order_screen import order_lines
    from shimopt.tables.replacing import replacing_files
    from shimopt.words.mail_words import written_words

    if isinstance(order, OrderSoFar):
        order = order.order()
    if not isinstance(order, Order):
        if interrupted():
            return INTERRUPTED
        _refuse("--time-limit", "", "the time was over before there was any order", "give it more")
    unit = call.unit or order.jobs[0].unit
    if not interrupted():
        files = {Path(name): _order_bytes(Path(name), order, call) for name in call.outputs if name != "-"}
        files |= {Path(name): _card_bytes(Path(name), order, unit, call) for name in call.cards}
        there = {path for path in files if path.exists()}
        with replacing_files(files):
            pass
        for path in () if call.quiet else files:
            told = f"{'Replaced' if path in there else 'Written'}: {path}"
            say(f"{told}{written_words(order, path.suffix) if str(path) in call.outputs else ''}", err=True)
    if "-" in call.outputs or (call.as_json and not call.quiet):
        print_text(json_text(order_object(order)))
    elif not call.quiet:
        print_lines(lambda width, _: order_lines(order, unit, width))
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
        _refuse("--spend", text, "this is not an amount of money", "write it like 25 or 12.50, without the currency")
    if money <= 0:
        _refuse("--spend", text, "a budget of nothing buys nothing", "give an amount above 0, or leave --spend out")
    return money


def _day(text: str | None) -> date | None:
    try:
        return None if text is None else date.fromisoformat(text)
    except ValueError:
        _refuse("--need-by", text or "", "this is not a date", "write it like 2027-03-01: year, month, day")


def _days(text: str | None) -> int | None:
    day = _day(text)
    if day is None:
        return None
    days = (day - date.today()).days
    if days < 0:
        _refuse("--need-by", day.isoformat(), "this day is past", "give a day from today on")
    return days


def _refuse(where: str, value: str, rule: str, remedy: str) -> NoReturn:
    """Raise an InputError about an option."""
    from shimopt.errors import InputError

    raise InputError.at("", rule, remedy, where=where, value=value)


def _refuse_files(outputs: Sequence[str], cards: Sequence[str]) -> None:
    """Refuse names that do not say what to write, that lie nowhere, or that stand twice, before anything is done."""
    taken: set[str] = set()
    for option, names, known in (("-o", outputs, _OF_ORDERS), ("--card", cards, _OF_CARDS)):
        for name in names:
            if name == "-" and option == "-o":
                continue
            path = Path(name)
            if path.suffix.casefold() not in known:
                _refuse(option, name, "the file's ending says what is written", f"end it in {', '.join(known)}")
            if path.is_dir() or not path.parent.is_dir():
                what = "this is a folder" if path.is_dir() else "there is no such folder to write into"
                _refuse(option, name, what, "name a file in a folder that is there")
            if os.path.realpath(path) in taken:
                _refuse(option, name, "this file is to be written twice", "give each a name of its own")
            taken.add(os.path.realpath(path))


def _order_bytes(path: Path, order: Order, call: _Order) -> bytes:
    """The purchase list, the orders as text, or everything as JSON, by the ending."""
    from shimopt.render.json.order_json import order_object
    from shimopt.render.json.results_json import json_text
    from shimopt.render.papers.purchase_list import order_texts, purchase_csv, purchase_xlsx

    match path.suffix.casefold():
        case ".xlsx":
            return purchase_xlsx(order, exact_names=call.exact_names)
        case ".csv":
            return purchase_csv(order, semicolons=call.semicolons, exact_names=call.exact_names).encode()
        case ".txt":
            return order_texts(order, call.moment[0], _day(call.need_by)).encode()
        case _:
            return json_text(order_object(order)).encode()


def _card_bytes(path: Path, order: Order, unit: str, call: _Order) -> bytes:
    """The bench card, by the ending."""
    from shimopt.render.papers.card_table import card_csv
    from shimopt.render.papers.card_text import card_text
    from shimopt.render.papers.sheet import card_content
    from shimopt.render.screens.order_screen import order_lines

    ending = path.suffix.casefold()
    if ending == ".csv":
        return card_csv(order, unit, semicolons=call.semicolons, exact_names=call.exact_names).encode()
    if ending == ".txt":
        if order.answered:
            return card_text(card_content(order, unit, call.moment[0])).encode()
        # where there is no card, the screen says why
        return "".join(f"{text}\n" for text, _ in order_lines(order, unit, 80)).encode()
    from shimopt.cli.paper_commands import paper_bytes

    return paper_bytes(path, card_content(order, unit, call.moment[0]), call.paper, call.moment)
