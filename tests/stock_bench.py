"""Benches for tests of the stock: processes that hold, free and fit, each with a book of its own beside the database.

In the book a request is opened before it is sent, and closed with its outcome after it was answered: what is closed has
to be in the stock, what is open may be in it whole or not at all.
"""

from __future__ import annotations

import json
import random
import sqlite3
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from shimopt.parts.drawer import Change, DrawerChangedError, FittedPiece
from shimopt.stock.address import _store
from shimopt.stock.holding import PiecesGoneError, free, hold
from shimopt.stock.people import Asking
from shimopt.stock.stock_drawer import StockDrawer
from shimopt.stock.store import Store

UNTIL = "2099-12-31"
_JOBS = 3


def opened(address: str) -> Store:
    return _store(address if "://" in address else Path(address), create=False)


class Book:
    """A file to which a line is added for every request that is begun, and one for every answer."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("a", encoding="utf-8")

    def begin(self, request: str, kind: str, job: str, pieces: Mapping[int, int]) -> None:
        self._add(["begun", request, kind, job, sorted(pieces.items())])

    def end(self, request: str, outcome: str) -> None:
        self._add([outcome, request])

    def _add(self, line: list[Any]) -> None:
        self._file.write(json.dumps(line) + "\n")
        self._file.flush()


def read_book(path: Path) -> Iterator[tuple[str, str, str, dict[int, int], str]]:
    """Request, kind, job, pieces and outcome, of each in order; the outcome is empty where nobody knows it."""
    lines = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines() if line.endswith("]")]
    outcomes = {line[1]: line[0] for line in lines if line[0] != "begun"}
    for line in lines:
        if line[0] == "begun":
            yield line[1], line[2], line[3], dict(line[4]), outcomes.get(line[1], "")


def work(address: str, book_at: str, bench: str, count: int, seed: int, holds_only: bool = False) -> list[float]:
    """So many requests of one bench for its own jobs; how long each hold took [s]."""
    store, book, rng, took = opened(address), Book(Path(book_at)), random.Random(seed), list[float]()
    drawers = [StockDrawer(store, "main", Asking(f"{bench}-job{n}", f"Job {n}")) for n in range(_JOBS)]
    lots = [lot.id for lot in drawers[0].lots()]
    # few are fitted, so that there is something to fight for to the end
    fits = {rng.randrange(count) for _ in range(2)}
    for number in range(count):
        drawer = rng.choice(drawers)
        kind = (
            "hold" if holds_only else "fit" if number in fits else rng.choice(["hold", "hold", "hold", "free", "free"])
        )
        pieces = Counter({lot: rng.randint(1, 3) for lot in rng.sample(lots, rng.randint(1, 3))})
        request = f"{bench}-{seed}-{number}"
        book.begin(request, kind, drawer.asking.job, pieces)
        start = time.perf_counter()
        book.end(request, asked(drawer, kind, request, pieces))
        if kind == "hold":
            took.append(time.perf_counter() - start)
    store.close()
    return took


def asked(drawer: StockDrawer, kind: str, request: str, pieces: Mapping[int, int]) -> str:
    """Send one request; whether it was done, refused, or nothing was left to be done."""
    given = drawer.asking.given(request)
    if kind == "hold":
        try:
            return "done" if hold(drawer, pieces, UNTIL, given) else "held already"
        except PiecesGoneError:
            return "refused"
    if kind == "free":
        free(drawer, given)
    else:
        fit_what_is_held(drawer, request)
    return "done"


def fit_what_is_held(drawer: StockDrawer, request: str) -> None:
    """Record all that is held for the job as fitted, whatever others do meanwhile."""
    while True:
        version, lots = drawer.version(), drawer.lots()
        changes = [Change(FittedPiece.of(lot.part), -lot.mine) for lot in lots if lot.mine]
        try:
            drawer.move(changes, version, request)
        except DrawerChangedError:
            continue
        return


@contextmanager
def careless_stock(path: Path, lots: int, on_hand: int) -> Iterator[sqlite3.Connection]:
    """A stock as others keep it: counts in a table, and no rule."""
    connection = sqlite3.connect(path, isolation_level=None, timeout=20)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("CREATE TABLE lot (id INTEGER PRIMARY KEY, on_hand INTEGER, promised INTEGER)")
    connection.executemany("INSERT INTO lot VALUES (?, ?, 0)", [(n + 1, on_hand) for n in range(lots)])
    try:
        yield connection
    finally:
        connection.close()


def careless(path: str, book_at: str, bench: str, count: int, seed: int, write: str) -> None:
    """The control: looks whether a piece is free, and then writes: `?` is what it worked out, if it says so."""
    book, rng = Book(Path(book_at)), random.Random(seed)
    connection = sqlite3.connect(path, isolation_level=None, timeout=20)
    for number in range(count):
        request, lot = f"{bench}-{number}", rng.randint(1, 4)
        book.begin(request, "hold", f"{bench}-{number}", {lot: 1})
        on_hand, promised = connection.execute("SELECT on_hand, promised FROM lot WHERE id = ?", (lot,)).fetchone()
        # another bench may have its turn here
        time.sleep(0.001)
        if promised < on_hand:
            connection.execute(
                f"UPDATE lot SET promised = {write} WHERE id = {lot}", (promised + 1,) * write.count("?")
            )
        book.end(request, "done" if promised < on_hand else "refused")
    connection.close()


def wrong_by_books(counts: Mapping[int, tuple[int, int]], began: Mapping[int, int], books: list[Path]) -> list[str]:
    """Where a stock parts from what the benches were told: `counts` are on hand and promised by lot, now."""
    held, fitted = held_by_books(books), fitted_by_books(books)
    found = []
    for lot, (on_hand, promised) in counts.items():
        if held[lot] + fitted[lot] > began[lot]:
            found.append(f"lot {lot}: promised twice: {held[lot]} held and {fitted[lot]} fitted of {began[lot]}")
        if (on_hand, promised) != (began[lot] - fitted[lot], held[lot]):
            found.append(f"lot {lot}: {on_hand} on hand and {promised} held, and not as the benches were told")
    return found


def held_by_books(books: Iterator[Path] | list[Path]) -> Counter[int]:
    """How many pieces of each lot are held, by what the benches were told."""
    held = Counter[int]()
    for book in books:
        jobs: dict[str, dict[int, int]] = {}
        for _, kind, job, pieces, outcome in read_book(book):
            if outcome == "done":
                jobs[job] = pieces if kind == "hold" else {}
        for pieces in jobs.values():
            held.update(pieces)
    return held


def fitted_by_books(books: list[Path]) -> Counter[int]:
    """How many pieces of each lot were fitted, by what the benches were told."""
    fitted = Counter[int]()
    for book in books:
        jobs: dict[str, dict[int, int]] = {}
        for _, kind, job, pieces, outcome in read_book(book):
            if outcome == "done":
                fitted.update(jobs.get(job, {}) if kind == "fit" else {})
                jobs[job] = pieces if kind == "hold" else {}
    return fitted
