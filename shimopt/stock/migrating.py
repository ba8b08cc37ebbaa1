"""The numbered files that make a stock's tables, and bringing an older stock up to them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from importlib.resources import files

from shimopt.stock.store import StockError, Transaction

_CONSTRAINT = re.compile(r"\bCONSTRAINT \w+")
# two rows compared, which PostgreSQL tells cell by cell
_ROWS = re.compile(r"\(((?:new|old)\.[^()]*)\) is distinct from \(([^()]*)\)")
# SQLite keeps a table's text whole, its constraints and keys in it
_GUARDS = {"sqlite": r"\b(?:TABLE|TRIGGER|INDEX) \w+", "postgresql": r"\b(?:CONSTRAINT|TRIGGER|INDEX|FUNCTION) \w+"}


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


def known_version(told: int | None, name: str) -> int:
    """The version that a stock says it is of. Raises StockError where it no longer says so."""
    if not told:
        rule = "the stock no longer says of which version it is: somebody emptied its table schema_version"
        remedy = "move it away, and bring back the last saved one: shimopt stock restore FILE"
        raise StockError(name, rule, remedy)
    return told


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
    there, made, plain = within.guards(), dict(_constraints(sql)), _plain(sql)
    guards = re.findall(_GUARDS[within.dialect], sql)
    if within.dialect == "postgresql":
        made |= (keys := dict(_keys(sql)))
        guards += keys
    for guard in dict.fromkeys(guards):
        kind, name = guard.split()
        if guard not in there:
            yield f"the {kind.lower()} {name} is gone: somebody took it out of the database"
        elif not _as_made(kind, there[guard], made.get(guard, ""), sql, plain):
            yield f"the {kind.lower()} {name} is not what it was made as: somebody changed it in the database"


def _keys(sql: str) -> Iterator[tuple[str, str]]:
    """The keys of tables, by the names that PostgreSQL gives them, and their texts."""
    for table, columns in re.findall(r"CREATE TABLE (\w+) \((.*?)\n\);", sql, re.DOTALL):
        for column in re.findall(r"^ +(\w+) .*\bPRIMARY KEY\b", columns, re.MULTILINE):
            yield (key := f"CONSTRAINT {table}_pkey"), f"{key} PRIMARY KEY ({column})"
        for column, other in re.findall(r"^ +(\w+) .*\bREFERENCES (\w+ \(\w+\))", columns, re.MULTILINE):
            yield (key := f"CONSTRAINT {table}_{column}_fkey"), f"{key} FOREIGN KEY ({column}) REFERENCES {other}"


def _as_made(kind: str, told: str, made: str, sql: str, plain: str) -> bool:
    if kind == "FUNCTION":
        return told in sql
    if kind == "CONSTRAINT":
        return _plain(told) == _plain(made)
    return f"{told};" in sql or _plain(f"{told};") in plain


def _constraints(sql: str) -> Iterator[tuple[str, str]]:
    """Each named constraint of tables, such as `CONSTRAINT lot_edge`, and its text to the end of its bracket."""
    for found in _CONSTRAINT.finditer(sql):
        depth, end = 0, max(found.end(), sql.find("(", found.end()))
        while end < len(sql):
            depth += {"(": 1, ")": -1}.get(sql[end], 0)
            end += 1
            if not depth:
                break
        yield found[0], sql[found.start() : end]


def _plain(sql: str) -> str:
    """SQL as it was written and as PostgreSQL tells it, brought to the same."""

    def cells(found: re.Match[str]) -> str:
        pairs = zip(found[1].split(","), found[2].split(","), strict=False)
        return " or ".join(f"{one} is distinct from {other}" for one, other in pairs)

    told = re.sub(r"--.*|::text\b|\bshimopt\.|\busing btree\b", "", sql.lower())
    told = re.sub(r"= any \(array\[([^\]]*)\]\)", r"in (\1)", told)
    return re.sub(r"[\s()\"]", "", _ROWS.sub(cells, re.sub(r"\s+", " ", told)))
