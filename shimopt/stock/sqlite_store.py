"""A stock in one file of this machine, by SQLite: nothing to install, one writer after the other."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from threading import RLock
from typing import Any
from weakref import finalize

from shimopt.machine import network_share
from shimopt.stock.migrating import known_version, newest_version, upgraded
from shimopt.stock.store import BrokenRuleError, NoStockError, Question, StockError
from shimopt.stock.turns import in_turn

# "SHIM", so that a file of another program is never taken for a stock
_APPLICATION = 0x5348494D
_HEADER = b"SQLite format 3\0"
_BUSY_MS = 20_000
# the first that holds each cell to its column's type
_OLDEST_SQLITE = (3, 37)


class SqliteStore:
    """The stock in the file `path`; safe for threads. Raises StockError where it cannot be opened.

    Parameters: create, whether to make it where there is none.
    """

    dialect = "sqlite"

    def __init__(self, path: Path, *, create: bool = False) -> None:
        self.path = path
        if kind := network_share(path):
            rule = "a stock in a file cannot lie on a network share: locks do not hold there, and counts would go wrong"
            raise StockError(
                self.name, rule, "put it on this machine's own disk, or use PostgreSQL: shimopt help stock", kind
            )
        if sqlite3.sqlite_version_info < _OLDEST_SQLITE:
            rule, remedy = "this Python's SQLite is too old for a stock", "use one with 3.37 or newer, or PostgreSQL"
            raise StockError(self.name, rule, remedy, sqlite3.sqlite_version)
        _refuse_foreign(path, create=create)
        self._lock = RLock()
        with self._told():
            self._connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
            self.close = finalize(self, self._connection.close)
            for pragma in (f"busy_timeout = {_BUSY_MS}", "foreign_keys = ON", "recursive_triggers = ON"):
                self._connection.execute(f"PRAGMA {pragma}")
            self._connection.execute("PRAGMA synchronous = FULL")
            self._refuse_others_database()
            as_it_should_be = self._connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
        if not as_it_should_be or self._version() != newest_version(self.dialect):
            with in_turn(path), self._told():
                self._connection.execute("PRAGMA journal_mode = WAL")
                self._upgrade()

    def __repr__(self) -> str:
        return f"<SqliteStore {self.name!r}>"

    @property
    def name(self) -> str:
        """The file's path."""
        return str(self.path)

    @contextmanager
    def reading(self) -> Iterator[_SqliteTransaction]:
        """Everything read in it is of one moment. Raises StockError."""
        with self._lock, self._told(), self._between("BEGIN"):
            yield _SqliteTransaction(self._connection)

    @contextmanager
    def writing(self) -> Iterator[_SqliteTransaction]:
        """Everything written in it, or nothing. Raises StockError."""
        with self._lock, in_turn(self.path), self._told(), self._between("BEGIN IMMEDIATE"):
            yield _SqliteTransaction(self._connection)

    @contextmanager
    def _between(self, begin: str) -> Iterator[None]:
        self._connection.execute(begin)
        try:
            yield
            self._connection.execute("COMMIT")
        except BaseException:
            # a full disk has rolled it back already
            with suppress(sqlite3.Error):
                self._connection.execute("ROLLBACK")
            raise

    @contextmanager
    def _told(self) -> Iterator[None]:
        """What SQLite says, in our words. Raises StockError."""
        try:
            yield
        except sqlite3.Error as error:
            raise _in_words(self.name, error) from None

    def _refuse_others_database(self) -> None:
        number = self._connection.execute("PRAGMA application_id").fetchone()[0]
        there = self._connection.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()[0]
        if number != _APPLICATION and there:
            rule = "this is a database of another program, and no stock"
            raise StockError(self.name, rule, "name another file: SHIMOPT_STOCK")

    def _version(self) -> int:
        with self._told():
            if not self._connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'schema_version'").fetchone():
                return 0
            (found,) = self._connection.execute("SELECT MAX(version) FROM schema_version").fetchone()
        return known_version(found, self.name)

    def _upgrade(self) -> None:
        with self._lock, self._between("BEGIN IMMEDIATE"):
            version = self._version()
            upgraded(_SqliteTransaction(self._connection), version, self.name, lambda: self._backup(version))
            self._connection.execute(f"PRAGMA application_id = {_APPLICATION}")

    def _backup(self, version: int) -> None:
        """The stock as it was, beside it. A copy that is there already is left: it is of the same version."""
        copy = self.path.with_name(f"{self.path.name}.version-{version}.bak")
        if copy.exists():
            return
        part = copy.with_name(f"{copy.name}.part")
        part.unlink(missing_ok=True)
        # a second connection, for the first is within the transaction that upgrades
        source, target = sqlite3.connect(self.path), sqlite3.connect(part)
        try:
            source.backup(target)
        finally:
            source.close()
            target.close()
        part.replace(copy)


