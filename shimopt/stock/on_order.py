"""For whom pieces are on order: as they were booked, the first ordered the first to come."""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

from shimopt.stock.ledger import undone_requests
from shimopt.stock.store import Transaction


class Due(NamedTuple):
    """So many pieces of a lot that are on order for a job; for nobody in particular where it has no key."""

    job: str
    title: str
    pieces: int


def dues_of(within: Transaction, drawer: int) -> dict[int, list[Due]]:
    """What is on order in a drawer, by lot, in the order in which it was ordered; as if nothing undone had been."""
    found = defaultdict[int, list[Due]](list)
    gone = undone_requests(within, drawer)
    sql = "SELECT request, lot, kind, due, job, title FROM ledger WHERE drawer = ? AND due <> 0 ORDER BY id"
    for request, lot, kind, due, job, title in within.rows(sql, drawer):
        if request in gone or kind == "undone":
            continue
        if due > 0:
            found[lot].append(Due(job, title, due))
        else:
            # what arrives is what was ordered first; what is called off, what was ordered last, of that job if it says
            found[lot] = _less(found[lot], -due, job, first=kind == "arrived")
    return {lot: dues for lot, dues in found.items() if dues}


def _less(dues: list[Due], pieces: int, job: str, *, first: bool) -> list[Due]:
    order = range(len(dues)) if first else range(len(dues) - 1, -1, -1)
    left = list(dues)
    for at in sorted(order, key=lambda at: bool(job) and dues[at].job != job):
        taken = min(pieces, left[at].pieces)
        pieces -= taken
        left[at] = left[at]._replace(pieces=left[at].pieces - taken)
    return [due for due in left if due.pieces]
