"""`shimopt stock`: ledger, check, save and restore."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click

from shimopt.cli.shared_options import (
    gathered,
    json_option,
)
from shimopt.cli.stock_shared import FILE, StockCall, print_object, print_sentences, stock_command
from shimopt.cli.terminal import say


@dataclass(frozen=True, kw_only=True)
class _Ledger(StockCall):
    last: int


@stock_command.command("ledger", short_help="What happened, row by row.")
@click.option(
    "--last", type=click.IntRange(1, 100_000), default=20, show_default=True, metavar="N", help="So many rows."
)
@json_option("Print the rows as JSON.")
@gathered(_Ledger)
def ledger_command(call: _Ledger) -> int:
    """Show the ledger's last rows: when, what, who, at which bench, for which job.

    \b
    Examples:
      shimopt stock ledger
      shimopt stock ledger --last 200 --json
    """
    from shimopt.stock.ledger import last_rows
    from shimopt.words.booking_words import ledger_words

    with call.store().reading() as within:
        rows = last_rows(within, call.last)
    if call.as_json:
        print_object({"rows": rows})
    else:
        print_sentences([ledger_words(row) for row in rows] or ["Nothing was booked yet."])
    return 0


@stock_command.command("check", short_help="See that ledger, hashes, counts and promises agree.")
@json_option("Print what is wrong as JSON.")
@gathered(StockCall)
def check_command(call: StockCall) -> int:
    """Replay the whole ledger, and hold it against counts and promises.

    The exit code is 0 where all agree, 1 where something does not.

    \b
    Examples:
      shimopt stock check
    """
    from shimopt.stock.checking import wrong_in
    from shimopt.words.speaker import plural

    with call.store().reading() as within:
        wrong = list(wrong_in(within))
        rows = within.rows("SELECT COUNT(*) FROM ledger")[0][0]
    if call.as_json:
        print_object({"agrees": not wrong, "rows": rows, "wrong": wrong})
    elif wrong:
        print_sentences([f"{one}." for one in wrong])
    else:
        all_of = "the counts that they add up to, every promise, and the rules that the database keeps"
        print_sentences([f"All agrees: {plural(rows, 'row')} of the ledger, {all_of}."])
    return 1 if wrong else 0


@dataclass(frozen=True, kw_only=True)
class _File(StockCall):
    file: Path


@stock_command.command("save", short_help="Save all of the stock as a file of text.")
@click.argument("file", type=FILE)
@gathered(_File)
def save_command(call: _File) -> int:
    """Save the whole stock, every drawer and the ledger, to FILE (JSON).

    The same for both databases: what was saved from one can be restored into
    the other.

    \b
    Examples:
      shimopt stock save stock-2026-05-03.json
    """
    from shimopt.stock.dump import saved_text
    from shimopt.tables.replacing import refuse_ending, refuse_input, replace_file

    refuse_ending(call.file, (".json",))
    store = call.store()
    refuse_input(call.file, [store.name])
    with store.reading() as within:
        text = saved_text(within)
    replace_file(call.file, text.encode(), "saved stock")
    say(f"Saved to {call.file}.")
    return 0


@stock_command.command("restore", short_help="Bring back a stock that was saved.")
@click.argument("file", type=FILE)
@gathered(_File)
def restore_command(call: _File) -> int:
    """Make a stock from FILE, which `shimopt stock save` wrote.

    Only where there is none yet: nothing is written over a stock. What is
    restored is checked, ledger, hashes and counts, before it is kept.

    \b
    Examples:
      SHIMOPT_STOCK=again.db shimopt stock restore stock-2026-05-03.json
    """
    from tempfile import TemporaryDirectory

    from shimopt.stock.dump import restored
    from shimopt.stock.sqlite_store import SqliteStore
    from shimopt.tables.files import decoded, file_bytes

    most = 2**30
    text = decoded(file_bytes(call.file, most, "saved stock"), call.file, "saved stock", strict_utf8=True)
    # tried first: what is refused leaves no empty stock, beside which jobs would find no drawer
    with TemporaryDirectory() as folder:
        trial = SqliteStore(Path(folder) / "trial.db", create=True)
        try:
            restored(trial, text, str(call.file))
        finally:
            trial.close()
    counts = restored(call.store(create=True), text, str(call.file))
    say(f"Restored: {counts['lot']} lots, {counts['ledger']} rows of the ledger, and all agrees.")
    return 0
