"""The ledger: every change of a count as a row that nobody changes again, each with the hash of the one before."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field
from hashlib import sha256
from typing import Any, NamedTuple

from shimopt.stock.lots import CELLS, ORIGIN, TOLD, origin_told
from shimopt.stock.store import Question, Transaction

COLUMNS = (
    "id",
    "at",
    "kind",
    "drawer",
    "lot",
    "moved",
    "held",
    "due",
    "on_hand",
    "on_order",
    "lot_is",
    "request",
    "step",
    "job",
    "title",
    "who",
    "bench",
    "why",
    "detail",
    "previous",
    "hash",
)
_MARKS = ", ".join("?" * len(COLUMNS))
_INSERT = f"INSERT INTO ledger ({', '.join(COLUMNS)}) VALUES ({_MARKS})"
_LOT_IS = COLUMNS.index("lot_is")
_LOTS_AT_ONCE = 5_000
_UNTOLD = "NOT EXISTS (SELECT 1 FROM ledger WHERE ledger.lot = lot.id)"
_LOTS = f"SELECT id, on_hand, promised, on_order, {_UNTOLD}, {TOLD}, {', '.join(CELLS)} FROM lot WHERE id IN"


@dataclass(frozen=True, slots=True)
class Given:
    """Who asks for something, at which bench, for which job and why; `request` makes it repeatable without effect.

    `place` is where the job lies, and on which machine.
    """

    request: str
    who: str
    bench: str
    _: KW_ONLY
    why: str = ""
    job: str = ""
    title: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that happened to a lot: by how much its pieces on hand, held and on order change.

    `becomes` are cells of the lot that read otherwise from now on, such as where it lies.
    """

    kind: str
    drawer: int
    lot: int | None = None
    _: KW_ONLY
    moved: int = 0
    held: int = 0
    due: int = 0
    detail: Mapping[str, Any] = field(default_factory=dict)
    becomes: Mapping[str, Any] = field(default_factory=dict)


class _Tail(NamedTuple):
    """This moment, and the last row: 0, "" and "" where there is none."""

    now: str
    id: int
    at: str
    hash: str

    @staticmethod
    def asked(within: Transaction) -> Question:
        """The question for the tail of the ledger, and `of` reads the answer."""
        last = "SELECT id, at, hash FROM ledger ORDER BY id DESC LIMIT 1"
        return (f"SELECT {within.clock}, id, at, hash FROM (SELECT 1) AS one LEFT JOIN ({last}) AS last ON true",)

    @classmethod
    def of(cls, answer: Sequence[Sequence[Any]]) -> _Tail:
        """The tail that was told."""
        ((now, number, at, hashed),) = answer
        return cls(now, number or 0, at or "", hashed or "")


def clock_and_last(within: Transaction) -> tuple[str, str]:
    """This moment by the stock's clock, and that of the ledger's last row."""
    tail = _Tail.of(within.rows(*_Tail.asked(within)))
    return tail.now, tail.at


def today(within: Transaction) -> str:
    """The day here, as a hold's last day is written: the later of the clock's and the ledger's, as `append` has it."""
    return within.day(max(clock_and_last(within)))


def is_known(within: Transaction, request: str) -> bool:
    """Whether what has this id was done already."""
    return bool(within.rows(*whether_known(request)))


def whether_known(request: str) -> Question:
    """The question whose answer has a row where what has this id was done already."""
    return "SELECT 1 FROM ledger WHERE request = ? LIMIT 1", request


def undone_requests(within: Transaction, drawer: int) -> set[str]:
    """The bookings of a drawer that were undone, by their ids."""
    rows = within.rows("SELECT detail FROM ledger WHERE drawer = ? AND kind = 'undone'", drawer)
    return {json.loads(detail)["undoes"] for (detail,) in rows}


