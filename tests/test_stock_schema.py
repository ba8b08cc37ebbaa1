"""What the database itself refuses, and what it does by itself, whoever writes to it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from shimopt.stock.ledger import Entry, append, wrong_in
from shimopt.stock.people import Asking
from shimopt.stock.promises import made
from shimopt.stock.store import BrokenRuleError, Store
from tests.stocks import MAKERS, shim

ROW = "'2099-01-01T00:00:00+00:00', 'fitted', 1, 1, -1, 0, 0, 2, 'x', 1, '', '', '', '', '', '', 'P', '{:064}'"


@pytest.fixture(params=MAKERS)
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Store:
    """One stock for each test."""
    return with_holds(request.param, tmp_path)


def with_holds(kind: str, folder: Path) -> Store:
    """Four of S-10, of which two are held for the mill, and the measured S-30."""
    store = MAKERS[kind](folder, shim("S-10", 0.1, 4), shim("S-30", 0.302, 1, "t7"))
    with store.writing() as within:
        made(within, 1, {1: 2}, "2099-01-01", Asking("mill", "Mill").given("first"))
    return store


def rows(store: Store, sql: str) -> list[tuple[object, ...]]:
    with store.reading() as within:
        return within.rows(sql)


# each statement is one that a bug, a script or a person at a database prompt could send
REFUSED = {
    "more held than is on hand": "INSERT INTO promise (request, lot, job, title, pieces, until, state, who, bench) "
    "VALUES ('r', 1, 'j', '', 3, '2099-01-01', 'held', '', '')",
    "held of nothing": "INSERT INTO promise (request, lot, job, title, pieces, until, state, who, bench) "
    "VALUES ('r', 1, 'j', '', 0, '2099-01-01', 'held', '', '')",
    "the same request for the same lot": "INSERT INTO promise (request, lot, job, title, pieces, until, state, who, "
    "bench) VALUES ('first', 1, 'j', '', 1, '2099-01-01', 'held', '', '')",
    "held for no job": "INSERT INTO promise (request, lot, job, title, pieces, until, state, who, bench) "
    "VALUES ('r', 1, '', '', 1, '2099-01-01', 'held', '', '')",
    "held of a lot that is not there": "INSERT INTO promise (request, lot, job, title, pieces, until, state, who, "
    "bench) VALUES ('r', 99, 'j', '', 1, '2099-01-01', 'held', '', '')",
    "a state that is none": "UPDATE promise SET state = 'lost' WHERE id = 1",
    "a promise of more": "UPDATE promise SET pieces = 3 WHERE id = 1",
    "a promise to another": "UPDATE promise SET job = 'quarry' WHERE id = 1",
    "a promise taken away": "DELETE FROM promise WHERE id = 1",
    "a count that no ledger knows": "UPDATE lot SET on_hand = 5 WHERE id = 1",
    "fewer than none": "UPDATE lot SET on_hand = -1 WHERE id = 1",
    "fewer than are held": "UPDATE lot SET on_hand = 1 WHERE id = 1",
    "held without a promise": "UPDATE lot SET promised = 3 WHERE id = 1",
    "no longer held by a count": "UPDATE lot SET promised = 0 WHERE id = 1",
    "fewer than none on order": "UPDATE lot SET on_order = -1 WHERE id = 1",
    "a lot made thicker": "UPDATE lot SET high_nm = 200000 WHERE id = 1",
    "a lot called otherwise": "UPDATE lot SET part = 'S-20' WHERE id = 1",
    "a lot thrown away": "DELETE FROM lot WHERE id = 2",
    "a lot that begins with pieces": "INSERT INTO lot (drawer, part, measured, low_nm, high_nm, on_hand) "
    "VALUES (1, 'S-99', 0, 990000, 990000, 7)",
    "a lot twice": "INSERT INTO lot (drawer, part, measured, low_nm, high_nm) VALUES (1, 'S-10', 0, 100000, 100000)",
    "a lot of no thickness": "INSERT INTO lot (drawer, part, measured, low_nm, high_nm) VALUES (1, 'S-0', 0, 0, 0)",
    "a lot in no drawer": "INSERT INTO lot (drawer, part, measured, low_nm, high_nm) VALUES (9, 'S-1', 0, 1, 1)",
    "a ledger row changed": "UPDATE ledger SET moved = 9 WHERE id = 1",
    "a ledger row deleted": "DELETE FROM ledger WHERE id = 1",
    "a ledger row with a gap before it": f"INSERT INTO ledger VALUES (9, {ROW.format(1)})",
    "a ledger row over another": f"INSERT INTO ledger VALUES (1, {ROW.format(2)})",
    "a ledger row that follows no other": f"INSERT INTO ledger VALUES (4, {ROW.format(3)})",
    "a kind that is none": "INSERT INTO ledger SELECT id + 1, at, 'lost', drawer, lot, 0, 0, 0, on_hand, 'x', 1, '', "
    "'', '', '', '', '', hash, '" + "0" * 64 + "' FROM ledger WHERE id = 3",
    "a count in the ledger that does not add up": "INSERT INTO ledger SELECT id + 1, at, 'fitted', drawer, lot, -1, 0, "
    "0, 17, 'x', 1, '', '', '', '', '', '', hash, '" + "0" * 64 + "' FROM ledger WHERE id = 3",
    "a device with rights that are none": "INSERT INTO device (name, token_hash, rights, made_at) "
    f"VALUES ('bench', '{'0' * 64}', 'all', '')",
    "a device with its token itself": "INSERT INTO device (name, token_hash, rights, made_at) "
    "VALUES ('bench', 'secret', 'book', '')",
}
ONLY = {
    "sqlite": {
        "a ledger row replaced": f"INSERT OR REPLACE INTO ledger VALUES (1, {ROW.format(4)})",
        "a lot replaced": "INSERT OR REPLACE INTO lot (id, drawer, part, measured, low_nm, high_nm) "
        "VALUES (1, 1, 'S-11', 0, 110000, 110000)",
        "a lot replaced by its name": "REPLACE INTO lot (drawer, part, measured, low_nm, high_nm) "
        "VALUES (1, 'S-10', 0, 100000, 100000)",
        "a promise replaced": "REPLACE INTO promise (request, lot, job, title, pieces, until, state, who, bench) "
        "VALUES ('first', 1, 'j', '', 1, '2099-01-01', 'held', '', '')",
        "a ledger row replaced by an update": "UPDATE OR REPLACE ledger SET id = 1 WHERE id = 2",
    },
    "postgresql": {
        "a ledger emptied": "TRUNCATE ledger",
        "all emptied": "TRUNCATE drawer CASCADE",
        "lots emptied": "TRUNCATE lot CASCADE",
        "promises emptied": "TRUNCATE promise",
        "a ledger row put over another": f"INSERT INTO ledger VALUES (1, {ROW.format(4)}) "
        "ON CONFLICT (id) DO UPDATE SET moved = 9",
    },
}
CASES = [(kind, statement) for kind in ONLY for statement in {**REFUSED, **ONLY[kind]}]
STATE = "SELECT id, on_hand, promised, on_order, part FROM lot ORDER BY id"


@pytest.fixture(scope="module")
def stores(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Store]:
    """The same for all that must change nothing, made once."""
    return cache(lambda kind: with_holds(kind, tmp_path_factory.mktemp("stock")))


@pytest.mark.parametrize(("kind", "what"), CASES)
def test_the_database_refuses(stores: Callable[[str], Store], kind: str, what: str) -> None:
    store = stores(kind)
    statement = {**REFUSED, **ONLY[store.dialect]}[what]
    before = rows(store, STATE), rows(store, "SELECT * FROM ledger"), rows(store, "SELECT * FROM promise")
    with pytest.raises(BrokenRuleError), store.writing() as within:
        within.run(statement)
    assert before == (rows(store, STATE), rows(store, "SELECT * FROM ledger"), rows(store, "SELECT * FROM promise"))


def test_counts_follow_ledger_and_promises_by_themselves(store: Store) -> None:
    assert rows(store, STATE) == [(1, 4, 2, 0, "S-10"), (2, 1, 0, 0, "S-30")]
    given = Asking().given()
    with store.writing() as within:
        append(within, [Entry("ordered", 1, 1, due=10), Entry("scrapped", 1, 1, moved=-1)], given)
    assert rows(store, STATE)[0] == (1, 3, 2, 10, "S-10")
    with store.writing() as within:
        within.run("UPDATE promise SET state = 'freed'")
    assert rows(store, STATE)[0] == (1, 3, 0, 10, "S-10")
    with pytest.raises(BrokenRuleError), store.writing() as within:
        within.run("UPDATE promise SET state = 'held'")


def test_a_singly_measured_piece_is_there_once_at_most(store: Store) -> None:
    with pytest.raises(BrokenRuleError, match="lot_single"), store.writing() as within:
        append(within, [Entry("came", 1, 2, moved=1)], Asking().given())
    assert rows(store, STATE)[1] == (2, 1, 0, 0, "S-30")


def test_the_same_request_twice_is_refused_where_nobody_asked_first(store: Store) -> None:
    given = Asking().given("again")
    with store.writing() as within:
        append(within, [Entry("scrapped", 1, 1, moved=-1)], given)
    with pytest.raises(BrokenRuleError), store.writing() as within:
        append(within, [Entry("scrapped", 1, 1, moved=-1)], given)
    assert rows(store, STATE)[0][1] == 3


@pytest.mark.parametrize(
    ("break_it", "told"),
    [
        (["DROP TRIGGER ledger_not_changed", "UPDATE ledger SET who = 'nobody' WHERE id = 2"], ["ledger row 2"]),
        (["DROP TRIGGER ledger_not_deleted", "DELETE FROM ledger WHERE id = 2"], ["row 2 is missing", "S-30"]),
        (
            ["DROP TRIGGER lot_counts_as_the_ledger", "UPDATE lot SET on_hand = 5 WHERE id = 1"],
            ["S-10: 5 on hand, 2 held, 0 on order, by the ledger 4 on hand, 2 held, 0 on order"],
        ),
        (
            ["DROP TRIGGER lot_promised_as_promises", "UPDATE lot SET promised = 1 WHERE id = 1"],
            ["S-10: 4 on hand, 1 held", "its promises say 2"],
        ),
    ],
)
def test_check_finds_what_was_changed_behind_its_back(store: Store, break_it: list[str], told: list[str]) -> None:
    with store.writing() as within:
        assert list(wrong_in(within)) == []
        drop, then = break_it
        # PostgreSQL wants to know of which table
        within.run(drop if store.dialect == "sqlite" else f"{drop} ON {drop.split()[-1].split('_')[0]}")
        within.run(then)
        found = "\n".join(wrong_in(within))
    for words in told:
        assert words in found
