"""A stock as text that any database can take again: every row of every table, the same for all of them."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime
from hashlib import sha256
from typing import Any

from shimopt.errors import writable
from shimopt.stock.checking import wrong_in
from shimopt.stock.ledger import COLUMNS
from shimopt.stock.store import BrokenRuleError, StockError, Store, Transaction

_FORMAT, _KIND = 1, "shimopt stock"
# whole numbers; those that may be left out; all other cells are text
_NUMBERS = {
    *("id", "drawer", "lot", "measured", "low_nm", "high_nm", "single", "moved", "held", "due", "on_hand", "step"),
    *("pieces", "on_order"),
}
_NUMBERS_OR_NOTHING = {"marked_nm", "inner_low_nm", "inner_high_nm", "outer_low_nm", "outer_high_nm", "edge_nm"}
_LONG = {"id", "drawer", "lot"}
# in the order in which they can be filled again: counts come from the ledger, promises need pieces on hand
_TABLES = {
    "drawer": ("id", "name"),
    "lot": (
        *("id", "drawer", "part", "piece", "measured", "low_nm", "high_nm", "marked_nm", "inner_low_nm"),
        *("inner_high_nm", "outer_low_nm", "outer_high_nm", "edge_nm", "material", "form", "hardness", "provenance"),
        *("lies_at", "note", "typed_in", "single"),
    ),
    "ledger": COLUMNS,
    "promise": ("id", "request", "lot", "job", "title", "place", "pieces", "until", "state", "who", "bench"),
    "stocktake": ("id", "drawer", "at", "who", "why", "request"),
    "measurement": ("id", "lot", "at", "who", "low_nm", "high_nm", "spots"),
    "device": ("id", "name", "token_hash", "rights", "made_at"),
}


def saved_text(within: Transaction) -> str:
    """All of a stock as JSON, a row a line. `hash` is of all tables: nothing of them can be cut off or changed."""
    hashed = _hash_of({t: _rows(within, t) for t in _TABLES})
    lines = [f'{{"format": {_FORMAT}, "what": "{_KIND}", "saved": "{_now()}", "hash": "{hashed}", "tables": {{']
    for at, table in enumerate(_TABLES):
        columns = _TABLES[table]
        rows = _rows(within, table)
        lines.append(f'"{table}": {{"columns": {json.dumps(columns)}, "rows": [')
        lines += [
            f"{json.dumps(row, ensure_ascii=False)}{',' if number < len(rows) - 1 else ''}"
            for number, row in enumerate(rows)
        ]
        lines.append("]}" + ("," if at < len(_TABLES) - 1 else ""))
    return "\n".join([*lines, "}}"]) + "\n"


def _rows(within: Transaction, table: str) -> list[tuple[Any, ...]]:
    return within.rows(f"SELECT {', '.join(_TABLES[table])} FROM {table} ORDER BY id")


def _hash_of(tables: Mapping[str, Sequence[Sequence[Any]]]) -> str:
    """The SHA-256 of the rows of all tables that have any, as JSON without blanks."""
    rows = {table: [list(row) for row in found] for table, found in tables.items() if found}
    text = json.dumps(rows, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return sha256(text.encode()).hexdigest()


def restored(store: Store, text: str, name: str) -> dict[str, int]:
    """Fill an empty stock from what was saved, all or nothing; how many rows of each table.

    Raises StockError where the stock is not empty, the text is none that was saved, or what comes of it does not agree.
    """
    tables = dict(_tables(text, name))
    try:
        with store.writing() as within:
            if within.rows("SELECT 1 FROM ledger LIMIT 1") or within.rows("SELECT 1 FROM lot LIMIT 1"):
                rule, remedy = "a stock is here already, and nothing is written over it", "move it away first"
                raise StockError(store.name, rule, remedy)
            # its moments may be later than this clock: the rule that refuses that looks for version 0
            within.run("INSERT INTO schema_version (version, made_at) VALUES (0, '')")
            for table, rows in tables.items():
                marks = ", ".join("?" * len(_TABLES[table]))
                within.run_each(f"INSERT INTO {table} ({', '.join(_TABLES[table])}) VALUES ({marks})", rows)
            within.run("DELETE FROM schema_version WHERE version = 0")
            for table in tables if store.dialect == "postgresql" else ():
                if table != "ledger":
                    # what comes next gets the number after the last one
                    within.rows(
                        f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), "
                        f"(SELECT COALESCE(MAX(id), 0) + 1 FROM {table}), false)"
                    )
            if wrong := list(wrong_in(within)):
                rule = f"what was saved does not agree with itself: {wrong[0]}"
                raise StockError(name, rule, "take another saved one", f"{len(wrong)} such" if len(wrong) > 1 else "")
    except BrokenRuleError as error:
        rule = f"what was saved breaks the rule {error.rule} of every stock, and was not taken"
        raise StockError(name, rule, "take another saved one") from None
    return {table: len(rows) for table, rows in tables.items()}


def _tables(text: str, name: str) -> Iterator[tuple[str, list[list[Any]]]]:
    """The rows of each table that was saved. Raises StockError."""
    tables, hashed = _parsed(text, name)
    other = "take another saved one"
    for table, rows in tables.items():
        for at, row in enumerate(rows, start=1):
            if bad := _unfit(dict(zip(_TABLES[table], row, strict=True)), table):
                raise StockError(name, f"row {at} of {table} holds no {bad[0]} that a stock can have", other, bad[1])
    if hashed != _hash_of(tables):
        raise StockError(name, "rows of what was saved were changed or cut off since: its hash does not agree", other)
    yield from tables.items()


def _unfit(row: Mapping[str, Any], table: str) -> tuple[str, str] | None:
    """The first cell that cannot be what its column is, and how it reads; None where all can be."""
    for column, cell in row.items():
        may_lack = column in _NUMBERS_OR_NOTHING or (column == "lot" and table == "ledger")
        if column in _NUMBERS or may_lack:
            most = 2 ** (63 if column in _LONG or column.endswith("_nm") else 31)
            fit = (may_lack and cell is None) or (type(cell) is int and abs(cell) < most)
        else:
            fit = isinstance(cell, str) and "\0" not in cell and writable(cell) == cell
        if not fit or not _READS.get((table, column), _anything)(cell):
            return column, ascii(cell)[:40]
    for side in ("inner", "outer"):
        low, high = row.get(f"{side}_low_nm"), row.get(f"{side}_high_nm")
        if (low is None) != (high is None) or (low is not None and not 0 <= low <= high):
            return f"{side}_low_nm", f"{low}, {high}"
    return ("edge_nm", str(row["edge_nm"])) if (row.get("edge_nm") or 0) < 0 else None


def _anything(_: Any) -> bool:
    return True


def _is_date(cell: str) -> bool:
    return _read_by(date.fromisoformat, cell)


def _is_moment(cell: str) -> bool:
    return _read_by(datetime.fromisoformat, cell)


def _is_detail(cell: str) -> bool:
    return cell == "" or (cell.startswith("{") and _read_by(json.loads, cell))


def _are_spots(cell: str) -> bool:
    return all(spot.isascii() and spot.isdecimal() and len(spot) < 19 for spot in cell.split(" "))


def _read_by(reader: Callable[[str], Any], cell: str) -> bool:
    try:
        reader(cell)
    except (ValueError, RecursionError):
        return False
    return True


# what text has to say in some columns
_READS: dict[tuple[str, str], Callable[[Any], bool]] = {
    ("ledger", "at"): _is_moment,
    ("ledger", "detail"): _is_detail,
    ("ledger", "lot_is"): _is_detail,
    ("promise", "until"): _is_date,
    ("measurement", "spots"): _are_spots,
}


def _parsed(text: str, name: str) -> tuple[dict[str, list[list[Any]]], str]:
    wrong = StockError(name, "this is no stock that was saved", "name a file that shimopt stock save wrote")
    try:
        told = json.loads(text)
        if told["what"] != _KIND or told["format"] != _FORMAT:
            raise wrong
        tables = {}
        for table, columns in _TABLES.items():
            saved = told["tables"].get(table, {"columns": list(columns), "rows": []})
            rows = [list(row) for row in saved["rows"]]
            if tuple(saved["columns"]) != columns or any(len(row) != len(columns) for row in rows):
                raise wrong
            tables[table] = rows
        return tables, str(told["hash"])
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise wrong from None


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
