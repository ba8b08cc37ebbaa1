"""A stock that several machines share, by PostgreSQL 15 or newer: many may write at once."""

from __future__ import annotations

import json
import logging
import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import lru_cache
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING, Any
from weakref import finalize

from shimopt.errors import get_extra, writable
from shimopt.stock.dump import saved_text
from shimopt.stock.migrating import known_version, newest_version, upgraded
from shimopt.stock.store import BrokenRuleError, NoStockError, Question, StockError
from shimopt.tables.replacing import replace_file

if TYPE_CHECKING:
    import psycopg

_OLDEST_SERVER = 150_000
_SECONDS_TO_CONNECT = 10
_LONGEST_WAIT_MS = 20_000
_SCHEMA = "shimopt"
# "SHIM": who writes, or upgrades, holds this lock of the whole database
_LOCK = 0x5348494D
_LOCKED = f"SELECT pg_advisory_xact_lock({_LOCK})"
_SETTINGS = f"""
    SET search_path = {_SCHEMA}; SET lock_timeout = {_LONGEST_WAIT_MS};
    -- who waited for the turn sees what was booked meanwhile, whatever the server's setting
    SET default_transaction_isolation = 'read committed';
    -- triggers plan once, when tables are still small: that they grow is known
    SET enable_seqscan = off; SET enable_bitmapscan = off; SET jit = off;
    SET synchronous_commit = on  -- what was booked is on the disk when it is said to be, whatever the server's setting
"""
_TO_READ = ("BEGIN ISOLATION LEVEL REPEATABLE READ, READ ONLY",)
# one who waits for the disk keeps nobody waiting: the lock goes before that. What follows in the server's log reaches
# the disk after it, and never without it; and nobody is told of a booking before it is there: what comes behind COMMIT
# is a transaction of its own, and waits for the disk
_TO_WRITE = ("BEGIN", "SET LOCAL synchronous_commit = off", _LOCKED)
_ON_THE_DISK = "SELECT pg_logical_emit_message(true, 'shimopt', '')"
_NOWHERE = logging.NullHandler()
_GUARDS = """
    SELECT 'TRIGGER ' || tgname, pg_get_triggerdef(pg_trigger.oid, true) FROM pg_trigger
        JOIN pg_class ON pg_class.oid = tgrelid
        WHERE tgenabled IN ('O', 'A') AND relnamespace = ?::regnamespace
    UNION ALL SELECT 'CONSTRAINT ' || conname, 'CONSTRAINT ' || conname || ' ' || pg_get_constraintdef(oid, true)
        FROM pg_constraint
        WHERE convalidated AND connamespace = ?::regnamespace
    UNION ALL SELECT 'INDEX ' || indexname, indexdef FROM pg_indexes WHERE schemaname = ?
    UNION ALL SELECT 'FUNCTION ' || proname, prosrc FROM pg_proc WHERE pronamespace = ?::regnamespace
"""
_HOST = r"(?:\[[0-9a-fA-F:.%]+\]|[^\s:@/?#\[\],]*)(?::\d*)?"
_ADDRESS = re.compile(
    r"(?P<kind>postgres(?:ql)?://)(?:(?P<user>[^\s:@/?#]*)(?::[^\s@/?#]*)?@)?"
    rf"(?P<place>{_HOST}(?:,{_HOST})*(?:/[^\s@?#]*)?)(?:\?[^\s@#]*)?"
)


