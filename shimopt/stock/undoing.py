"""The counter-booking that undoes the last booking: nothing is ever taken out of the ledger."""

from __future__ import annotations

import json
from typing import Any, NamedTuple

from shimopt.errors import shown
from shimopt.stock.bookings import Booked, not_allowed
from shimopt.stock.ledger import Entry, Given, append, is_known
from shimopt.stock.lots import drawer_number, lots_of
from shimopt.stock.store import BrokenRuleError, StockError, Store, Transaction
from shimopt.stock.taking_in import DESCRIBED


class Undone(NamedTuple):
    """A booking that was undone: its kind, its first and last row, when (UTC), by whom, why, and for which job."""

    kind: str
    first: int
    last: int
    at: str
    who: str
    why: str
    title: str


def undone(store: Store, drawer: str, given: Given) -> tuple[Undone | None, list[Booked]]:
    """Book the opposite of the last booking of a drawer; which that was, and what it changes.

    None where this was done under the same request before. Holds are no bookings: they end by themselves, and
    `hold --free` ends them. Raises InputError where there is nothing to undo, the last is a job's record, which would
    go on saying so, or what came since does not allow it.
    """
    try:
        with store.writing() as within:
            number = drawer_number(within, drawer)
            if is_known(within, given.request):
                return None, []
            last = [] if number is None else _last_booking(within, number)
            if number is None or not last:
                rule, remedy = "there is no booking that could be undone", "see what there was: shimopt stock ledger"
                raise StockError(store.name, rule, remedy)
            booking = _told(within, last[0][0])
            if booking.kind in ("fitted", "back"):
                raise _is_a_record(store, booking)
            lots = {lot.id: lot for lot in lots_of(within, number)}
            done, entries = [], []
            for request, kind, lot, moved, due, detail in reversed(last):
                told = json.loads(detail) if detail else {}
                was = dict[str, Any]()
                if kind == "described":
                    for what, (old, _) in told.items():
                        was |= dict(zip(DESCRIBED[what], old, strict=True))
                if lot is None or not (moved or due or was):
                    continue
                done.append(Booked(lots[lot].part, lots[lot].on_hand, lots[lot].on_order, -moved, -due))
                undoes = {"undoes": request}
                entries.append(Entry("undone", number, lot, moved=-moved, due=-due, detail=undoes, becomes=was))
            append(within, entries, given)
    except BrokenRuleError as error:
        raise not_allowed(store, error) from None
    return booking, done


def _told(within: Transaction, request: str) -> Undone:
    sql = (
        "SELECT kind, id, at, who, why, title FROM ledger "
        "WHERE request = ? AND (moved <> 0 OR due <> 0 OR kind = 'described')"
    )
    rows = within.rows(f"{sql} ORDER BY id", request)
    kind, first, at, who, why, title = rows[0]
    return Undone(kind, first, rows[-1][1], at, who, why, title)


def _is_a_record(store: Store, booking: Undone) -> StockError:
    rule = f"the last booking is a record of {shown(booking.title)}, and the job goes on saying what is in the machine"
    remedy = (
        'record what is in it now, such as: shimopt record JOB --fitted "PLACE=nothing"; '
        "what was booked before is put right by: shimopt stock count FILE"
    )
    return StockError(store.name, rule, remedy, f"row {booking.first} of the ledger")


def _last_booking(within: Transaction, drawer: int) -> list[tuple[str, str, int | None, int, int, str]]:
    """The rows of the last request that booked something and was not undone."""
    undone_already = {
        json.loads(detail)["undoes"]
        for (detail,) in within.rows("SELECT detail FROM ledger WHERE kind = 'undone' AND drawer = ?", drawer)
    }
    requests = within.rows(
        "SELECT request FROM ledger WHERE drawer = ? AND kind NOT IN ('held', 'freed', 'released', 'undone') "
        "AND (moved <> 0 OR due <> 0 OR kind = 'described') GROUP BY request ORDER BY MAX(id) DESC",
        drawer,
    )
    for (request,) in requests:
        if request not in undone_already:
            return [
                (request, *row)
                for row in within.rows(
                    "SELECT kind, lot, moved, due, detail FROM ledger WHERE request = ? ORDER BY id", request
                )
            ]
    return []
