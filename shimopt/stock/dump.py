"""A stock as text that any database can take again: every row of every table, the same for all of them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

from shimopt.stock.ledger import wrong_in
from shimopt.stock.store import BrokenRuleError, StockError, Store, Transaction

_FORMAT, _KIND = 1, "shimopt stock"
# in the order in which they can be filled again: counts come from the ledger, promises need pieces on hand
_TABLES = {
    "drawer": ("id", "name"),
    "lot": (
        *("id", "drawer", "part", "piece", "measured", "low_nm", "high_nm", "marked_nm", "inner_low_nm"),
        *("inner_high_nm", "outer_low_nm", "outer_high_nm", "edge_nm", "material", "form", "hardness", "provenance"),
        *("lies_at", "note", "typed_in", "single"),
    ),
    "ledger": (
        *("id", "at", "kind", "drawer", "lot", "moved", "held", "due", "on_hand", "request", "step", "job", "title"),
        *("who", "bench", "why", "detail", "previous", "hash"),
    ),
    "promise": ("id", "request", "lot", "job", "title", "pieces", "until", "state", "who", "bench"),
    "stocktake": ("id", "drawer", "at", "who", "why", "request"),
    "measurement": ("id", "lot", "at", "who", "low_nm", "high_nm", "spots"),
    "device": ("id", "name", "token_hash", "rights", "made_at"),
}


def saved_text(within: Transaction) -> str:
    """All of a stock as JSON, a row a line."""
    lines = [f'{{"format": {_FORMAT}, "what": "{_KIND}", "saved": "{_now()}", "tables": {{']
    there = _there(within)
    for at, table in enumerate(there):
        columns = _TABLES[table]
        rows = within.rows(f"SELECT {', '.join(columns)} FROM {table} ORDER BY id")
        lines.append(f'"{table}": {{"columns": {json.dumps(columns)}, "rows": [')
        lines += [
            f"{json.dumps(row, ensure_ascii=False)}{',' if number < len(rows) - 1 else ''}"
            for number, row in enumerate(rows)
        ]
        lines.append("]}" + ("," if at < len(there) - 1 else ""))
    return "\n".join([*lines, "}}"]) + "\n"


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
            within.lock_ledger()
            for table, rows in tables.items():
                marks = ", ".join("?" * len(_TABLES[table]))
                within.run_each(f"INSERT INTO {table} ({', '.join(_TABLES[table])}) VALUES ({marks})", rows)
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
        rule = "what was saved breaks a rule of every stock, and was not taken"
        raise StockError(name, rule, "take another saved one", error.rule) from None
    return {table: len(rows) for table, rows in tables.items()}


def _there(within: Transaction) -> list[str]:
    """The tables that this version of a stock has: an older one is saved before it is brought up to date."""
    version = within.rows("SELECT COALESCE(MAX(version), 0) FROM schema_version")[0][0]
    return [table for table in _TABLES if version > 1 or table not in ("stocktake", "measurement", "device")]


def _tables(text: str, name: str) -> Iterator[tuple[str, list[list[Any]]]]:
    """The rows of each table that was saved. Raises StockError."""
    wrong = StockError(name, "this is no stock that was saved", "name a file that shimopt stock save wrote")
    try:
        told = json.loads(text)
        if told["what"] != _KIND or told["format"] != _FORMAT:
            raise wrong
        for table, columns in _TABLES.items():
            saved = told["tables"].get(table, {"columns": list(columns), "rows": []})
            rows = [list(row) for row in saved["rows"]]
            if tuple(saved["columns"]) != columns or any(len(row) != len(columns) for row in rows):
                raise wrong
            yield table, rows
    except (ValueError, KeyError, TypeError, AttributeError):
        raise wrong from None


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
