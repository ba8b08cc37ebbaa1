"""The counter-booking that undoes the last booking: nothing is ever taken out of the ledger."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from shimopt.errors import InputError, Problem, shown
from shimopt.parts.drawer import Held
from shimopt.stock.bookings import Booked, not_allowed, too_few
from shimopt.stock.described import DESCRIBED, described, near
from shimopt.stock.ledger import Entry, Given, append, is_known, undone_requests
from shimopt.stock.lots import Lot, known_drawer, lots_of
from shimopt.stock.promises import held_for_others
from shimopt.stock.stocktake import NOT_THERE
from shimopt.stock.store import BrokenRuleError, StockError, Store, Transaction

_BOOKS = "kind NOT IN ('held', 'freed', 'released', 'undone') AND (moved <> 0 OR due <> 0 OR kind = 'described') "


class Undone(NamedTuple):
    """A booking that was undone: its kind, its first and last row, when (UTC), by whom, why, and for which job.

    `lost` are holds that it took away, which do not come back by themselves.
    """

    kind: str
    first: int
    last: int
    at: str
    who: str
    why: str
    title: str
    lost: tuple[Held, ...] = ()


def undone(store: Store, drawer: str, given: Given, row: int | None = None) -> tuple[Undone | None, list[Booked]]:
    """Book the opposite of a booking of a drawer; which that was, and what it changes.

    Parameter: row, one of the ledger that is of the booking meant, whoever made it; else it is the last one that the
    same person made at the same bench. None where this was done under the same request before. Holds are no bookings:
    they end by themselves, and `hold --free` ends them. Raises InputError where there is nothing to undo, it is a job's
    record, which would go on saying so, or what came since does not allow it.
    """
    try:
        with store.writing() as within:
            number = known_drawer(within, drawer, store.name)
            if is_known(within, given.request):
                return None, []
            request = _meant(within, number, given, row, store)
            booking = _told(within, request)
            if booking.kind in ("fitted", "back"):
                raise _is_a_record(store, booking)
            lots = {lot.id: lot for lot in lots_of(within, number)}
            done, entries = dict[int, Booked](), []
            rows = within.rows(
                "SELECT kind, lot, moved, due, detail FROM ledger WHERE request = ? ORDER BY id", request
            )
            for kind, lot, moved, due, detail in reversed(rows):
                told = json.loads(detail) if kind == "described" else {}
                was = dict[str, Any]()
                for what, (old, new) in told.items():
                    # unless somebody described it otherwise since
                    if near(described(lots[lot].part, what), new):
                        was |= dict(zip(DESCRIBED[what], old, strict=True))
                if lot is None or not (moved or due or was):
                    continue
                # what was counted and described otherwise at once is told once
                one = done.get(lot) or Booked(lots[lot].part, lots[lot].on_hand, lots[lot].on_order, 0, 0)
                done[lot] = replace(one, moved=one.moved - moved, due=one.due - due)
                undoes = {"undoes": request, "row": booking.first}
                entries.append(Entry("undone", number, lot, moved=-moved, due=-due, detail=undoes, becomes=was))
            _refuse_what_is_not_free(within, number, entries, lots, booking)
            booking = booking._replace(lost=_lost(within, request, lots))
            append(within, entries or [Entry("undone", number, detail={"undoes": request})], given)
    except BrokenRuleError as error:
        raise not_allowed(store, error) from None
    return booking, list(done.values())


def _told(within: Transaction, request: str) -> Undone:
    sql = f"SELECT kind, id, at, who, why, title FROM ledger WHERE request = ? AND {_BOOKS} ORDER BY id"
    rows = within.rows(sql, request)
    kind, first, at, who, why, title = rows[0]
    return Undone(kind, first, rows[-1][1], at, who, why, title)


def _refuse_what_is_not_free(
    within: Transaction, drawer: int, entries: Sequence[Entry], lots: Mapping[int, Lot], booking: Undone
) -> None:
    """Raise InputError where more would leave than is there and free, or than is on order."""
    leave, due = Counter[int](), Counter[int]()
    for entry in entries:
        leave[entry.lot or 0] -= entry.moved
        due[entry.lot or 0] -= entry.due
    held = tuple(held_for_others(within, drawer, ""))
    booked = f"undo of row {booking.first} of the ledger, {booking.kind}"
    problems = [
        replace(too_few(lots[lot], count, held), where=booked)
        for lot, count in leave.items()
        if lot in lots and lots[lot].on_hand - count < lots[lot].promised
    ]
    for lot, count in due.items():
        if lot in lots and (still := lots[lot].on_order) < count:
            name, rule = lots[lot].part.name, f"{still or 'none'} of it {'are' if still > 1 else 'is'} on order still"
            problems.append(Problem("", booked, f"{name}={count}", rule, "see what came: shimopt stock ledger"))
    if problems:
        raise InputError(problems)


def _lost(within: Transaction, request: str, lots: Mapping[int, Lot]) -> tuple[Held, ...]:
    """Holds that ended by a stocktake, of jobs that hold nothing of the lot since: its rows stand right before it."""
    ((row,),) = within.rows("SELECT MIN(id) FROM ledger WHERE request = ? AND kind = 'counted'", request)
    found = list[Held]()
    while row is not None:
        row -= 1
        ended = within.rows(
            "SELECT lot, held, title, who, bench, (SELECT COUNT(*) FROM promise WHERE promise.job = ledger.job "
            "AND promise.lot = ledger.lot AND state = 'held') FROM ledger WHERE id = ? AND kind = 'released' "
            "AND why = ?",
            row,
            NOT_THERE,
        )
        if not ended:
            break
        ((lot, held, title, who, bench, again),) = ended
        if not again:
            found.append(Held(lots[lot].part, -held, title, "", who, bench))
    return tuple(reversed(found))


def _is_a_record(store: Store, booking: Undone) -> StockError:
    rule = f"this booking is a record of {shown(booking.title)}, and the job goes on saying what is in the machine"
    remedy = (
        'record what is in it now, such as: shimopt record JOB --fitted "PLACE=nothing"; '
        "what was booked before is put right by: shimopt stock count FILE"
    )
    return StockError(store.name, rule, remedy, f"row {booking.first} of the ledger")


def _meant(within: Transaction, drawer: int, given: Given, row: int | None, store: Store) -> str:
    """The request of the booking that is meant, which was not undone. Raises StockError."""
    undone_already = undone_requests(within, drawer)
    see = "see what there was: shimopt stock ledger"
    if row is not None:
        booked = within.rows(f"SELECT request FROM ledger WHERE drawer = ? AND id = ? AND {_BOOKS}", drawer, row)
        if not booked:
            raise StockError(store.name, "this row of the ledger is no booking of the drawer", see, f"row {row}")
        if booked[0][0] in undone_already:
            raise StockError(store.name, "this booking was undone already", see, f"row {row}")
        return str(booked[0][0])
    others = ""
    for request, first, who, bench in within.rows(
        f"SELECT request, MIN(id), MAX(who), MAX(bench) FROM ledger WHERE drawer = ? AND {_BOOKS} "
        "GROUP BY request ORDER BY MAX(id) DESC",
        drawer,
    ):
        if request in undone_already:
            continue
        if (who, bench) == (given.who, given.bench):
            return str(request)
        others = others or f"the last one is by {shown(who)} at {shown(bench)}; to undo that: --row {first}"
    rule = f"no booking by {shown(given.who)} at {shown(given.bench)} is left that could be undone"
    raise StockError(store.name, rule, others or see)
