"""Saved and restored: from either database into either, the same text again; nothing wrong is taken."""

from __future__ import annotations

import json
from hashlib import sha256
from pathlib import Path

import pytest

from shimopt.errors import InputError
from shimopt.stock.checking import wrong_in
from shimopt.stock.dump import restored, saved_text
from shimopt.stock.ledger import Entry, append
from shimopt.stock.people import Asking
from shimopt.stock.postgres_store import PostgresStore
from shimopt.stock.promises import ended, made
from shimopt.stock.sqlite_store import SqliteStore
from shimopt.stock.store import BrokenRuleError, Store
from tests.postgres_server import new_database
from tests.stocks import MAKERS, clock_at, filled, shim
from tests.test_stock_schema import ledger_row


def empty(kind: str, folder: Path) -> Store:
    if kind == "sqlite":
        return SqliteStore(folder / "empty.db", create=True)
    return PostgresStore(new_database(), create=True)


def lived_in(kind: str, folder: Path) -> Store:
    """A stock in which something of every kind has happened, with text that is no SQL."""
    store = MAKERS[kind](folder, shim("S-10'; DROP TABLE lot; --", 0.1, 4), shim("S-30", 0.302, 1, "t7 軸"))
    filled(store, shim("S-50", 0.5, 2), drawer="Ανδρέας \u202e")
    mill, quarry = Asking("mill", 'Mill "1"'), Asking("quarry", "Quarry")
    with store.writing() as within:
        made(within, 1, {1: 2}, "2099-01-01", mill.given("one"))
    with store.writing() as within:
        made(within, 1, {1: 1, 2: 1}, "2099-01-01", quarry.given("two"))
    with store.writing() as within:
        given = mill.given("three", why="fitted")
        ends = ended(within, 1, "freed", given, fitted={1: 1})
        append(within, [*ends, Entry("fitted", 1, 1, moved=-1), Entry("ordered", 1, 2, due=7)], given)
    with store.writing() as within:
        within.run("INSERT INTO device (name, token_hash, rights, made_at) VALUES ('b', ?, 'hold', '')", "a" * 64)
        append(within, [Entry("came", 1, 2, detail={"spots": "302000"}), Entry("counted", 1, 1)], mill.given("s"))
        within.run(
            "INSERT INTO measurement (lot, at, who, low_nm, high_nm, spots) "
            "SELECT 2, at, who, 302000, 302000, '302000' FROM ledger WHERE kind = 'came'"
        )
        within.run(
            "INSERT INTO stocktake (drawer, at, who, why, request) SELECT 1, at, who, 'stocktake', 's' FROM ledger "
            "WHERE kind = 'counted'"
        )
    return store


def text_of(store: Store) -> list[str]:
    """What is saved, but for the moment of saving."""
    with store.reading() as within:
        return saved_text(within).splitlines()[1:]


@pytest.mark.parametrize("source", ["sqlite", "postgresql"])
@pytest.mark.parametrize("target", ["sqlite", "postgresql"])
def test_what_is_restored_is_the_same_and_agrees_with_itself(tmp_path: Path, source: str, target: str) -> None:
    store, other = lived_in(source, tmp_path), empty(target, tmp_path)
    with store.reading() as within:
        text = saved_text(within)
    assert restored(other, text, "saved.json")["ledger"] == len(json.loads(text)["tables"]["ledger"]["rows"]) == 12
    assert text_of(other) == text_of(store)
    with other.reading() as within:
        assert list(wrong_in(within)) == []
        # four, one fitted; of three that were held one was fitted and one let go
        assert within.rows("SELECT on_hand, promised, on_order FROM lot ORDER BY id") == [
            (3, 1, 0),
            (1, 1, 7),
            (2, 0, 0),
        ]
    # and it goes on from there
    filled(other, shim("S-60", 0.6, 3))
    with other.writing() as within:
        made(within, 1, {4: 1}, "2099-01-01", Asking("mill", "Mill").given())
        assert list(wrong_in(within)) == []


@pytest.mark.parametrize("target", ["sqlite", "postgresql"])
def test_a_stock_whose_clock_was_ahead_once_is_saved_and_restored(tmp_path: Path, target: str) -> None:
    with clock_at("2090-01-01T12:00:00+00:00"):
        store = lived_in("sqlite", tmp_path)
    with store.reading() as within:
        text = saved_text(within)
    other = empty(target, tmp_path)
    assert restored(other, text, "saved.json")["lot"] == 3
    with other.reading() as within:
        assert list(wrong_in(within)) == []
        assert within.rows("SELECT COUNT(*) FROM schema_version WHERE version = 0") == [(0,)]
    # and the rule holds from then on
    with pytest.raises(BrokenRuleError, match="ledger"), other.writing() as within:
        within.run(f"INSERT {ledger_row(at=repr('2095-01-01T00:00:00+00:00'))}")


