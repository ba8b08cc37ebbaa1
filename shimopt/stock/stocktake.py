"""A stocktake: what was counted is what is there; promises that it breaks are named."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from uuid import uuid4

from shimopt.errors import InputError, Problem, did_you_mean
from shimopt.parts.drawer import Held
from shimopt.parts.part import Part
from shimopt.parts.part_rows import LENGTHS, PLAIN
from shimopt.stock.bookings import Booked, not_allowed
from shimopt.stock.described import ByPart
from shimopt.stock.ledger import Entry, Given, append, is_known
from shimopt.stock.lots import Lot, in_use, known_drawer, lots_of
from shimopt.stock.stock_sheet import Sheet
from shimopt.stock.store import BrokenRuleError, Store, Transaction
from shimopt.tables.columns import read_columns
from shimopt.tables.read import read_table

# why something was counted, where nobody said
UNSAID = "stocktake"
# why a hold ended whose piece was not found
NOT_THERE = "not there when counted"
# how many of each lot were counted, by its number; raises InputError
Counts = Callable[[Sequence[Lot]], dict[int, int]]


@dataclass(frozen=True, slots=True)
class Counted:
    """A stocktake: parts as they were on hand and as they were counted, and the promises that cannot be kept."""

    found: tuple[Booked, ...]
    lost: tuple[Held, ...]
    not_counted: tuple[Part, ...]


def counted(store: Store, drawer: str, counts: Counts, given: Given, *, dry: bool) -> Counted | None:
    """Book what was counted: the table says what is really there; parts that it does not name were not counted.

    A promise that cannot be kept any more is let go, the last one made first. Parameter: dry, whether only to say what
    would come of it. None where this was done under the same request before. Raises InputError where the stock has no
    such drawer or part.
    """
    try:
        with store.writing() as within:
            number = known_drawer(within, drawer, store.name)
            if is_known(within, given.request):
                return None
            lots = sorted(in_use(lots_of(within, number)), key=lambda lot: lot.part.order)
            there = counts(lots)
            done, lost, entries = list[Booked](), list[Held](), list[Entry]()
            for lot in lots:
                count = there.get(lot.id, lot.on_hand)
                short = lot.promised - count
                if short > 0:
                    lost += _let_go(within, number, lot, short, given, dry=dry)
                if count != lot.on_hand:
                    done.append(Booked(lot.part, lot.on_hand, lot.on_order, count - lot.on_hand, 0))
                if lot.id in there:
                    entries.append(Entry("counted", number, lot.id, moved=count - lot.on_hand))
            if not dry:
                append(within, entries, given)
                within.run(
                    "INSERT INTO stocktake (drawer, at, who, why, request) "
                    "VALUES (?, (SELECT MAX(at) FROM ledger), ?, ?, ?)",
                    number,
                    given.who,
                    given.why or UNSAID,
                    given.request,
                )
    except BrokenRuleError as error:
        raise not_allowed(store, error) from None
    return Counted(tuple(done), tuple(lost), tuple(lot.part for lot in lots if lot.id not in there))


def counts_by_name(path: Path) -> Counts | None:
    """The counts of a table that says no thickness; None where it does. Raises InputError."""
    table = read_table(path, "drawer")
    if not table.rows and not table.problems:
        rule, remedy = "nothing was counted: the table has no rows", "write a row for each part that was counted"
        raise InputError.at(str(path), rule, remedy)
    columns = read_columns(table, LENGTHS, PLAIN, ["part", "on_hand"])
    if columns is None:
        raise InputError(table.problems)
    if columns.has("thickness") or columns.has("measured") or columns.has("stock_row"):
        return None
    rows = [
        (row, columns.text(row, "part"), columns.text(row, "piece") or None, columns.count(row, "on_hand", least=0))
        for row in table.rows
    ]

    def counts(lots: Sequence[Lot]) -> dict[int, int]:
        there, named = dict[int, int](), defaultdict[tuple[str, str | None], list[Lot]](list)
        for lot in lots:
            named[lot.part.name, lot.part.piece].append(lot)
        for row, name, piece, count in rows:
            called = named.get((name, piece), [])
            if len(called) == 1 and called[0].id not in there:
                # what is no count was told when the row was read
                there[called[0].id] = count or 0
            elif called and called[0].id in there:
                table.complain(row, "part", name, "this part stands on another row already", "put the counts together")
            elif called:
                rule = "several lots are called so, measured each by itself"
                table.complain(row, "part", name, rule, "count them in a table of: shimopt stock write-out FILE")
            else:
                remedy = did_you_mean(name, [lot.part.name for lot in lots], "take it in first")
                table.complain(row, "part", name, "the stock has no such part", remedy)
        if table.problems:
            raise InputError(table.problems)
        return there

    return counts


def counts_of(sheet: Sheet, lots: Sequence[Lot]) -> dict[int, int]:
    """What was counted of each lot. Raises InputError where a row is none of them."""
    by_number, there, problems = {lot.id: lot for lot in lots}, dict[int, int](), list[Problem]()
    by_part = ByPart((lot.part, lot) for lot in lots)
    for line, stamp in sheet.lines:
        lot = by_number.get(stamp.lot) if stamp is not None else None
        if lot is None or lot.part.name != line.part.name:
            lot = by_part.alike(line.part)
        if lot is None:
            rule, remedy = "the stock has no such part", "take it in first: shimopt stock take-in FILE"
            problems.append(Problem(str(sheet.path), f"row {line.row}", line.part.name, rule, remedy))
        else:
            there[lot.id] = line.on_hand
    if problems:
        raise InputError(problems)
    return there


def _let_go(within: Transaction, drawer: int, lot: Lot, short: int, given: Given, *, dry: bool) -> list[Held]:
    """End promises of a lot until no more is held than is there, the last one made first; which."""
    told = []
    for number, pieces, job, title, until, who, bench in within.rows(
        "SELECT id, pieces, job, title, until, who, bench FROM promise WHERE lot = ? AND state = 'held' "
        "ORDER BY id DESC",
        lot.id,
    ):
        if short <= 0:
            break
        short -= pieces
        told.append(Held(lot.part, pieces, title, until, who, bench))
        if not dry:
            within.run("UPDATE promise SET state = 'released' WHERE id = ?", number)
            # an id that nobody can have given before
            lost = replace(given, request=uuid4().hex, why=NOT_THERE, job=job, title=title)
            append(within, [Entry("released", drawer, lot.id, held=-pieces)], lost)
    return told
