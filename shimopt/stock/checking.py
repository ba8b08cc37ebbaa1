"""Whether a stock agrees with itself: the ledger is replayed, and counts, lots and promises are held against it."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress

from shimopt.errors import shown
from shimopt.stock.ledger import COLUMNS, hash_of, text_of
from shimopt.stock.lots import CELLS, ORIGIN
from shimopt.stock.migrating import guards_gone
from shimopt.stock.promises import promised
from shimopt.stock.stocktake import UNSAID
from shimopt.stock.store import Transaction

_SELECT = f"SELECT {', '.join(COLUMNS)} FROM ledger"
_AT_ONCE = 5_000


def wrong_in(within: Transaction) -> Iterator[str]:
    """What does not agree: hashes, the order of rows; counts, lots and promises with what the ledger says of them."""
    number, previous, at = 0, "", ""
    counted, lot_is, drawers = dict[int, Counter[str]](), dict[int, str](), dict[int, int]()
    names, measured = dict[int, str](), list[tuple[object, ...]]()
    made, ends = set[tuple[str, int]](), dict[tuple[object, ...], int]()
    while rows := within.rows(f"{_SELECT} WHERE id > ? ORDER BY id LIMIT {_AT_ONCE}", number):
        for row in rows:
            entry = dict(zip(COLUMNS, row, strict=True))
            if entry["id"] != number + 1:
                yield f"ledger row {number + 1} is missing"
            if entry["previous"] != previous or entry["hash"] != hash_of(row[:-1]):
                yield f"ledger row {entry['id']} was changed, or one before it"
            if entry["at"] < at:
                yield f"ledger row {entry['id']} is older than the one before it"
            number, previous, at = entry["id"], entry["hash"], entry["at"]
            told = _detail(entry["detail"])
            if "drawer" in told:
                names.setdefault(entry["drawer"], str(told["drawer"]))
            if "spots" in told:
                measured.append((entry["lot"], entry["at"], entry["who"], told["spots"]))
            if entry["lot"] is not None:
                sums = counted.setdefault(entry["lot"], Counter())
                sums.update({count: entry[count] for count in ("moved", "held", "due")})
                lot_is[entry["lot"]] = entry["lot_is"] or lot_is.get(entry["lot"], "")
                drawers[entry["lot"]] = entry["drawer"]
                if entry["kind"] == "held":
                    made.add((entry["request"], entry["lot"]))
                if entry["held"] < 0:
                    for whose in (("job", entry["job"]), ("title", entry["title"])):
                        ends[entry["lot"], entry["kind"], *whose] = number
                for count, what, summed in (("on_hand", "on hand", "moved"), ("on_order", "on order", "due")):
                    if sums[summed] != entry[count]:
                        yield f"ledger row {number}: {entry[count]} {what}, {sums[summed]} by all rows before it"
    yield from _wrong_promises(within, made, ends)
    yield from _wrong_lots(within, counted, lot_is)
    yield from _gone_or_elsewhere(within, drawers)
    yield from _wrong_drawers(within, names)
    yield from _wrong_stocktakes(within)
    yield from _wrong_measurements(within, measured)
    yield from guards_gone(within)


def _wrong_promises(
    within: Transaction, made: Collection[tuple[str, int]], ends: Mapping[tuple[object, ...], int]
) -> Iterator[str]:
    """Promises that are not as the ledger says that they were `made`, or ended otherwise.

    Parameter: ends, the last row in which something of a lot was no longer held, by lot, kind, and job or title: who
    frees what his moved job held has its title alone.
    """
    left = set(made)
    # by the request, of which there are few rows, and not by the lot: the + keeps SQLite from its index
    same = " AND ".join(f"ledger.{cell} = promise.{cell}" for cell in ("request", "job", "title", "who", "bench"))
    for request, lot, until, place, state, job, title, row, detail in within.rows(
        "SELECT promise.request, promise.lot, until, place, state, promise.job, promise.title, ledger.id, detail "
        "FROM promise LEFT JOIN ledger "
        f"ON {same} AND +ledger.lot = promise.lot AND kind = 'held' AND held = pieces ORDER BY promise.id"
    ):
        if detail != text_of(promised(until, place)):
            yield f"the promise {request} of lot {lot} is not what the ledger says"
        elif state != "held":
            ended = (ends.get((lot, state, *whose), 0) for whose in (("job", job), ("title", title)))
            if max(ended) < row:
                yield f"the promise {request} of lot {lot} is {state}, and the ledger does not say so"
        left.discard((request, lot))
    for request, lot in sorted(left):
        yield f"the promise {request} of lot {lot}, of which the ledger knows, is gone"


def _wrong_lots(within: Transaction, counted: Mapping[int, Counter[str]], lot_is: Mapping[int, str]) -> Iterator[str]:
    sums_of = "SELECT COALESCE(SUM(pieces), 0) FROM promise WHERE promise.lot = lot.id AND state = 'held'"
    sql = f"SELECT id, on_hand, promised, on_order, ({sums_of}), {', '.join(CELLS)} FROM lot ORDER BY id"
    for lot, on_hand, kept, on_order, held, *others in within.rows(sql):
        counts, cells = [on_hand, kept, on_order], dict(zip(CELLS, others, strict=True))
        sums = counted.get(lot, Counter())
        by_ledger = [sums["moved"], sums["held"], sums["due"]]
        called = f"{cells['part']} [{cells['piece']}]" if cells["piece"] else cells["part"]
        if counts != by_ledger:
            yield f"{called}: {_told(counts)}, by the ledger {_told(by_ledger)}"
        if kept != held:
            yield f"{called}: {kept} held, its promises say {held}"
        if lot not in counted:
            yield f"{called}: the ledger knows nothing of it"
        elif text_of({cell: told for cell, told in _detail(lot_is[lot]).items() if cell not in ORIGIN}) != text_of(
            cells
        ):
            yield f"{called}: its size or what else is known of it is not what the ledger says"


def _gone_or_elsewhere(within: Transaction, drawers: Mapping[int, int]) -> Iterator[str]:
    """Lots that the ledger knows, in which drawer each, and that are not there."""
    there = dict(within.rows("SELECT id, drawer FROM lot"))
    for lot, drawer in drawers.items():
        if lot not in there:
            yield f"lot {lot}, of which the ledger knows, is gone"
        elif there[lot] != drawer:
            yield f"lot {lot} is in drawer {there[lot]}, by the ledger in drawer {drawer}"


def _wrong_drawers(within: Transaction, names: Mapping[int, str]) -> Iterator[str]:
    there = dict(within.rows("SELECT id, name FROM drawer"))
    for drawer, name in names.items():
        if there.get(drawer) != name:
            yield f"drawer {drawer} is called {shown(there.get(drawer) or 'nothing')}, by the ledger {shown(name)}"


def _wrong_stocktakes(within: Transaction) -> Iterator[str]:
    for number, request in within.rows(
        "SELECT id, request FROM stocktake WHERE NOT EXISTS (SELECT 1 FROM ledger WHERE ledger.request = "
        "stocktake.request AND kind = 'counted' AND ledger.at = stocktake.at AND ledger.drawer = stocktake.drawer "
        f"AND ledger.who = stocktake.who AND COALESCE(NULLIF(ledger.why, ''), '{UNSAID}') = stocktake.why)"
    ):
        yield f"the stocktake {number} ({request}) is not what the ledger says"
    for (request,) in within.rows(
        "SELECT DISTINCT request FROM ledger WHERE kind = 'counted' "
        "AND request NOT IN (SELECT request FROM stocktake) ORDER BY request"
    ):
        yield f"the stocktake of {request}, of which the ledger knows, is gone"


def _wrong_measurements(within: Transaction, measured: Sequence[tuple[object, ...]]) -> Iterator[str]:
    """Measurements against what the ledger says of each: of which lot, when, by whom, and the spots."""
    left = Counter(measured)
    for number, part, agrees, *told in within.rows(
        "SELECT measurement.id, part, (measurement.low_nm, measurement.high_nm) = (lot.low_nm, lot.high_nm), lot, at, "
        "who, spots FROM measurement JOIN lot ON lot.id = measurement.lot ORDER BY measurement.id"
    ):
        if not agrees or not left[tuple(told)]:
            yield f"the measurement {number} of {part} is not what the ledger says"
        left[tuple(told)] -= 1
    for lot, at, *_ in (+left).elements():
        yield f"the measurement of lot {lot} at {at}, of which the ledger knows, is gone"


def _detail(text: str) -> dict[str, object]:
    # a row that was spoilt is told by its hash
    with suppress(ValueError):
        if isinstance(told := json.loads(text or "{}"), dict):
            return told
    return {}


def _told(counts: Sequence[int]) -> str:
    return "{} on hand, {} held, {} on order".format(*counts)