def append(within: Transaction, entries: Sequence[Entry], given: Given, before: Before | None = None) -> None:
    """Append what happened; the lots' counts and cells follow by the ledger's own triggers. Raises BrokenRuleError.

    The later of the clock and the last row counts as now, so that the ledger is in order where a clock goes back.
    `before` is how ledger and lots stand, where that was asked already.
    """
    if not entries:
        return
    if before is None:
        numbers = sorted({entry.lot for entry in entries if entry.lot is not None})
        some = [numbers[start : start + _LOTS_AT_ONCE] for start in range(0, len(numbers), _LOTS_AT_ONCE)]
        before = Before.of(within.answers(*Before.asked(within, some)))
    tail, lots = before
    number, previous, at = tail.id, tail.hash, max(tail.at, tail.now)
    rows = []
    for step, entry in enumerate(entries, start=1):
        number += 1
        on_hand, on_order, lot_is = (0, 0, "") if entry.lot is None else lots[entry.lot].after(entry)
        row = (
            number,
            at,
            entry.kind,
            entry.drawer,
            entry.lot,
            entry.moved,
            entry.held,
            entry.due,
            on_hand,
            on_order,
            lot_is,
            given.request,
            step,
            given.job,
            given.title,
            given.who,
            given.bench,
            given.why,
            text_of(entry.detail),
            previous,
        )
        previous = hash_of(row)
        rows.append((*row, previous))
    if any(entry.moved or entry.due or entry.becomes for entry in entries) or any(row[_LOT_IS] for row in rows):
        # what a row does to a lot is done before the next one is looked at
        within.run_each(_INSERT, rows)
    else:
        within.insert("ledger", COLUMNS, rows)


@dataclass(slots=True)
class _Lot:
    """A lot as it is before a row: its counts, its cells, and whether the ledger has yet to say what it is."""

    on_hand: int
    promised: int
    on_order: int
    untold: bool
    cells: dict[str, Any]

    def after(self, entry: Entry) -> tuple[int, int, str]:
        """On hand and on order after the row, and what the row has to say of what the lot is."""
        self.on_hand, self.on_order = self.on_hand + entry.moved, self.on_order + entry.due
        self.cells |= entry.becomes
        told = (
            text_of({cell: is_ for cell, is_ in self.cells.items() if is_ or cell not in ORIGIN})
            if self.untold or entry.becomes
            else ""
        )
        self.untold = False
        return self.on_hand, self.on_order, told


class Before(NamedTuple):
    """How the ledger ends and how lots stand, by their numbers, before something is appended."""

    tail: _Tail
    lots: dict[int, _Lot]

    @staticmethod
    def asked(within: Transaction, lots: Iterable[Sequence[int]], job: str = "") -> list[Question]:
        """The questions for it: of these lots, and of those that hold something for a job; `of` reads the answers."""
        theirs = "SELECT lot FROM promise WHERE state = 'held' AND job = ?"
        questions = [(f"{_LOTS} ({', '.join('?' * len(some))})", *some) for some in lots if some]
        return [_Tail.asked(within), *questions, *([(f"{_LOTS} ({theirs})", job)] if job else [])]

    @classmethod
    def of(cls, answers: Sequence[Sequence[Sequence[Any]]]) -> Before:
        """What was told."""
        tail, *lots = answers
        found = {
            lot: _Lot(
                on_hand, promised, on_order, bool(untold), dict(zip(CELLS, cells, strict=True)) | origin_told(told)
            )
            for rows in lots
            for lot, on_hand, promised, on_order, untold, told, *cells in rows
        }
        return cls(_Tail.of(tail), found)


def text_of(told: Mapping[str, Any]) -> str:
    """A mapping as the ledger has it: JSON, nothing where it is empty."""
    return json.dumps(told, ensure_ascii=False, sort_keys=True) if told else ""


def hash_of(row: Sequence[Any]) -> str:
    """The hash of a row without its own, the one before it included."""
    return sha256(json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode()).hexdigest()


def last_rows(within: Transaction, count: int) -> list[dict[str, Any]]:
    """The last rows, oldest first, each with the part that its lot is of and the spots measured; hashes left out."""
    kept = tuple(column for column in COLUMNS[:-2] if column != "lot_is")
    sql = (
        f"SELECT {', '.join(f'ledger.{column}' for column in kept)}, lot.part, lot.piece, drawer.name, "
        "COALESCE(spots, '') "
        "FROM ledger JOIN drawer ON drawer.id = ledger.drawer LEFT JOIN lot ON lot.id = ledger.lot "
        "LEFT JOIN measurement ON measurement.lot = ledger.lot AND measurement.at = ledger.at AND kind = 'came' "
        "ORDER BY ledger.id DESC LIMIT ?"
    )
    rows = [dict(zip((*kept, "part", "piece", "drawer", "spots"), row, strict=True)) for row in within.rows(sql, count)]
    for row in rows:
        row["piece"] = row["piece"] or None
        row["detail"] = json.loads(row["detail"]) if row["detail"] else {}
    return rows[::-1]


def version_of(within: Transaction, drawer: int) -> str:
    """A short name for what lies in a drawer: another after every change of a count."""
    sql = "SELECT id, hash FROM ledger WHERE drawer = ? AND moved <> 0 ORDER BY id DESC LIMIT 1"
    found = within.rows(sql, drawer)
    return f"{found[0][0]}-{found[0][1][:12]}" if found else "0"
