"""No piece is promised twice: many benches at once, killed at any moment, against books kept outside the database.

The ordinary run is short. SHIMOPT_HOLDS (of each of eight benches) and SHIMOPT_KILLS make it long:
SHIMOPT_HOLDS=1000 SHIMOPT_KILLS=500 python -m pytest tests/test_stock_proofs.py -s
"""

from __future__ import annotations

import os
import random
import signal
import statistics
import time
from collections import Counter
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import pytest

from shimopt.stock.checking import wrong_in
from shimopt.stock.ledger import is_known
from shimopt.stock.people import Asking
from shimopt.stock.postgres_store import PostgresStore
from shimopt.stock.stock_drawer import StockDrawer
from shimopt.stock.store import Store
from tests import stock_bench
from tests.stock_bench import asked, careless, careless_stock, opened, read_book, work, wrong_by_books
from tests.stocks import MAKERS, shim

BENCHES, HOLDS, KILLS = 8, int(os.environ.get("SHIMOPT_HOLDS", "12")), int(os.environ.get("SHIMOPT_KILLS", "15"))
PIECES = [shim(f"S-{n}0", n / 10, 8) for n in range(1, 7)]


@pytest.fixture(scope="module")
def processes() -> Any:
    """Processes from a server that has loaded everything once."""
    context = get_context("forkserver")
    context.set_forkserver_preload([stock_bench.__name__])
    return context


@pytest.fixture(params=MAKERS)
def stock(request: pytest.FixtureRequest, tmp_path: Path) -> Store:
    return MAKERS[request.param](tmp_path, *PIECES)


def address_of(store: Store) -> str:
    return store._address if isinstance(store, PostgresStore) else store.name


def counts(store: Store) -> dict[int, tuple[int, int]]:
    """On hand and promised of each lot, once the ledger was replayed and agrees."""
    with store.reading() as within:
        assert list(wrong_in(within)) == []
        return {lot: (there, held) for lot, there, held in within.rows("SELECT id, on_hand, promised FROM lot")}


def test_many_benches_at_once_agree_with_the_books_they_kept(stock: Store, tmp_path: Path, processes: Any) -> None:
    books = [tmp_path / f"book{n}" for n in range(BENCHES)]
    start = time.perf_counter()
    with processes.Pool(BENCHES) as pool:
        asked_of = [
            pool.apply_async(work, (address_of(stock), str(book), f"bench{n}", HOLDS * 5 // 3, n))
            for n, book in enumerate(books)
        ]
        took = [seconds for one in asked_of for seconds in one.get(3000)]
    told = Counter(outcome for book in books for _, kind, _, _, outcome in read_book(book) if kind == "hold")
    print(f"\n{stock.dialect}: {len(took)} holds in {time.perf_counter() - start:.1f} s, {told}")
    print(f"  median {statistics.median(took) * 1e3:.1f} ms, p99 {statistics.quantiles(took, n=100)[98] * 1e3:.1f} ms")
    # there was something to fight for
    assert told["done"] > BENCHES
    assert told["refused"] > BENCHES
    began = {number: line.on_hand for number, line in enumerate(PIECES, start=1)}
    assert wrong_by_books(counts(stock), began, books) == []


@pytest.mark.parametrize(
    ("write", "caught"), [("promised + 1", "promised twice"), ("?", "and not as the benches were told")]
)
def test_the_same_books_catch_a_stock_that_looks_first_and_then_writes(
    tmp_path: Path, processes: Any, write: str, caught: str
) -> None:
    """The control: without constraints and locks, the last pieces go to several, or what one wrote is lost."""
    books, path = [tmp_path / f"book{n}" for n in range(BENCHES)], tmp_path / "careless.db"
    with careless_stock(path, 4, 50) as connection:
        with processes.Pool(BENCHES) as pool:
            for one in [
                pool.apply_async(careless, (str(path), str(book), f"bench{n}", 60, n, write))
                for n, book in enumerate(books)
            ]:
                one.get(300)
        rows = connection.execute("SELECT id, on_hand, promised FROM lot").fetchall()
    found = wrong_by_books({lot: (there, held) for lot, there, held in rows}, dict.fromkeys(range(1, 5), 50), books)
    assert [words for words in found if caught in words], found


def test_a_bench_killed_at_any_moment_leaves_each_request_whole_or_undone(
    stock: Store, tmp_path: Path, processes: Any
) -> None:
    rng, whole, cut, undone = random.Random(7), 0, 0, 0
    for number in range(KILLS):
        book = tmp_path / f"book{number}"
        # each in its own jobs: what was killed before may go on holding
        bench = f"bench{number}"
        process = processes.Process(target=work, args=(address_of(stock), str(book), bench, 10**6, number))
        process.start()
        until = time.monotonic() + 60
        while not (book.exists() and book.stat().st_size) and time.monotonic() < until:
            time.sleep(0.001)
        time.sleep(rng.uniform(0, 0.2))
        os.kill(process.pid, signal.SIGKILL)
        process.join(60)
        assert process.exitcode == -signal.SIGKILL
        done, open_ones, not_done = checked_against(stock, book)
        whole, cut, undone = whole + done, cut + open_ones, undone + not_done
        # so that the next one finds pieces
        for job in range(3):
            asking = Asking(f"{bench}-job{job}", "")
            asked(StockDrawer(stock, "main", asking), "free", f"after-{bench}-{job}", {})
    print(
        f"\n{stock.dialect}: killed {KILLS} times: {whole} requests answered, {cut} cut off before their answer, "
        f"{undone} of these not done and {cut - undone} done whole"
    )
    assert whole > 0
    # most were hit in the midst of one
    assert cut > KILLS / 2


def checked_against(store: Store, book: Path) -> tuple[int, int, int]:
    """What was answered is in the stock, and what was cut off is in it whole or not at all.

    How many were answered, how many cut off, and how many of these were not done.
    """
    counts(store)
    other = opened(address_of(store))
    done = cut = undone = 0
    for request, kind, job, pieces, outcome in read_book(book):
        key = f"record-{request}" if kind == "fit" else request
        with other.reading() as within:
            known = is_known(within, key)
            held = dict(within.rows("SELECT lot, pieces FROM promise WHERE request = ?", key))
        if kind == "hold":
            # all of it, or nothing
            assert held in ({}, pieces)
            assert not held or known
            assert held or outcome != "done"
        if outcome == "refused":
            assert not known
        if outcome == "" and not known:
            undone += 1
            # sent again by whoever never saw the answer, it is done once
            drawer = StockDrawer(other, "main", Asking(job, ""))
            first = asked(drawer, kind, request, pieces)
            again = counts(other)
            assert asked(drawer, kind, request, pieces) in (first, "held already")
            assert counts(other) == again
        done += outcome != ""
        cut += outcome == ""
    other.close()
    return done, cut, undone
