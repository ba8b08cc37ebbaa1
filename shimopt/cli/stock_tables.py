"""`shimopt stock`: the drawer as a table, on the screen, as labels: take-in, write-out, show, labels."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shimopt.cli.shared_options import (
    Moment,
    date_option,
    gathered,
    json_option,
    paper_option,
)
from shimopt.cli.stock_shared import (
    FILE,
    SheetCall,
    StockCall,
    booking_options,
    catalogue_option,
    drawer_of,
    print_object,
    print_sentences,
    stock_command,
    stock_drawer_option,
    stock_unit_option,
    yes_option,
)
from shimopt.cli.terminal import print_lines, say

if TYPE_CHECKING:
    from shimopt.parts.part import Part
    from shimopt.stock.store import Store


@stock_command.command("take-in", short_help="Book what a table of parts on hand says is different.")
@click.argument("file", type=FILE)
@yes_option()
@catalogue_option()
@booking_options
@stock_unit_option()
@json_option("Print the differences as JSON.")
@gathered(SheetCall)
def take_in_command(call: SheetCall) -> int:
    """Take FILE, a drawer's table (CSV or XLSX), into the stock.

    The first time all of it goes in, and a stock is made where there is none.
    Later only what was changed in the table since is booked: whatever happened in
    the stock meanwhile stays. Differences are shown first; --yes books them.

    \b
    Examples:
      shimopt stock take-in drawer.csv
      shimopt stock take-in drawer.csv --yes --person "A. Roe"
    """
    from shimopt.stock.differences import differences, not_in_table
    from shimopt.stock.taking_in import book
    from shimopt.words.booking_words import taken_lines

    sheet = call.sheet()
    store = call.store(create=True) if call.yes else _there(call)
    found = book(store, call.name(), sheet, call.given()) if call.yes and store else []
    left: list[Part] = []
    if store is None:
        found = differences(None, call.name(), sheet)
    else:
        with store.reading() as within:
            found = found if call.yes else differences(within, call.name(), sheet)
            left = not_in_table(within, call.name(), sheet, found)
    seen = [one for one in found if one.differs]
    if call.as_json:
        rows = [
            {"part": one.part.name, "piece": one.part.piece, "before": one.now, "after": one.becomes, "row": one.row}
            for one in seen
        ]
        missing = [{"part": part.name, "piece": part.piece} for part in left]
        print_object({"drawer": call.name(), "booked": call.yes, "differences": rows, "not_in_table": missing})
    else:
        say = call.speaker(line.typed_in for line, _ in sheet.lines)
        print_sentences(taken_lines(found, left, call.name(), say, booked=call.yes))
    return 0


def _there(call: StockCall) -> Store | None:
    """The stock; None where there is none yet."""
    from shimopt.stock.store import NoStockError

    try:
        return call.store()
    except NoStockError:
        return None


@dataclass(frozen=True, kw_only=True)
class _WriteOut(StockCall):
    file: Path


@stock_command.command("write-out", short_help="The drawer as a table: CSV or XLSX.")
@click.argument("file", type=FILE)
@stock_drawer_option()
@stock_unit_option()
@gathered(_WriteOut)
def write_out_command(call: _WriteOut) -> int:
    """Write the drawer to FILE, with the columns of any drawer: CSV or XLSX.

    A job may name that file as its drawer: so a shop goes back to its
    spreadsheet any day. What is changed in it can be taken in again.

    \b
    Examples:
      shimopt stock write-out drawer.csv
      shimopt stock write-out drawer.xlsx --unit thou
    """
    from uuid import uuid4

    from shimopt.stock.written_out import as_file, rows_of
    from shimopt.tables.replacing import refuse_ending, refuse_input, replace_file
    from shimopt.words.speaker import plural

    refuse_ending(call.file, (".csv", ".xlsx"))
    store = call.store()
    refuse_input(call.file, [store.name])
    drawer = drawer_of(store, call.name())
    with store.reading() as within:
        lots = drawer.lots_within(within)
        last = within.rows("SELECT COALESCE(MAX(id), 0) FROM ledger")[0][0]
    replace_file(
        call.file,
        as_file(rows_of(lots, call.speaker(lot.typed_in for lot in lots).unit, last, uuid4().hex[:8]), call.file),
        "drawer",
    )
    say(f"{plural(len(lots), 'row')} of stock:{call.name()} written to {call.file}.")
    return 0


@stock_command.command("show", short_help="What is free, held and by whom, and on order.")
@stock_drawer_option()
@stock_unit_option()
@json_option("Print it as JSON.")
@gathered(StockCall)
def show_command(call: StockCall) -> int:
    """Show the drawer: on hand, free, held by whom until when, on order.

    \b
    Examples:
      shimopt stock show
      shimopt stock show --json
    """
    from shimopt.render.json.results_json import mm
    from shimopt.render.screens.stock_screen import stock_lines
    from shimopt.stock.told_of import Told

    drawer = drawer_of(call.store(), call.name())
    with drawer.store.reading() as within:
        lots, about = drawer.lots_within(within), Told.of(within, drawer.number)
    if call.as_json:
        rows = [
            {
                "part": lot.part.name,
                "piece": lot.part.piece,
                "thickness": {end: mm(getattr(lot.part.thickness, end)) for end in ("low", "best", "high")},
                "on_hand": lot.on_hand,
                "free": lot.free,
                "held": [
                    {"pieces": one.pieces, "for": one.title, "until": one.until, "who": one.who, "bench": one.bench}
                    for one in about.held
                    if one.part == lot.part
                ],
                "on_order": lot.on_order,
                "on_order_for": [
                    {"pieces": due.pieces, "for": due.title} for due in about.dues.get(lot.id, ()) if due.job
                ],
                "at": lot.part.at,
                "supplier": lot.part.supplier or None,
                "lot": lot.part.lot or None,
                "measured": [
                    {"when": one.at, "who": one.who, "spots": [mm(spot) for spot in one.spots]}
                    for one in about.measured.get(lot.id, ())
                ],
            }
            for lot in lots
        ]
        last = about.stocktake and {"when": about.stocktake.at, "who": about.stocktake.who, "why": about.stocktake.why}
        print_object({"drawer": call.name(), "lengths_in": "mm", "last_stocktake": last, "parts": rows})
    else:
        say = call.speakers(lots)
        print_lines(lambda width, _: stock_lines(call.name(), lots, about, say, width))
    return 0


@dataclass(frozen=True, kw_only=True)
class _Labels(StockCall):
    output: Path
    paper: str
    moment: Moment


@stock_command.command("labels", short_help="Labels for the tins, with a QR code each.")
@click.option(
    "-o", "--output", type=FILE, required=True, metavar="FILE", help="Where to write: a name that ends in .pdf."
)
@paper_option()
@date_option("Date on the paper", " With it, the same stock gives the same bytes.")
@stock_drawer_option()
@stock_unit_option()
@gathered(_Labels)
def labels_command(call: _Labels) -> int:
    """Write a sheet of labels for the tins of the drawer: name, size, where it lies, a QR code.

    \b
    Examples:
      shimopt stock labels -o labels.pdf
    """
    from shimopt.cli.paper_commands import paper_bytes
    from shimopt.render.papers.labels import labels_content
    from shimopt.tables.replacing import refuse_ending, refuse_input, replace_file

    refuse_ending(call.output, (".pdf",))
    store = call.store()
    refuse_input(call.output, [store.name])
    drawer = drawer_of(store, call.name())
    lots = drawer.lots()
    content = labels_content(lots, call.name(), call.speakers(lots), call.moment[0])
    result = paper_bytes(call.output, content, call.paper, call.moment)
    replace_file(call.output, result, "labels")
    say(f"Written: {call.output}")
    return 0
