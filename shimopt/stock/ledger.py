"""The ledger: every change of a count as a row that nobody changes again, each with the hash of the one before."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any

from shimopt.stock.store import Transaction

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
_INSERT = f"INSERT INTO ledger ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})"
_SELECT = f"SELECT {', '.join(COLUMNS)} FROM ledger"
_AT_ONCE = 5_000


@dataclass(frozen=True, slots=True)
class Given:
    """Who asks for something, at which bench, for which job and why; `request` makes it repeatable without effect."""

    request: str
    who: str
    bench: str
    _: KW_ONLY
    why: str = ""
    job: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that happened to a lot: by how much its pieces on hand, held and on order change."""

    kind: str
    drawer: int
    lot: int | None = None
    _: KW_ONLY
    moved: int = 0
    held: int = 0
    due: int = 0
    detail: Mapping[str, Any] = field(default_factory=dict)


def now() -> str:
    """This moment by the clock, as the ledger has it."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def today(within: Transaction) -> str:
    """The day here, as a hold's last day is written: the later of the clock's and the ledger's, as `append` has it."""
    last = within.rows("SELECT at FROM ledger ORDER BY id DESC LIMIT 1")
    moment = max(now(), last[0][0] if last else "")
    return datetime.fromisoformat(moment).astimezone().date().isoformat()


def is_known(within: Transaction, request: str) -> bool:
    """Whether what has this id was done already."""
    return bool(within.rows("SELECT 1 FROM ledger WHERE request = ? LIMIT 1", request))


def append(within: Transaction, entries: Sequence[Entry], given: Given, first_step: int = 1) -> None:
    """Append what happened; the lots' counts follow by the ledger's own trigger. Raises BrokenRuleError.

    The later of the clock and the last row counts as now, so that the ledger is in order where a clock goes back.
    """
    if not entries:
        return
    lots = sorted({entry.lot for entry in entries if entry.lot is not None})
    on_hand = Counter({lot: there for lot, (there, _) in within.lock_lots(lots).items()})
    within.lock_ledger()
    tail = within.rows("SELECT id, at, hash FROM ledger ORDER BY id DESC LIMIT 1")
    number, last, previous = tail[0] if tail else (0, "", "")
    at = max(last, now())
    rows = []
    for step, entry in enumerate(entries, start=first_step):
        number += 1
        if entry.lot is not None:
            on_hand[entry.lot] += entry.moved
        row = (
            number,
            at,
            entry.kind,
            entry.drawer,
            entry.lot,
            entry.moved,
            entry.held,
            entry.due,
            0 if entry.lot is None else on_hand[entry.lot],
            given.request,
            step,
            given.job,
            given.title,
            given.who,
            given.bench,
            given.why,
            json.dumps(entry.detail, ensure_ascii=False, sort_keys=True) if entry.detail else "",
            previous,
        )
        previous = _hash(row)
        rows.append((*row, previous))
    within.run_each(_INSERT, rows)


def _hash(row: Sequence[Any]) -> str:
    """The hash of a row without its own, the one before it included."""
    return sha256(json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode()).hexdigest()


def last_rows(within: Transaction, count: int) -> list[dict[str, Any]]:
    """The last rows, oldest first, each with the part that its lot is of; hashes left out."""
    kept = COLUMNS[:-2]
    sql = (
        f"SELECT {', '.join(f'ledger.{column}' for column in kept)}, lot.part, lot.piece, drawer.name "
        "FROM ledger JOIN drawer ON drawer.id = ledger.drawer LEFT JOIN lot ON lot.id = ledger.lot "
        "ORDER BY ledger.id DESC LIMIT ?"
    )
    rows = [dict(zip((*kept, "part", "piece", "drawer"), row, strict=True)) for row in within.rows(sql, count)]
    for row in rows:
        row["piece"] = row["piece"] or None
        row["detail"] = json.loads(row["detail"]) if row["detail"] else {}
    return rows[::-1]


def version_of(within: Transaction, drawer: int) -> str:
    """A short name for what lies in a drawer: another after every change of a count."""
    sql = "SELECT id, hash FROM ledger WHERE drawer = ? AND moved <> 0 ORDER BY id DESC LIMIT 1"
    found = within.rows(sql, drawer)
    return f"{found[0][0]}-{found[0][1][:12]}" if found else "0"


def wrong_in(within: Transaction) -> Iterator[str]:
    """What does not agree: hashes, the order of rows, and the counts of lots and promises with what the ledger says."""
    number, previous, at = 0, "", ""
    counted: dict[int, Counter[str]] = {}
    while rows := within.rows(f"{_SELECT} WHERE id > ? ORDER BY id LIMIT {_AT_ONCE}", number):
        for row in rows:
            entry = dict(zip(COLUMNS, row, strict=True))
            if entry["id"] != number + 1:
                yield f"ledger row {number + 1} is missing"
            if entry["previous"] != previous or entry["hash"] != _hash(row[:-1]):
                yield f"ledger row {entry['id']} was changed, or one before it"
            if entry["at"] < at:
                yield f"ledger row {entry['id']} is older than the one before it"
            number, previous, at = entry["id"], entry["hash"], entry["at"]
            if entry["lot"] is not None:
                sums = counted.setdefault(entry["lot"], Counter())
                sums.update({count: entry[count] for count in ("moved", "held", "due")})
                if sums["moved"] != entry["on_hand"]:
                    yield f"ledger row {entry['id']}: {entry['on_hand']} on hand, {sums['moved']} by all rows before it"
    # by the request, of which there are few rows, and not by the lot: the + keeps SQLite from its index
    for request, lot in within.rows(
        "SELECT request, lot FROM promise WHERE NOT EXISTS (SELECT 1 FROM ledger WHERE ledger.request = "
        "promise.request AND +ledger.lot = promise.lot AND kind = 'held' AND held = pieces) ORDER BY id"
    ):
        yield f"the promise {request} of lot {lot} is not what the ledger says"
    sums_of = "SELECT COALESCE(SUM(pieces), 0) FROM promise WHERE promise.lot = lot.id AND state = 'held'"
    for lot, part, piece, *counts, held in within.rows(
        f"SELECT id, part, piece, on_hand, promised, on_order, ({sums_of}) FROM lot ORDER BY id"
    ):
        sums = counted.get(lot, Counter())
        by_ledger = [sums["moved"], sums["held"], sums["due"]]
        called = f"{part} [{piece}]" if piece else part
        if counts != by_ledger:
            yield f"{called}: {_told(counts)}, by the ledger {_told(by_ledger)}"
        if counts[1] != held:
            yield f"{called}: {counts[1]} held, its promises say {held}"


def _told(counts: Sequence[int]) -> str:
    return "{} on hand, {} held, {} on order".format(*counts)
