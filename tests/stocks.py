"""Stocks for tests: in an SQLite file and in PostgreSQL, and the parts that lie in them."""

from __future__ import annotations

from pathlib import Path

from shimopt.lengths import Bracket
from shimopt.parts import Part, StockLine
from shimopt.stock.filling import taken_in
from shimopt.stock.people import Asking
from shimopt.stock.postgres_store import PostgresStore
from shimopt.stock.sqlite_store import SqliteStore
from shimopt.stock.store import Store
from tests.postgres_server import new_database

MM = 1_000_000


def shim(name: str, mm: float, on_hand: int, piece: str | None = None) -> StockLine:
    """So many shims of a size taken as exact; one with a tag was measured."""
    nm = round(mm * MM)
    return StockLine(Part(name, Bracket.between(nm, nm), piece, piece is not None, nm), on_hand)


def filled(store: Store, *lines: StockLine, drawer: str = "main") -> int:
    """Pieces put into a drawer; its number."""
    with store.writing() as within:
        return taken_in(within, drawer, lines, Asking().given())


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
