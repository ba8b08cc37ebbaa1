"""What is known of a drawer beside its counts: who holds what, for whom it is on order, when it was measured."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from shimopt.parts.drawer import Held
from shimopt.stock.ledger import undone_requests
from shimopt.stock.promises import held_for_others
from shimopt.stock.store import Transaction


class Due(NamedTuple):
    """So many pieces of a lot that are on order for a job; for nobody in particular where it has no key."""

    job: str
    title: str
    pieces: int


class Stocktake(NamedTuple):
    """When a drawer was counted (UTC), by whom and why."""

    at: str
    who: str
    why: str


class Measurement(NamedTuple):
    """When a piece was measured (UTC), by whom, and what each spot read [nm]."""

    at: str
    who: str
    spots: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """What is held, what is on order for whom and what was measured, by lot; and the last stocktake."""

    held: tuple[Held, ...]
    dues: Mapping[int, Sequence[Due]]
    measured: Mapping[int, Sequence[Measurement]]
    stocktake: Stocktake | None

    @classmethod
    def of(cls, within: Transaction, drawer: int) -> Told:
        """What is known of a drawer."""
        takes = within.rows("SELECT request, at, who, why FROM stocktake WHERE drawer = ? ORDER BY id DESC", drawer)
        gone = undone_requests(within, drawer) if takes else set()
        counted = [rest for request, *rest in takes if request not in gone]
        measured = defaultdict[int, list[Measurement]](list)
        sql = (
            "SELECT measurement.lot, at, who, spots FROM measurement JOIN lot ON lot.id = measurement.lot "
            "WHERE drawer = ? ORDER BY measurement.id"
        )
        for lot, at, who, spots in within.rows(sql, drawer):
            measured[lot].append(Measurement(at, who, tuple(map(int, spots.split()))))
        held = tuple(held_for_others(within, drawer, ""))
        return cls(held, dues_of(within, drawer), measured, Stocktake(*counted[0]) if counted else None)


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
