"""`shimopt stock`: count, ordered, arrived, scrap, and undo."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import click

from shimopt.cli.shared_options import gathered, json_option
from shimopt.cli.stock_shared import (
    FILE,
    SheetCall,
    StockCall,
    booked_object,
    booking_options,
    catalogue_option,
    for_option,
    print_object,
    print_sentences,
    stock_command,
    stock_unit_option,
    yes_option,
)

if TYPE_CHECKING:
    from shimopt.parts.drawer import Held
    from shimopt.parts.part import Part


@stock_command.command("count", short_help="A stocktake: what the table says was counted.")
@click.argument("file", type=FILE)
@yes_option()
@catalogue_option()
@booking_options
@stock_unit_option()
@json_option("Print what was counted otherwise as JSON.")
@gathered(SheetCall)
def count_command(call: SheetCall) -> int:
    """Book what was counted: FILE says how many of each part there really are.

    Columns part and on_hand are enough where a part's name (and piece) says which
    it is. Parts that FILE does not name were not counted. Where fewer are there than are
    held, the last hold made is let go, and its job is named. The exit code is 1
    where a job loses a piece.

    \b
    Examples:
      shimopt stock count counted.csv
      shimopt stock count counted.csv --yes --why "stocktake 2026"
    """
    from functools import partial

    from shimopt.stock.stocktake import counted, counts_by_name, counts_of
    from shimopt.words.booking_words import counted_lines

    counts = counts_by_name(call.file) or partial(counts_of, call.sheet())
    found = counted(call.store(), call.name(), counts, call.given(), dry=not call.yes)
    if call.as_json:
        rows = [booked_object(one) for one in found.found] if found else []
        lost = [_lost_object(one) for one in found.lost] if found else []
        print_object({"drawer": call.name(), "booked": call.yes, "differences": rows, "jobs_that_lose": lost})
    else:
        print_sentences(counted_lines(found, call.name(), booked=call.yes) if found else [_BEFORE])
    return 1 if found and found.lost else 0


def _lost_object(one: Held) -> dict[str, Any]:
    return {"for": one.title, "part": one.part.name, "pieces": one.pieces}


_BEFORE = "This was booked before: nothing changes."


@dataclass(frozen=True, kw_only=True)
class _Pieces(StockCall):
    pieces: tuple[str, ...]
    catalogues: tuple[str, ...] = ()


def _book(call: _Pieces, kind: str) -> int:
    from shimopt.stock.bookings import booked
    from shimopt.words.booking_words import booked_words

    new: dict[str, Part] = {}
    if call.catalogues:
        from shimopt.cli.parts_commands import paths_of
        from shimopt.parts import load_stock

        offered = load_stock(None, list(paths_of(call.catalogues).values())).lines
        new = {line.part.name: line.part for line in offered}
    elif call.for_job is not None:
        from shimopt.job import load_job

        new = {line.part.name: line.part for line in load_job(call.for_job).stock if line.offers}
    done = booked(call.store(), call.name(), kind, call.pieces, call.given(), new)
    if call.as_json:
        print_object({"drawer": call.name(), "booked": [booked_object(one) for one in done]})
    else:
        print_sentences([booked_words(one, kind) for one in done] or [_BEFORE])
    return 0


def _pieces_command(
    name: str, short: str, words: str, *, with_catalogue: bool = False, for_job: bool = False
) -> Callable[..., Any]:
    """A command that books pieces named on its line."""

    def wrap(run: Callable[[_Pieces], int]) -> click.Command:
        command: Any = gathered(_Pieces)(run)
        command = json_option("Print what was booked as JSON.")(booking_options(command))
        command = catalogue_option()(command) if with_catalogue else command
        command = for_option()(command) if for_job else command
        command = click.argument("pieces", nargs=-1, required=True, metavar="PART=COUNT...")(command)
        command.__doc__ = words
        made: click.Command = stock_command.command(name, short_help=short)(command)
        return made

    return wrap


@_pieces_command(
    "ordered",
    "Pieces that were ordered.",
    """Book pieces as ordered: `shimopt order` counts on them, and `show` tells them.

    What will not come, or was booked twice, is taken back by a count below zero.

    \b
    Examples:
      shimopt stock ordered S-10=20 S-20=5 --why "order 4711"
      shimopt stock ordered "W-08=10" --catalogue catalogue.csv
      shimopt stock ordered S-10=2 --for mill      for that job: others do not count on it
      shimopt stock ordered S-10=-20 --why "not delivered any more"
    """,
    with_catalogue=True,
    for_job=True,
)
def ordered_command(call: _Pieces) -> int:
    """Pieces that were ordered."""
    return _book(call, "ordered")


@_pieces_command(
    "arrived",
    "Ordered pieces that arrived.",
    """Book pieces that arrived: on hand, and no longer on order.

    Pieces that are measured one by one come in with fit --measured FILE --accept.

    \b
    Examples:
      shimopt stock arrived S-10=20
    """,
    with_catalogue=True,
)
def arrived_command(call: _Pieces) -> int:
    """Ordered pieces that arrived."""
    return _book(call, "arrived")


@_pieces_command(
    "scrap",
    "Pieces that are thrown away.",
    """Book pieces as scrapped. One of several like pieces is named with its tag.

    \b
    Examples:
      shimopt stock scrap S-10=1 --why bent
      shimopt stock scrap "S-30 [t7]=1"
    """,
)
def scrap_command(call: _Pieces) -> int:
    """Pieces that are thrown away."""
    return _book(call, "scrapped")


@stock_command.command("undo", short_help="Undo your last booking, by a counter-booking.")
@click.option(
    "--row", type=click.IntRange(1), metavar="N", help="The booking of this row of the ledger, whoever made it."
)
@booking_options
@json_option("Print what was undone as JSON.")
@gathered(StockCall)
def undo_command(call: StockCall) -> int:
    """Undo what you booked last at this bench: its opposite is booked; nothing is deleted.

    What somebody else booked is undone by its row of the ledger alone. Holds are
    no bookings: shimopt hold JOB --free lets them go. A job's record is not undone
    here: record what is in the machine now.

    \b
    Examples:
      shimopt stock undo
      shimopt stock undo --row 5
    """
    from shimopt.stock.undoing import undone
    from shimopt.words.booking_words import undone_lines

    booking, found = undone(call.store(), call.name(), call.given(), call.row)
    if call.as_json:
        print_object(
            {
                "drawer": call.name(),
                "undone": booking and booking.kind,
                "rows": [booking.first, booking.last] if booking else [],
                "booked": [booked_object(one) for one in found],
                "jobs_that_lost": [_lost_object(one) for one in (booking.lost if booking else ())],
            }
        )
    else:
        print_sentences(undone_lines(booking, found) if booking else [_BEFORE])
    return 0
