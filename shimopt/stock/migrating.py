"""The numbered files that make a stock's tables, and bringing an older stock up to them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from importlib.resources import files

from shimopt.stock.store import StockError, Transaction

CONSTRAINT = re.compile(r"\bCONSTRAINT \w+")
_GUARD = re.compile(r"\b(?:CONSTRAINT|TRIGGER|INDEX|FUNCTION) \w+")


def migrations(dialect: str) -> dict[int, str]:
    """The SQL of each version, by its number."""
    folder = files("shimopt.stock").joinpath("migrations", dialect)
    found = {
        int(file.name[:4]): file.read_text(encoding="utf-8") for file in folder.iterdir() if file.name.endswith(".sql")
    }
    return dict(sorted(found.items()))


def newest_version(dialect: str) -> int:
    """The version that this shimopt writes."""
    return max(migrations(dialect))


def upgraded(within: Transaction, version: int, name: str, backup: Callable[[], object]) -> bool:
    """Bring a stock of this version (0: empty) to the newest; whether anything was done.

    `backup` is called first where there is something to lose. Raises StockError where a newer shimopt wrote it.
    """
    known = migrations(within.dialect)
    if version > max(known):
        rule = "a newer shimopt wrote this stock, and this one might spoil it"
        found = f"version {version}, known up to {max(known)}"
        raise StockError(name, rule, "install that newer shimopt here too", found)
    if 0 < version < min(known):
        rule = "this stock is one of a draft, which was never released, and cannot be brought up to date"
        remedy = "write it out with the program that made it, move it away, and take the table in here"
        raise StockError(name, rule, remedy, f"version {version}")
    due = {number: sql for number, sql in known.items() if number > version}
    if due and version:
        backup()
    for number, sql in due.items():
        within.script(sql)
        made = datetime.now(UTC).isoformat(timespec="seconds")
        within.run("INSERT INTO schema_version (version, made_at) VALUES (?, ?)", number, made)
    return bool(due)


def guards_gone(within: Transaction) -> Iterator[str]:
    """Triggers, constraints, indexes and functions of the stock that somebody took away or made otherwise, by name."""
    sql = "".join(migrations(within.dialect).values())
    there = within.guards()
    for guard in dict.fromkeys(_GUARD.findall(sql)):
        kind, name = guard.split()
        if guard not in there:
            yield f"the {kind.lower()} {name} is gone: somebody took it out of the database"
        elif there[guard] not in sql:
            yield f"the {kind.lower()} {name} is not what it was made as: somebody changed it in the database"