def test_nothing_is_restored_over_a_stock(tmp_path: Path) -> None:
    store = lived_in("sqlite", tmp_path)
    before = text_of(store)
    with store.reading() as within:
        text = saved_text(within)
    with pytest.raises(InputError, match="a stock is here already"):
        restored(store, text, "saved.json")
    assert text_of(store) == before


def tampered(text: str, table: str, row: int, column: str, value: object) -> str:
    """One cell is another, and the hash of the file is made anew, as somebody would who knows of it."""
    told = json.loads(text)
    saved = told["tables"][table]
    saved["rows"][row][saved["columns"].index(column)] = value
    rows = {name: one["rows"] for name, one in told["tables"].items() if one["rows"]}
    written = json.dumps(rows, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return json.dumps({**told, "hash": sha256(written.encode(errors="surrogatepass")).hexdigest()})


@pytest.mark.parametrize(
    ("table", "column", "value", "told"),
    [
        ("ledger", "who", "nobody", "does not agree with itself: ledger row 1 was changed"),
        ("ledger", "moved", 5, "breaks the rule lot_counts_as_the_ledger of every stock"),
        ("ledger", "previous", "x", "breaks the rule ledger_only_grows"),
        ("promise", "pieces", 9, "the promise one of lot 1 is not what the ledger says"),
        ("promise", "state", "held", "does not agree with itself"),
        ("lot", "low_nm", 200_000, "breaks the rule lot_thickness"),
        ("lot", "high_nm", "a", "holds no high_nm that a stock can have"),
        ("lot", "low_nm", 99_999.5, "holds no low_nm"),
        ("lot", "low_nm", 10**30, "holds no low_nm"),
        ("lot", "low_nm", True, "holds no low_nm"),
        ("lot", "part", ["x"], "holds no part"),
        ("lot", "note", "\ud800", "holds no note"),
        ("lot", "note", "a\0", "holds no note"),
        ("lot", "edge_nm", -1, "holds no edge_nm"),
        ("lot", "inner_low_nm", 1, "holds no inner_low_nm"),
        ("promise", "until", "soon", "holds no until"),
        ("ledger", "at", "zzz", "holds no at"),
        ("ledger", "detail", "{oops", "holds no detail"),
        ("ledger", "lot_is", "{oops", "holds no lot_is"),
        ("measurement", "low_nm", 1, "the measurement 1 of S-30 is not what the ledger says"),
        ("measurement", "spots", "zz", "holds no spots"),
        ("measurement", "spots", "", "holds no spots"),
        ("stocktake", "request", "x", "the stocktake 1 .x. is not what the ledger says"),
    ],
)
def test_what_was_tampered_with_is_not_taken(tmp_path: Path, table: str, column: str, value: object, told: str) -> None:
    store, other = lived_in("sqlite", tmp_path), empty("sqlite", tmp_path)
    with store.reading() as within:
        text = tampered(saved_text(within), table, 0, column, value)
    with pytest.raises(InputError, match=told):
        restored(other, text, "saved.json")
    with other.reading() as within:
        assert within.rows("SELECT COUNT(*) FROM lot") == [(0,)]


def test_a_saved_stock_that_was_cut_or_edited_is_not_taken(tmp_path: Path) -> None:
    """The last rows with the promises they made, and a lot's size: sums and chain agree without the one and the other.

    Both are true of every file whose end or sizes were lost: only what stands at its head knows better.
    """
    store, other = lived_in("sqlite", tmp_path), empty("sqlite", tmp_path)
    with store.writing() as within:
        made(within, 2, {3: 1}, "2099-01-01", Asking("mill", "Mill").given("last"))
    with store.reading() as within:
        text = saved_text(within)
    cut, edited, unsigned = json.loads(text), json.loads(text), json.loads(text)
    for table in ("ledger", "promise"):
        assert "last" in cut["tables"][table]["rows"].pop()
    low, high, name = (edited["tables"]["lot"]["columns"].index(one) for one in ("low_nm", "high_nm", "part"))
    row = next(row for row in edited["tables"]["lot"]["rows"] if row[name] == "S-50")
    row[low] = row[high] = 520_000
    for spoilt in (cut, edited):
        with pytest.raises(InputError, match="changed or cut off since"):
            restored(other, json.dumps(spoilt), "saved.json")
    del unsigned["hash"]
    with pytest.raises(InputError, match="no stock that was saved"):
        restored(other, json.dumps(unsigned), "saved.json")
    assert restored(other, text, "saved.json")["promise"] == 4


@pytest.mark.parametrize(
    "text", ["[" * 100_000, "", "part,on_hand\n", "[]", "{}", '{"what": "shimopt stock", "format": 1}']
)
def test_a_file_that_is_none_is_told(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputError, match="no stock that was saved"):
        restored(empty("sqlite", tmp_path), text, "saved.json")
