"""Stocks for tests: in an SQLite file and in PostgreSQL, and the parts that lie in them."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from unittest import mock

import psycopg

from shimopt.lengths import Bracket
from shimopt.parts import Part, StockLine
from shimopt.stock.ledger import Entry, append
from shimopt.stock.lots import add_lot, drawer_number, kind_of, lots_of
from shimopt.stock.people import Asking
from shimopt.stock.postgres_store import PostgresStore
from shimopt.stock.sqlite_store import SqliteStore
from shimopt.stock.store import Store
from tests.postgres_server import new_database

MM = 1_000_000
# the last day of holds in tests, and as it is told
SOON = (date.today() + timedelta(days=100)).isoformat()
SOON_DAY = f"{date.fromisoformat(SOON):%A} {SOON}"


def shim(name: str, mm: float, on_hand: int, piece: str | None = None) -> StockLine:
    """So many shims of a size taken as exact; one with a tag was measured."""
    nm = round(mm * MM)
    return StockLine(Part(name, Bracket.between(nm, nm), piece, piece is not None, nm), on_hand)


def filled(store: Store, *lines: StockLine, drawer: str = "main") -> int:
    """Pieces put into a drawer, as the first table does; its number."""
    with store.writing() as within:
        number = drawer_number(within, drawer, create=True) or 0
        there = {kind_of(lot.part): lot.id for lot in lots_of(within, number)}
        entries = []
        for line in lines:
            single = line.part.measured and line.part.piece is not None and line.on_hand <= 1
            lot = there.get(kind_of(line.part)) or add_lot(within, number, line, single=single)
            entries.append(Entry("taken in", number, lot, moved=line.on_hand, detail={"drawer": drawer}))
        append(within, entries, Asking().given())
    return number


def in_file(folder: Path, *lines: StockLine) -> SqliteStore:
    """A stock in a file `stock.db` with these pieces in its drawer main."""
    store = SqliteStore(folder / "stock.db", create=True)
    filled(store, *lines)
    return store


def in_postgres(*lines: StockLine) -> PostgresStore:
    """A stock in a database of its own with these pieces; the test is skipped where there is no server."""
    store = PostgresStore(new_database(), create=True)
    filled(store, *lines)
    return store


MAKERS = {"sqlite": in_file, "postgresql": lambda _, *lines: in_postgres(*lines)}


@contextmanager
def clock_at(moment: str) -> Iterator[None]:
    """While it lasts the clock of the stock, in a file or as SHIMOPT_STOCK says, stands still at a moment."""
    if (address := os.environ.get("SHIMOPT_STOCK", "")).startswith("postgresql:"):
        with psycopg.connect(address, autocommit=True) as server:
            (was,) = server.execute("SELECT pg_get_functiondef('shimopt.moment'::regproc)").fetchone() or ("",)
            body = f"SELECT '{moment}'::text"
            server.execute(
                f"CREATE OR REPLACE FUNCTION shimopt.moment() RETURNS text LANGUAGE sql AS $${body}$$".encode()
            )
            yield
            server.execute(was.encode())
        return
    connect = sqlite3.connect

    def asked(_: str, *more: str) -> str:
        at = datetime.fromisoformat(moment)
        return (at + timedelta(days=1) if "+1 day" in more else at).isoformat(timespec="seconds")

    def with_clock(*where: Any, **how: Any) -> sqlite3.Connection:
        connection = connect(*where, **how)
        connection.create_function("strftime", -1, asked)
        return connection

    with mock.patch.object(sqlite3, "connect", with_clock):
        yield
