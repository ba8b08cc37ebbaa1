"""What stands in the way of a stock in a file: a full disk, a file that is locked, or may only be read."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from typing import Any
from unittest import mock

import pytest

from shimopt.stock import sqlite_store
from shimopt.stock.checking import wrong_in
from shimopt.stock.sqlite_store import SqliteStore
from shimopt.stock.store import StockError
from tests.command import Run
from tests.stocks import in_file, shim

NOBODY = 65534


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A stock in a folder that every user of the machine reaches."""
    monkeypatch.delenv("SHIMOPT_STOCK", raising=False)
    folder = Path(tempfile.mkdtemp(prefix="shimopt-shop-"))
    folder.chmod(0o755)
    monkeypatch.chdir(folder)
    in_file(folder, shim("S-10", 0.1, 4)).close()
    rows = "".join(f"B-{n},{0.2 + n / 10_000:.4f},1,{'x' * 150}\n" for n in range(600))
    (folder / "many.csv").write_text(f"part,thickness_mm,on_hand,note\n{rows}", encoding="utf-8")
    yield folder
    shutil.rmtree(folder)


def on_hand(shop: Path) -> list[tuple[Any, ...]]:
    """What is there, once the ledger was replayed and agrees."""
    store = SqliteStore(shop / "stock.db")
    with store.reading() as within:
        assert list(wrong_in(within)) == []
        found = within.rows("SELECT part, on_hand FROM lot ORDER BY id")
    store.close()
    return found


@contextmanager
def a_user_without_rights() -> Iterator[None]:
    """Whoever is not root is told by the rights; root is somebody else for a while."""
    was = os.geteuid()
    if was == 0:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        with suppress(PermissionError):
            os.seteuid(was)


def test_on_a_full_disk_nothing_is_booked_and_it_goes_on_where_there_is_room_again(run: Run, shop: Path) -> None:
    connect = sqlite3.connect

    def of_few_pages(*where: Any, **how: Any) -> sqlite3.Connection:
        connection = connect(*where, **how)
        connection.execute("PRAGMA max_page_count = 40")
        return connection

    with mock.patch.object(sqlite3, "connect", of_few_pages):
        code, _, err = run("stock", "take-in", "many.csv", "--yes")
    assert (code, "the disk is full; nothing was booked. Make room, then do it again" in err) == (2, True), err
    assert on_hand(shop) == [("S-10", 4)]
    assert run("stock", "take-in", "many.csv", "--yes")[0] == 0
    assert len(on_hand(shop)) == 601


@pytest.mark.parametrize(("way", "ending"), [("reading", ""), ("writing", "; nothing was booked")])
def test_a_disk_that_fails_is_no_word_on_bookings_where_none_was_asked_for(shop: Path, way: str, ending: str) -> None:
    """What was booked just before stays booked, though the look at it after fails."""
    store = SqliteStore(shop / "stock.db")

    class Failing(sqlite3.Connection):
        def execute(self, sql: str, *values: Any) -> sqlite3.Cursor:
            if sql.startswith("BEGIN"):
                raise sqlite3.OperationalError("disk I/O error")
            return super().execute(sql, *values)

    with (
        mock.patch.object(sqlite3, "connect", partial(sqlite3.connect, factory=Failing)),
        pytest.raises(StockError) as told,
        getattr(store, way)(),
    ):
        pass
    assert [one.rule for one in told.value.problems] == [f"the disk fails to read or write{ending}"]


def test_a_file_that_another_program_keeps_locked_is_told_after_the_wait(
    run: Run, shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sqlite_store, "_BUSY_MS", 50)
    other = sqlite3.connect(shop / "stock.db", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    # whoever only looks does not wait
    assert run("stock", "show")[0] == 0
    code, _, err = run("stock", "scrap", "S-10=1")
    assert (code, "another program keeps the stock locked; nothing was booked" in err) == (2, True), err
    other.execute("ROLLBACK")
    other.close()
    assert run("stock", "scrap", "S-10=1")[0] == 0
    assert on_hand(shop) == [("S-10", 3)]


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="a system without rights of users")
def test_a_stock_that_may_only_be_read_or_not_at_all_is_told(run: Run, shop: Path) -> None:
    with a_user_without_rights():
        if not os.access(Path(sqlite_store.__file__), os.R_OK, effective_ids=True):
            pytest.skip("the project lies where only its owner may read")
    (shop / "stock.db").chmod(0o444)
    shop.chmod(0o555)
    with a_user_without_rights():
        code, _, err = run("stock", "scrap", "S-10=1")
    assert (code, "may only be read here" in err) == (2, True), err
    shop.chmod(0o777)
    with a_user_without_rights():
        assert run("stock", "show")[0] == 0
        code, _, err = run("stock", "scrap", "S-10=1")
    assert (code, "may only be read here" in err) == (2, True), err
    for left in shop.glob("stock.db-*"):
        left.unlink()
    (shop / "stock.db").chmod(0o200)
    with a_user_without_rights():
        code, _, err = run("stock", "show")
    assert (code, "the stock cannot be read (Permission denied)" in err) == (2, True), err
    shop.chmod(0o755)
    (shop / "stock.db").chmod(0o644)
    assert on_hand(shop) == [("S-10", 4)]


def test_one_of_a_newer_shimopt_is_refused_and_told_what_to_do(run: Run, shop: Path) -> None:
    store = SqliteStore(shop / "stock.db")
    with store.writing() as within:
        within.run("INSERT INTO schema_version (version, made_at) VALUES (99, '')")
    store.close()
    for command in (["show"], ["scrap", "S-10=1"], ["save", "saved.json"]):
        code, _, err = run("stock", *command)
        assert (code, "Install that newer shimopt here too" in err) == (2, True), err
    assert not (shop / "saved.json").exists()