class _SqliteTransaction:
    dialect = "sqlite"
    clock = "strftime('%Y-%m-%dT%H:%M:%S+00:00', 'now')"

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def rows(self, sql: str, *values: Any) -> list[tuple[Any, ...]]:
        """What a query gives."""
        with _rules():
            return self._connection.execute(sql, values).fetchall()

    def answers(self, *questions: Question) -> list[list[tuple[Any, ...]]]:
        """What several queries give."""
        return [self.rows(*question) for question in questions]

    def run(self, sql: str, *values: Any) -> None:
        """Do a statement. Raises BrokenRuleError."""
        with _rules():
            self._connection.execute(sql, values)

    def run_each(self, sql: str, rows: Iterable[Sequence[Any]]) -> None:
        """Do a statement once for each row of values. Raises BrokenRuleError."""
        with _rules():
            self._connection.executemany(sql, rows)

    def insert(self, table: str, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
        """Insert rows, one after the other. Raises BrokenRuleError."""
        self.run_each(f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})", rows)

    def script(self, sql: str) -> None:
        """Do several statements, which end where SQLite says that they are complete."""
        begun = ""
        for line in sql.splitlines(keepends=True):
            begun += line
            if sqlite3.complete_statement(begun):
                self._connection.execute(begun)
                begun = ""

    def day(self, moment: str) -> str:
        """The day of a moment, where this machine is."""
        return datetime.fromisoformat(moment).astimezone().date().isoformat()

    def guards(self) -> dict[str, str]:
        """Each table, trigger and index with its text."""
        return dict(self.rows("SELECT upper(type) || ' ' || name, sql FROM sqlite_master WHERE sql IS NOT NULL"))


@contextmanager
def _rules() -> Iterator[None]:
    try:
        yield
    except sqlite3.IntegrityError as error:
        raise BrokenRuleError(str(error).rpartition(": ")[2]) from None
    except (OverflowError, UnicodeError) as error:
        # what no column takes
        raise BrokenRuleError(str(error)) from None


def _refuse_foreign(path: Path, *, create: bool) -> None:
    try:
        with path.open("rb") as file:
            start = file.read(len(_HEADER))
    except FileNotFoundError:
        if create:
            return
        raise NoStockError(str(path)) from None
    except OSError as error:
        raise StockError(
            str(path), f"the stock cannot be read ({error.strerror})", "check the file and its rights"
        ) from None
    if not start and not create:
        raise NoStockError(str(path))
    if start not in (b"", _HEADER):
        raise StockError(str(path), "this file is no stock", "name another file: SHIMOPT_STOCK")


# by the start of what SQLite says
_WORDS = {
    "database or disk is full": ("the disk is full; nothing was booked", "make room, then do it again"),
    "disk I/O error": (
        "the disk fails to read or write; nothing was booked",
        "check the disk and its room, then do it again",
    ),
    "database is locked": (
        "another program keeps the stock locked; nothing was booked",
        "close it there, then do it again",
    ),
    "attempt to write a readonly": ("the stock may only be read here", "allow writing to the file and to its folder"),
    "unable to open database file": ("the stock cannot be opened", "check the folder and its rights"),
    "file is not a database": ("this file is no stock", "name another file: SHIMOPT_STOCK"),
    "database disk image is malformed": (
        "the file is damaged",
        "bring back the last saved one: shimopt stock restore FILE",
    ),
}


def _in_words(name: str, error: sqlite3.Error) -> StockError:
    said = str(error)
    for start, (rule, remedy) in _WORDS.items():
        if said.startswith(start):
            return StockError(name, rule, remedy)
    return StockError(
        name, "the stock's database refuses; nothing was booked", "check the file: shimopt stock check", said
    )