class PostgresStore:
    """The stock at an address such as postgresql://shop@host/stock; safe for threads.

    Its tables lie in a schema of their own, `shimopt`. Parameters: create, whether to make it where there is none.
    Raises StockError where it cannot be reached or opened.
    """

    dialect = "postgresql"

    def __init__(self, address: str, *, create: bool = False) -> None:
        self.name = _without_password(address)
        self._address, self._lock = address, RLock()
        self._connection = self._connected()
        version = self._version()
        if version is None and not create:
            raise NoStockError(self.name)
        if version != newest_version(self.dialect):
            with self._told(), self._connection.transaction():
                self._upgrade()

    def __repr__(self) -> str:
        return f"<PostgresStore {self.name!r}>"

    @contextmanager
    def reading(self) -> Iterator[_PostgresTransaction]:
        """Everything read in it is of one moment. Raises StockError."""
        with self._between(*_TO_READ) as within:
            yield within

    @contextmanager
    def writing(self) -> Iterator[_PostgresTransaction]:
        """Everything written in it, or nothing, and by nobody else from its first query on. Raises StockError."""
        # held to the end: what brings it to the disk must not go into another thread's transaction
        with self._lock:
            with self._between(*_TO_WRITE) as within:
                yield within
            self._bring_to_the_disk()

    def close(self) -> None:
        """Let go of the database."""
        self._closing()

    def _bring_to_the_disk(self) -> None:
        """Wait until what was booked is there. Raises StockError where nobody can tell."""
        try:
            self._connection.execute(_ON_THE_DISK)
        except _library(self.name).Error:
            self._closing()
            rule = "it was booked, but the server went away before it said that this is on its disk"
            remedy = "look whether it is there before you do it again: shimopt stock ledger"
            raise StockError(self.name, rule, remedy) from None

    @contextmanager
    def _between(self, *begin: str) -> Iterator[_PostgresTransaction]:
        with self._lock, self._told():
            if self._connection.closed:
                self._connection = self._connected()
            try:
                # what needs no answer is sent with the next query: a way there and back takes longer than its work, and
                # while it lasts nobody else may write
                with self._connection.pipeline() as sent:
                    for statement in begin:
                        self._connection.execute(statement.encode())
                    try:
                        yield _PostgresTransaction(self._connection)
                        with _rules():
                            self._connection.execute("COMMIT")
                            sent.sync()
                    except BaseException:
                        # what was sent after what failed was not done
                        with suppress(_library(self.name).Error):
                            sent.sync()
                        raise
            except BaseException as error:
                # where the server went away there is nothing to be rolled back
                failed = _library(self.name).Error
                with suppress(failed):
                    self._connection.execute("ROLLBACK")
                if isinstance(error, BrokenRuleError | failed) or not isinstance(error, Exception):
                    # the library takes for prepared what was sent behind it, and the server never saw
                    self._closing()
                raise

    def _connected(self) -> Any:
        psycopg = _library(self.name)
        with self._told():
            connection = psycopg.connect(self._address, autocommit=True, connect_timeout=_SECONDS_TO_CONNECT)
            self._closing = finalize(self, connection.close)
            if connection.info.server_version < _OLDEST_SERVER:
                found = str(connection.info.server_version // 10_000)
                raise StockError(self.name, "this PostgreSQL is too old", "use version 15 or newer", found)
            connection.execute(_SETTINGS.encode())
        return connection

    @contextmanager
    def _told(self) -> Iterator[None]:
        """What PostgreSQL says, in our words and without the password. Raises StockError."""
        psycopg = _library(self.name)
        try:
            yield
        except psycopg.Error as error:
            raise _in_words(self.name, error, psycopg) from None

    def _version(self) -> int | None:
        """The version of the stock; None where there is none. Raises StockError where its schema holds other tables."""
        with self._told():
            sql = "SELECT table_name FROM information_schema.tables WHERE table_schema = %s"
            tables = {name for (name,) in self._connection.execute(sql, (_SCHEMA,)).fetchall()}
            if not tables:
                return None
            if "schema_version" not in tables:
                rule = f"its schema {_SCHEMA} holds tables of another program, and no stock"
                raise StockError(self.name, rule, "name another database: SHIMOPT_STOCK")
            found = self._connection.execute("SELECT MAX(version) FROM schema_version").fetchone()
        return known_version(found and found[0], self.name)

    def _upgrade(self) -> None:
        within = _PostgresTransaction(self._connection)
        within.script(_LOCKED)
        within.script(f"CREATE SCHEMA IF NOT EXISTS {_SCHEMA}")
        version = self._version() or 0
        upgraded(within, version, self.name, lambda: _backup(within, version))


class _PostgresTransaction:
    dialect = "postgresql"
    # by the server's clock, whatever that of a bench says
    clock = "moment()"

    def __init__(self, connection: psycopg.Connection[Any]) -> None:
        self._connection = connection

    def rows(self, sql: str, *values: Any) -> list[tuple[Any, ...]]:
        """What a query gives. Raises BrokenRuleError."""
        return self.answers((sql, *values))[0]

    def answers(self, *questions: Question) -> list[list[tuple[Any, ...]]]:
        """What several queries give, which are sent at once. Raises BrokenRuleError."""
        with _rules():
            asked = [self._connection.execute(_placed(sql), values) for sql, *values in questions]
            return [one.fetchall() for one in asked]

    def run(self, sql: str, *values: Any) -> None:
        """Do a statement. Raises BrokenRuleError, here or at the next query or the end."""
        with _rules():
            self._connection.execute(_placed(sql), values)

    def run_each(self, sql: str, rows: Iterable[Sequence[Any]]) -> None:
        """Do a statement once for each row of values. Raises BrokenRuleError."""
        with _rules():
            for row in rows:
                self._connection.execute(_placed(sql), row)

    def insert(self, table: str, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
        """Insert rows at once, as one value: many values take longer to send than to insert. Raises BrokenRuleError."""
        named = ", ".join(columns)
        sql = f"INSERT INTO {table} ({named}) SELECT {named} FROM json_populate_recordset(NULL::{table}, ?::json)"
        self.run(sql, json.dumps([dict(zip(columns, row, strict=True)) for row in rows], ensure_ascii=False))

    def script(self, sql: str) -> None:
        """Do several statements that have no values; within `writing` one at a time."""
        self._connection.execute(sql.encode())

    def day(self, moment: str) -> str:
        """The day of a moment, where the server is."""
        return str(self.rows("SELECT to_char(?::timestamptz, 'YYYY-MM-DD')", moment)[0][0])

    def guards(self) -> dict[str, str]:
        """Each trigger that is on, each constraint that holds, each index, as they are told; functions' bodies."""
        return dict(self.rows(_GUARDS, *[_SCHEMA] * 4))


@lru_cache(maxsize=256)
def _placed(sql: str) -> bytes:
    """Our SQL as this library takes it."""
    return sql.replace("%", "%%").replace("?", "%s").encode()


@contextmanager
def _rules() -> Iterator[None]:
    import psycopg

    try:
        yield
    # a cell that its column does not take is one of them
    except (psycopg.IntegrityError, psycopg.DataError) as error:
        raise BrokenRuleError(error.diag.constraint_name or error.diag.message_primary or str(error)) from None
    except (OverflowError, UnicodeError) as error:
        # what no column takes
        raise BrokenRuleError(str(error)) from None


def _backup(within: _PostgresTransaction, version: int) -> None:
    """The stock as it was, saved in the current folder."""
    replace_file(Path(f"stock-version-{version}.json"), saved_text(within).encode(), "backup")


def _library(name: str) -> Any:
    try:
        import psycopg
    except ImportError:
        rule = "a stock in PostgreSQL needs psycopg, which is not installed"
        raise StockError(name, rule, get_extra("postgres")) from None
    # what it has to say is raised as well: nothing of it on a screen that nobody set up for it
    logging.getLogger("psycopg").addHandler(_NOWHERE)
    return psycopg


def _without_password(address: str) -> str:
    """`postgresql://shop@host/stock`: what may be shown to anybody. Raises StockError where it is not written so."""
    if (said := _ADDRESS.fullmatch(address)) is None or writable(address) != address:
        # what is written wrongly may have its password anywhere
        rule = "this is no whole address of a database"
        remedy = "write it like postgresql://USER@HOST/DATABASE; in a password / is %2F, @ is %40, # is %23, ? is %3F"
        raise StockError("postgresql://...", rule, remedy)
    user = f"{said['user']}@" if said["user"] else ""
    return f"{said['kind']}{user}{said['place']}"


def _in_words(name: str, error: Any, psycopg: Any) -> StockError:
    match error:
        case psycopg.errors.InvalidPassword() | psycopg.errors.InvalidAuthorizationSpecification():
            return StockError(name, "the server does not let this user in", "check user and password")
        case psycopg.errors.InvalidCatalogName():
            return StockError(name, "the server has no such database", "make it: createdb NAME")
        case psycopg.errors.DiskFull():
            return StockError(name, "the server's disk is full; nothing was booked", "make room, then do it again")
        case psycopg.errors.LockNotAvailable() | psycopg.errors.DeadlockDetected():
            rule = "others are writing to these pieces, and the turn did not come; nothing was booked"
            return StockError(name, rule, "wait for them to finish, and try again")
        case psycopg.errors.InsufficientPrivilege():
            return StockError(name, "this user may not do that there; nothing was booked", "ask for the rights")
        case psycopg.OperationalError():
            said = str(error).lower()
            if "password" in said or "authentication" in said or 'role "' in said:
                return StockError(name, "the server does not let this user in", "check user and password")
            if "does not exist" in said and "database" in said:
                return StockError(name, "the server has no such database", "make it: createdb NAME")
            rule = "the server cannot be reached, or went away; what was not finished was not booked"
            return StockError(name, rule, "see that it runs and that this machine reaches it, then do it again")
    said = re.sub(r"\s+", " ", error.diag.message_primary or type(error).__name__)
    return StockError(name, "the stock's database refuses; nothing was booked", "check it: shimopt stock check", said)
