"""Pieces that come into a drawer of a stock: more of a lot that is there, or a lot of their own."""

from __future__ import annotations

from collections.abc import Iterable

from shimopt.parts.part import Part, StockLine
from shimopt.stock.ledger import Entry, Given, append, is_known
from shimopt.stock.lots import add_lot, drawer_number, lots_of
from shimopt.stock.store import Transaction


def taken_in(within: Transaction, drawer: str, lines: Iterable[StockLine], given: Given) -> int:
    """Put so many pieces of each part into a drawer, which is made where there is none; the drawer's number.

    What was done under the same request before is not done again. Raises BrokenRuleError.
    """
    number = drawer_number(within, drawer, create=True)
    if number is None or is_known(within, given.request):
        return number or 0
    there = {_kind(lot.part): lot.id for lot in lots_of(within, number)}
    entries = []
    for line in lines:
        lot = there.get(_kind(line.part))
        if lot is None:
            single = line.part.measured and line.part.piece is not None and line.on_hand <= 1
            lot = there[_kind(line.part)] = add_lot(within, number, line, single=single)
        if line.on_hand:
            entries.append(Entry("taken in", number, lot, moved=line.on_hand))
    append(within, entries or [Entry("taken in", number)], given)
    return number


def _kind(part: Part) -> object:
    """What tells one lot from another, as the database does."""
    return part.name, part.piece, part.measured, part.thickness.low.__floor__(), part.thickness.high.__ceil__()
