"""Promises: pieces of lots held for a job until a day, and how each ends: fitted, freed, or released by that day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple
from uuid import uuid4

from shimopt.parts.drawer import Held
from shimopt.stock.ledger import Before, Entry, Given, append
from shimopt.stock.lots import lots_of
from shimopt.stock.store import Question, Transaction

_HELD = "SELECT id, lot, pieces, job, title, until, who, bench FROM promise WHERE state = 'held'"
_INSERT = "INSERT INTO promise (request, lot, job, title, place, pieces, until, state, who, bench) VALUES "


class Promise(NamedTuple):
    """So many pieces of a lot, held until the end of a day."""

    id: int
    lot: int
    pieces: int
    until: str


def made(  # what is held, whose, and what the ledger hears before: of one statement
    within: Transaction,
    drawer: int,
    pieces: Mapping[int, int],
    until: str,
    given: Given,
    *,
    first: Sequence[Entry] = (),
    before: Before | None = None,
) -> None:
    """Hold pieces by lot for the job that is given, in one statement.

    Parameters: first, what the ledger is told before; before, how it and the lots stand, where that was asked already.
    Raises BrokenRuleError where one of them is not free.
    """
    held = [(lot, count) for lot, count in sorted(pieces.items()) if count]
    if held:
        rows = ", ".join(["(?, ?, ?, ?, ?, ?, ?, 'held', ?, ?)"] * len(held))
        values = [
            value
            for lot, count in held
            for value in (given.request, lot, given.job, given.title, given.place, count, until, given.who, given.bench)
        ]
        within.run(_INSERT + rows, *values)
    entries = [Entry("held", drawer, lot, held=count, detail=promised(until, given.place)) for lot, count in held]
    append(within, [*first, *entries], given, before)


def promised(until: str, place: str) -> dict[str, str]:
    """What the ledger says of a promise beside its row: until when, and where the job lies, where it lies in a file."""
    return {"until": until, "place": place} if place else {"until": until}


def held_by(within: Transaction, drawer: int, job: str) -> list[Promise]:
    """The promises to a job, in the order of lots."""
    return [Promise(*row) for row in within.rows(*whose_promises(drawer, job))]


def whose_promises(drawer: int, job: str) -> Question:
    """The question for the promises to a job: `Promise(*row)` of each row of the answer."""
    sql = (
        "SELECT promise.id, lot, pieces, until FROM promise JOIN lot ON lot.id = promise.lot "
        "WHERE state = 'held' AND job = ? AND drawer = ? ORDER BY lot, promise.id"
    )
    return sql, job, drawer


def ended(
    within: Transaction,
    drawer: int,
    state: str,
    given: Given,
    *,
    fitted: Mapping[int, int] | None = None,
    held: Sequence[Promise] | None = None,
) -> list[Entry]:
    """End every promise to the job that is given, which are read unless they are `held`; what the ledger is to be told.

    Parameters: state, how they end; fitted, how many pieces of each lot went in: of so many the promise is fitted.
    """
    left = Counter(fitted or {})
    entries, states = list[Entry](), dict[str, list[int]]()
    for number, lot, pieces, _ in held_by(within, drawer, given.job) if held is None else held:
        went_in = min(left[lot], pieces)
        left[lot] -= went_in
        states.setdefault("fitted" if went_in else state, []).append(number)
        if went_in:
            entries.append(Entry("fitted", drawer, lot, held=-went_in))
        if pieces > went_in:
            entries.append(Entry(state, drawer, lot, held=went_in - pieces))
    for new, numbers in states.items():
        within.run(f"UPDATE promise SET state = ? WHERE id IN ({', '.join('?' * len(numbers))})", new, *numbers)
    return entries


def released(within: Transaction, today: str, who: str, bench: str) -> int:
    """End the promises whose last day is over; how many."""
    over = within.rows(
        "SELECT promise.id, lot, pieces, drawer, job, title, until FROM promise JOIN lot ON lot.id = promise.lot "
        "WHERE state = 'held' AND until < ? ORDER BY lot, promise.id",
        today,
    )
    for number, lot, pieces, drawer, job, title, until in over:
        within.run("UPDATE promise SET state = 'released' WHERE id = ?", number)
        # an id that nobody can have given before
        given = Given(uuid4().hex, who, bench, why=f"held until {until}", job=job, title=title)
        append(within, [Entry("released", drawer, lot, held=-pieces)], given)
    return len(over)


def held_for_others(within: Transaction, drawer: int, job: str) -> Iterator[Held]:
    """What is held for other jobs, in the order of lots."""
    parts = {lot.id: lot.part for lot in lots_of(within, drawer)}
    for _, lot, pieces, other, title, until, who, bench in within.rows(f"{_HELD} ORDER BY lot, id"):
        if lot in parts and other != job:
            yield Held(parts[lot], pieces, title, until, who, bench)
