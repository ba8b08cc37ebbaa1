"""A stock in one file of this machine, by SQLite: nothing to install, one writer after the other.

A connection lasts for one transaction. On POSIX a process that closes a file loses every lock that it has on it,
whoever opened it; another process then takes itself for the last and deletes the journal beside the file, and what the
first books from then on goes into a deleted file. So only SQLite opens the file, and no table is read meanwhile.
"""

from __future__ import annotations

import os
import sqlite3
import stat
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from errno import EACCES
from pathlib import Path
from typing import Any

from shimopt.machine import network_share
from shimopt.stock.migrating import known_version, newest_version, upgraded
from shimopt.stock.store import BrokenRuleError, NoStockError, Question, StockError
from shimopt.stock.turns import in_turn
from shimopt.tables.files import one_at_a_time

# "SHIM", so that a file of another program is never taken for a stock
_APPLICATION = 0x5348494D
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
        with self._connected(create=create) as connection:
            self._refuse_others_database(connection)
            in_wal = connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
            as_it_should_be = in_wal and self._version(connection) == newest_version(self.dialect)
        if not as_it_should_be:
            with in_turn(path), self._connected(create=create, booking=True) as connection:
                connection.execute("PRAGMA journal_mode = WAL")
                self._upgrade(connection)

    def __repr__(self) -> str:
        return f"<SqliteStore {self.name!r}>"

    @property
    def name(self) -> str:
        """The file's path."""
        return str(self.path)

    @contextmanager
    def reading(self) -> Iterator[_SqliteTransaction]:
        """Everything read in it is of one moment. Raises StockError."""
        with self._connected() as connection, _between(connection, "BEGIN"):
            yield _SqliteTransaction(connection)

    @contextmanager
    def writing(self) -> Iterator[_SqliteTransaction]:
        """Everything written in it, or nothing. Raises StockError."""
        with (
            in_turn(self.path),
            self._connected(booking=True) as connection,
            _between(connection, "BEGIN IMMEDIATE"),
        ):
            yield _SqliteTransaction(connection)

    def close(self) -> None:
        """Nothing is open between transactions."""

    @contextmanager
    def _connected(self, *, create: bool = False, booking: bool = False) -> Iterator[sqlite3.Connection]:
        """A connection for one transaction; what SQLite says meanwhile is told in our words. Raises StockError."""
        _refuse_none(self.path, create=create)
        # the mode: a file that is gone since is not made anew
        address = f"{self.path.absolute().as_uri()}?mode={'rwc' if create else 'rw'}"
        try:
            with one_at_a_time, closing(sqlite3.connect(address, uri=True, isolation_level=None)) as connection:
                for pragma in (f"busy_timeout = {_BUSY_MS}", "foreign_keys = ON", "recursive_triggers = ON"):
                    connection.execute(f"PRAGMA {pragma}")
                connection.execute("PRAGMA synchronous = FULL")
                yield connection
        except sqlite3.Error as error:
            raise _in_words(self.name, error, booking=booking) from None

    def _refuse_others_database(self, connection: sqlite3.Connection) -> None:
        number = connection.execute("PRAGMA application_id").fetchone()[0]
        there = connection.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()[0]
        if number != _APPLICATION and there:
            rule = "this is a database of another program, and no stock"
            raise StockError(self.name, rule, "name another file: SHIMOPT_STOCK")

    def _version(self, connection: sqlite3.Connection) -> int:
        if not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'schema_version'").fetchone():
            return 0
        (found,) = connection.execute("SELECT MAX(version) FROM schema_version").fetchone()
        return known_version(found, self.name)

    def _upgrade(self, connection: sqlite3.Connection) -> None:
        with _between(connection, "BEGIN IMMEDIATE"):
            version = self._version(connection)
            upgraded(_SqliteTransaction(connection), version, self.name, lambda: self._backup(version))
            connection.execute(f"PRAGMA application_id = {_APPLICATION}")

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


@contextmanager
def _between(connection: sqlite3.Connection, begin: str) -> Iterator[None]:
    connection.execute(begin)
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        # a full disk has rolled it back already
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise


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


def _refuse_none(path: Path, *, create: bool) -> None:
    """Raise StockError where there is no file of which SQLite could say what it is; the file itself is not opened."""
    try:
        found = os.stat(path)
        if not os.access(path, os.R_OK, effective_ids=os.access in os.supports_effective_ids):
            raise PermissionError(EACCES, os.strerror(EACCES))
    except FileNotFoundError:
        if create:
            return
        raise NoStockError(str(path)) from None
    except OSError as error:
        raise StockError(
            str(path), f"the stock cannot be read ({error.strerror})", "check the file and its rights"
        ) from None
    if not stat.S_ISREG(found.st_mode):
        raise StockError(str(path), "this file is no stock", "name another file: SHIMOPT_STOCK")
    if not found.st_size and not create:
        raise NoStockError(str(path))


_NOT_BOOKED = "; nothing was booked"
# by the start of what SQLite says
_WORDS = {
    "database or disk is full": (f"the disk is full{_NOT_BOOKED}", "make room, then do it again"),
    "disk I/O error": (
        f"the disk fails to read or write{_NOT_BOOKED}",
        "check the disk and its room, then do it again",
    ),
    "database is locked": (
        f"another program keeps the stock locked{_NOT_BOOKED}",
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


def _in_words(name: str, error: sqlite3.Error, *, booking: bool) -> StockError:
    said = value = str(error)
    rule, remedy = f"the stock's database refuses{_NOT_BOOKED}", "check the file: shimopt stock check"
    for start, words in _WORDS.items():
        if said.startswith(start):
            (rule, remedy), value = words, ""
    # who only looks asks for nothing to be booked, and what was booked before stays
    return StockError(name, rule if booking else rule.removesuffix(_NOT_BOOKED), remedy, value)
