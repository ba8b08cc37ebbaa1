"""What the database itself refuses, and what it does by itself, whoever writes to it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from shimopt.errors import InputError
from shimopt.stock.checking import wrong_in
from shimopt.stock.ledger import COLUMNS, Entry, append, hash_of
from shimopt.stock.people import Asking
from shimopt.stock.promises import ended as ends
from shimopt.stock.promises import made
from shimopt.stock.store import BrokenRuleError, Store
from tests.stocks import MAKERS, shim


def ledger_row(**others: str) -> str:
    """A row that would be taken, but for the cells that are given."""
    cells = {
        "id": "(SELECT MAX(id) + 1 FROM ledger)",
        "at": "(SELECT MAX(at) FROM ledger)",
        "kind": "'fitted'",
        "drawer": "1",
        "lot": "1",
        "moved": "0",
        "held": "0",
        "due": "0",
        "on_hand": "4",
        "on_order": "0",
        "lot_is": "''",
        "request": "'x'",
        "step": "1",
        **dict.fromkeys(("job", "title", "who", "bench", "why", "detail"), "''"),
        "previous": "(SELECT hash FROM ledger ORDER BY id DESC LIMIT 1)",
        "hash": f"'{'0' * 64}'",
    } | others
    return f"INTO ledger ({', '.join(cells)}) VALUES ({', '.join(cells.values())})"


def promise(**others: str) -> str:
    """A promise that would be taken, but for the cells that are given."""
    cells = {
        "request": "'r'",
        "lot": "1",
        "job": "'j'",
        "title": "''",
        "place": "''",
        "pieces": "2",
        "until": "'2099-01-01'",
        "state": "'held'",
        "who": "''",
        "bench": "''",
    } | others
    return f"INTO promise ({', '.join(cells)}) VALUES ({', '.join(cells.values())})"


def lot(**others: str) -> str:
    """A lot that would be taken, but for the cells that are given."""
    cells = {"drawer": "1", "part": "'S-1'", "measured": "0", "low_nm": "10000", "high_nm": "10000"} | others
    return f"INTO lot ({', '.join(cells)}) VALUES ({', '.join(cells.values())})"


@pytest.fixture(params=MAKERS)
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Store:
    """One stock for each test."""
    return with_holds(request.param, tmp_path)


def with_holds(kind: str, folder: Path) -> Store:
    """Four of S-10, of which two are held for the mill; the measured S-30 [t7], and what it was before."""
    store = MAKERS[kind](folder, shim("S-10", 0.1, 4), shim("S-30", 0.302, 1, "t7"), shim("S-30", 0.31, 0, "t7"))
    with store.writing() as within:
        made(within, 1, {1: 2}, "2099-01-01", Asking("mill", "Mill").given("first"))
        within.run(f"INSERT INTO device (name, token_hash, rights, made_at) VALUES ('b', '{'1' * 64}', 'hold', '')")
        append(within, [Entry("came", 1, 2, detail={"spots": "302000"}), Entry("counted", 1, 1)], Asking().given("s"))
        within.run(
            "INSERT INTO measurement (lot, at, who, low_nm, high_nm, spots) "
            "SELECT 2, at, who, 302000, 302000, '302000' FROM ledger WHERE kind = 'came'"
        )
        within.run(
            "INSERT INTO stocktake (drawer, at, who, why, request) SELECT 1, at, who, 'stocktake', 's' FROM ledger "
            "WHERE kind = 'counted'"
        )
    return store


def rows(store: Store, sql: str) -> list[tuple[object, ...]]:
    with store.reading() as within:
        return within.rows(sql)


# each statement is one that a bug, a script or a person at a database prompt could send, with the rule that refuses it
REFUSED = {
    "more held than is on hand": (f"INSERT {promise(pieces='3')}", "lot_promised"),
    "held of nothing": (f"INSERT {promise(pieces='0')}", "promise_of_some"),
    "the same request for the same lot": (f"INSERT {promise(request=repr('first'))}", "promise_is_new|promise_once"),
    "held for no job": (f"INSERT {promise(job=repr(''))}", "promise_is_to_a_job"),
    "held under no id": (f"INSERT {promise(request=repr(''))}", "promise_is_asked"),
    "held of a lot that is not there": (f"INSERT {promise(lot='99')}", "lot_promised|FOREIGN KEY|promise_lot_fkey"),
    "held for ever": (f"INSERT {promise(until=repr('9999-12-31'))}", "promise_until"),
    "held until soon": (f"INSERT {promise(until=repr('soon'))}", "promise_until"),
    "held half": (f"INSERT {promise(pieces=repr('some'))}", "promise.pieces|integer"),
    "a state that is none": ("UPDATE promise SET state = 'lost' WHERE id = 1", "promise_state"),
    "a promise of more": ("UPDATE promise SET pieces = 3 WHERE id = 1", "promise_ends_once"),
    "a promise to another": ("UPDATE promise SET job = 'quarry' WHERE id = 1", "promise_ends_once"),
    "a promise from elsewhere": ("UPDATE promise SET place = 'b', state = 'freed' WHERE id = 1", "promise_ends_once"),
    "a promise taken away": ("DELETE FROM promise WHERE id = 1", "promise_not_deleted"),
    "a count that no ledger knows": ("UPDATE lot SET on_hand = 5 WHERE id = 1", "lot_counts_as_the_ledger"),
    "fewer than none": ("UPDATE lot SET on_hand = -1 WHERE id = 1", "lot_counts_as_the_ledger"),
    "fewer than are held": (f"INSERT {ledger_row(moved='-3', on_hand='1')}", "lot_promised"),
    "on order what no ledger knows": ("UPDATE lot SET on_order = 7 WHERE id = 1", "lot_counts_as_the_ledger"),
    "fewer than none on order": (f"INSERT {ledger_row(due='-1', on_order='-1')}", "lot_on_order"),
    "more than a table may say": (f"INSERT {ledger_row(moved='999997', on_hand='1000001')}", "lot_on_hand"),
    "more on order than that": (f"INSERT {ledger_row(due='1000001', on_order='1000001')}", "lot_on_order"),
    "held without a promise": ("UPDATE lot SET promised = 3 WHERE id = 1", "lot_promised_as_promises"),
    "no longer held by a count": ("UPDATE lot SET promised = 0 WHERE id = 1", "lot_promised_as_promises"),
    "a lot made thicker": ("UPDATE lot SET high_nm = 200000 WHERE id = 1", "lot_stays_what_it_is"),
    "a lot called otherwise": ("UPDATE lot SET part = 'S-20' WHERE id = 1", "lot_stays_what_it_is"),
    "a lot marked otherwise": ("UPDATE lot SET marked_nm = 1 WHERE id = 1", "lot_stays_what_it_is"),
    "a lot no longer single": ("UPDATE lot SET single = 0 WHERE id = 2", "lot_stays_what_it_is"),
    "a lot of another number": ("UPDATE lot SET id = 9 WHERE id = 3", "lot_stays_what_it_is"),
    "a bore that no ledger knows": (
        "UPDATE lot SET inner_low_nm = 5, inner_high_nm = 6 WHERE id = 1",
        "lot_is_as_the_ledger",
    ),
    "a chamfer that no ledger knows": ("UPDATE lot SET edge_nm = 5 WHERE id = 1", "lot_is_as_the_ledger"),
    "another steel": ("UPDATE lot SET material = 'brass' WHERE id = 1", "lot_is_as_the_ledger"),
    "moved to another tin": ("UPDATE lot SET lies_at = 'tin 9' WHERE id = 1", "lot_is_as_the_ledger"),
    "a lot thrown away": ("DELETE FROM lot WHERE id = 3", "lot_not_deleted"),
    "a lot that begins with pieces": (f"INSERT {lot(on_hand='7')}", "lot_begins_empty"),
    "a lot that begins on order": (f"INSERT {lot(on_order='7')}", "lot_begins_empty"),
    "a lot twice": (
        f"INSERT {lot(part=repr('S-10'), low_nm='100000', high_nm='100000')}",
        "lot_begins_empty|lot_is_one",
    ),
    "a lot of no thickness": (f"INSERT {lot(low_nm='0')}", "lot_thickness"),
    "a lot thicker below than above": (f"INSERT {lot(high_nm='9999')}", "lot_thickness"),
    "a lot of half a nanometre": (f"INSERT {lot(low_nm=repr('9999.5'))}", "lot.low_nm|bigint"),
    "a lot of a thickness in words": (f"INSERT {lot(high_nm=repr('a'))}", "lot.high_nm|bigint"),
    "a bore with one end": (f"INSERT {lot(inner_low_nm='5')}", "lot_inner"),
    "a bore smaller than itself": (f"INSERT {lot(inner_low_nm='5', inner_high_nm='4')}", "lot_inner"),
    "an outside smaller than itself": (f"INSERT {lot(outer_low_nm='5', outer_high_nm='4')}", "lot_outer"),
    "a chamfer below nothing": (f"INSERT {lot(edge_nm='-1')}", "lot_edge"),
    "a lot of no name": (f"INSERT {lot(part=repr(''))}", "lot_is_named"),
    "a lot in no drawer": (f"INSERT {lot(drawer='9')}", "FOREIGN KEY|lot_drawer_fkey"),
    "one tagged piece twice": (f"INSERT {ledger_row(lot='3', moved='1', on_hand='1')}", "lot_of_a_tag"),
    "a single piece twice": (f"INSERT {ledger_row(lot='2', moved='1', on_hand='2')}", "lot_single"),
    "a drawer called otherwise": ("UPDATE drawer SET name = 'mian' WHERE id = 1", "drawer_not_changed"),
    "a drawer thrown away": ("DELETE FROM drawer WHERE id = 1", "drawer_not_deleted"),
    "a drawer twice": ("INSERT INTO drawer (name) VALUES ('main')", "drawer_is_new|drawer_is_one"),
    "a ledger row changed": ("UPDATE ledger SET moved = 9 WHERE id = 1", "ledger_not_changed"),
    "a ledger row deleted": ("DELETE FROM ledger WHERE id = 1", "ledger_not_deleted"),
    "a ledger row with a gap before it": (f"INSERT {ledger_row(id='9')}", "ledger_only_grows"),
    "a ledger row over another": (f"INSERT {ledger_row(id='1')}", "ledger_only_grows"),
    "a ledger row that follows no other": (f"INSERT {ledger_row(previous=repr('P'))}", "ledger_only_grows"),
    "a ledger row older than the last": (
        f"INSERT {ledger_row(at=repr('2020-01-01T00:00:00+00:00'))}",
        "ledger_only_grows",
    ),
    "a moment that has not come": (f"INSERT {ledger_row(at=repr('2098-01-01T00:00:00+00:00'))}", "ledger_not_ahead"),
    "a moment that is none": (f"INSERT {ledger_row(at=repr('9999'))}", "ledger_at|ledger_not_ahead|timestamp"),
    "a kind that is none": (f"INSERT {ledger_row(kind=repr('lost'))}", "ledger_kind"),
    "a row of no lot that moves pieces": (f"INSERT {ledger_row(lot='NULL', moved='50')}", "ledger_of_a_lot"),
    "a row of a lot of another drawer": (f"INSERT {ledger_row(drawer='2')}", "ledger_counts|FOREIGN KEY|drawer_fkey"),
    "a count in the ledger that does not add up": (f"INSERT {ledger_row(on_hand='17')}", "ledger_counts"),
    "an order in the ledger that does not add up": (f"INSERT {ledger_row(on_order='1')}", "ledger_counts"),
    "what a lot is, unreadable": (f"INSERT {ledger_row(lot_is=repr('{oops'))}", "ledger_lot_is|json"),
    "a hash that is none": (f"INSERT {ledger_row(hash=repr('0'))}", "ledger_hash"),
    "a stocktake changed": ("UPDATE stocktake SET who = 'nobody'", "stocktake_not_changed"),
    "a stocktake deleted": ("DELETE FROM stocktake", "stocktake_not_deleted"),
    "a measurement changed": ("UPDATE measurement SET spots = '1'", "measurement_not_changed"),
    "a measurement deleted": ("DELETE FROM measurement", "measurement_not_deleted"),
    "a device with rights that are none": (
        f"INSERT INTO device (name, token_hash, rights, made_at) VALUES ('bench', '{'0' * 64}', 'all', '')",
        "device_rights",
    ),
    "a device with its token itself": (
        "INSERT INTO device (name, token_hash, rights, made_at) VALUES ('bench', 'secret', 'book', '')",
        "device_token",
    ),
}
ONLY = {
    "sqlite": {
        "a ledger row replaced": (f"INSERT OR REPLACE {ledger_row(id='1')}", "ledger_only_grows"),
        "a lot replaced": (f"REPLACE {lot(id='1')}", "lot_begins_empty"),
        "a lot replaced by its name": (
            f"REPLACE {lot(part=repr('S-10'), low_nm='100000', high_nm='100000')}",
            "lot_begins_empty",
        ),
        "a promise replaced": (f"REPLACE {promise(request=repr('first'))}", "promise_is_new"),
        "a drawer replaced": ("REPLACE INTO drawer (id, name) VALUES (1, 'mian')", "drawer_is_new"),
        "a stocktake replaced": (
            "REPLACE INTO stocktake (drawer, at, who, why, request) VALUES (1, '', '', 'w', 's')",
            "stocktake_is_new",
        ),
        "a ledger row replaced by an update": (
            "UPDATE OR REPLACE ledger SET id = 1 WHERE id = 2",
            "ledger_not_changed",
        ),
        # what the statement says of conflicts reaches into the triggers
        "more held than is on hand, ignored": (f"INSERT OR IGNORE {promise(pieces='3')}", "lot_promised"),
        "fewer than are held, ignored": (
            f"INSERT OR IGNORE {ledger_row(moved='-3', on_hand='1')}",
            "ledger_counts",
        ),
        "one tagged piece in place of the other": (
            f"REPLACE {ledger_row(lot='3', moved='1', on_hand='1')}",
            "lot_of_a_tag",
        ),
    },
    "postgresql": {
        "a ledger emptied": ("TRUNCATE ledger", "ledger_not_emptied"),
        "all emptied": ("TRUNCATE drawer CASCADE", "_not_emptied"),
        "lots emptied": ("TRUNCATE lot CASCADE", "_not_emptied"),
        "promises emptied": ("TRUNCATE promise", "promise_not_emptied"),
        "stocktakes emptied": ("TRUNCATE stocktake", "stocktake_not_emptied"),
        "measurements emptied": ("TRUNCATE measurement", "measurement_not_emptied"),
        "a ledger row put over another": (
            f"INSERT {ledger_row(id='1')} ON CONFLICT (id) DO UPDATE SET moved = 9",
            "ledger_only_grows",
        ),
    },
}
CASES = [(kind, statement) for kind in ONLY for statement in {**REFUSED, **ONLY[kind]}]
TABLES = ("lot", "ledger", "promise", "drawer", "stocktake", "measurement")
STATE = "SELECT id, on_hand, promised, on_order, part FROM lot ORDER BY id"


@pytest.fixture(scope="module")
def stores(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Store]:
    """The same for all that must change nothing, made once."""
    return cache(lambda kind: with_holds(kind, tmp_path_factory.mktemp("stock")))


@pytest.mark.parametrize(("kind", "what"), CASES)
def test_the_database_refuses(stores: Callable[[str], Store], kind: str, what: str) -> None:
    store = stores(kind)
    statement, rule = {**REFUSED, **ONLY[store.dialect]}[what]
    before = [rows(store, f"SELECT * FROM {table}") for table in TABLES]
    with pytest.raises(BrokenRuleError, match=rule), store.writing() as within:
        within.run(statement)
    assert before == [rows(store, f"SELECT * FROM {table}") for table in TABLES]


@pytest.mark.parametrize("kind", MAKERS)
@pytest.mark.parametrize("row", [ledger_row(), promise(), lot(), ledger_row(lot="NULL", on_hand="0")])
def test_what_is_refused_is_refused_for_the_one_cell(stores: Callable[[str], Store], kind: str, row: str) -> None:
    """With none of its cells made wrong each row is taken."""

    def take_and_undo() -> None:
        with stores(kind).writing() as within:
            assert within.rows(f"INSERT {row} RETURNING 1") == [(1,)]
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        take_and_undo()


@pytest.mark.parametrize("cell", [10**30, 2**70, "\ud800", "a\0b"])
def test_what_no_column_takes_is_told_and_is_no_fault_of_our_own(store: Store, cell: object) -> None:
    with pytest.raises(InputError, match="nothing was booked"), store.writing() as within:
        within.run("UPDATE lot SET on_hand = ? WHERE id = 1", cell)


def test_counts_follow_ledger_and_promises_by_themselves(store: Store) -> None:
    assert rows(store, STATE) == [(1, 4, 2, 0, "S-10"), (2, 1, 0, 0, "S-30"), (3, 0, 0, 0, "S-30")]
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


BROKEN = {
    "ledger_not_changed": ("UPDATE ledger SET who = 'nobody' WHERE id = 2", "ledger row 2 was changed"),
    "ledger_not_deleted": ("DELETE FROM ledger WHERE id = 2", "ledger row 2 is missing"),
    "lot_counts_as_the_ledger": (
        "UPDATE lot SET on_order = 5 WHERE id = 1",
        "S-10: 4 on hand, 2 held, 5 on order, by the ledger 4 on hand, 2 held, 0 on order",
    ),
    "lot_promised_as_promises": ("UPDATE lot SET promised = 1 WHERE id = 1", "S-10: 1 held, its promises say 2"),
    "lot_stays_what_it_is": (
        "UPDATE lot SET low_nm = 9 WHERE id = 1",
        "S-10: its size or what else is known of it is not what the ledger says",
    ),
    "lot_is_as_the_ledger": (
        "UPDATE lot SET inner_low_nm = 5, inner_high_nm = 6 WHERE id = 2",
        "S-30 [t7]: its size or what else is known of it is not what the ledger says",
    ),
    "promise_ends_once": (
        "UPDATE promise SET pieces = 1, state = 'freed'",
        "the promise first of lot 1 is not what the ledger says",
    ),
    "stocktake_not_changed": (
        "UPDATE stocktake SET request = 'never'",
        "the stocktake 1 (never) is not what the ledger says",
    ),
    "measurement_not_changed": (
        "UPDATE measurement SET low_nm = 1",
        "the measurement 1 of S-30 is not what the ledger says",
    ),
    "drawer_not_changed": ("UPDATE drawer SET name = 'mian'", "drawer 1 is called mian, by the ledger main"),
}


@pytest.mark.parametrize("rule", BROKEN)
def test_check_finds_what_was_changed_behind_its_back(store: Store, rule: str) -> None:
    """And that the trigger is gone which would have refused it."""
    then, told = BROKEN[rule]
    with store.writing() as within:
        assert list(wrong_in(within)) == []
        # PostgreSQL wants to know of which table
        within.run(f"DROP TRIGGER {rule}" + ("" if store.dialect == "sqlite" else f" ON {rule.split('_')[0]}"))
        within.run(then)
        found = list(wrong_in(within))
    assert [words for words in found if words.startswith(told)], found
    assert f"the trigger {rule} is gone: somebody took it out of the database" in found


_COUNTED = "the stocktake 1 (s) is not what the ledger says"
_MEASURED = "the measurement 1 of S-30 is not what the ledger says"
_TO_WHOM = "the promise first of lot 1 is not what the ledger says"
# what was done once a trigger was gone, and what check says of it
SPOILT_ROWS = {
    "a lot in another drawer": (
        "lot_stays_what_it_is",
        ["INSERT INTO drawer (name) VALUES ('other')", "UPDATE lot SET drawer = 2 WHERE id = 1"],
        "lot 1 is in drawer 2, by the ledger in drawer 1",
    ),
    "a lot deleted": ("lot_not_deleted", ["DELETE FROM lot WHERE id = 1"], "lot 1, of which the ledger knows, is gone"),
    "held for another job": ("promise_ends_once", ["UPDATE promise SET job = 'x'"], _TO_WHOM),
    "held for another title": ("promise_ends_once", ["UPDATE promise SET title = 'x'"], _TO_WHOM),
    "held by another": ("promise_ends_once", ["UPDATE promise SET who = 'x'"], _TO_WHOM),
    "held at another bench": ("promise_ends_once", ["UPDATE promise SET bench = 'x'"], _TO_WHOM),
    "held from elsewhere": ("promise_ends_once", ["UPDATE promise SET place = 'b:/job'"], _TO_WHOM),
    "held for longer": ("promise_ends_once", ["UPDATE promise SET until = '2099-12-31'"], _TO_WHOM),
    "said to be fitted": (
        "promise_ends_once",
        ["UPDATE promise SET state = 'fitted'", "UPDATE lot SET promised = 0 WHERE id = 1"],
        "the promise first of lot 1 is fitted, and the ledger does not say so",
    ),
    "a promise deleted": (
        "promise_not_deleted",
        ["DELETE FROM promise"],
        "the promise first of lot 1, of which the ledger knows, is gone",
    ),
    "a lot put in": ("lot_begins_empty", [f"INSERT {lot()}"], "S-1: the ledger knows nothing of it"),
    "counted by another": ("stocktake_not_changed", ["UPDATE stocktake SET who = 'x'"], _COUNTED),
    "counted for another reason": ("stocktake_not_changed", ["UPDATE stocktake SET why = 'x'"], _COUNTED),
    "measured by another": ("measurement_not_changed", ["UPDATE measurement SET who = 'x'"], _MEASURED),
    "measured at more spots": ("measurement_not_changed", ["UPDATE measurement SET spots = '1 2'"], _MEASURED),
    "another lot measured": ("measurement_not_changed", ["UPDATE measurement SET lot = 3"], _MEASURED),
    "measured twice": (
        "measurement_not_changed",
        [
            "INSERT INTO measurement (lot, at, who, low_nm, high_nm, spots) "
            "SELECT lot, at, who, low_nm, high_nm, spots FROM measurement"
        ],
        "the measurement 2 of S-30 is not what the ledger says",
    ),
    "a measurement deleted": (
        "measurement_not_deleted",
        ["DELETE FROM measurement"],
        "the measurement of lot 2 at {at}, of which the ledger knows, is gone",
    ),
    "a drawer deleted": (
        "drawer_not_deleted",
        ["DELETE FROM drawer"],
        "drawer 1 is called nothing, by the ledger main",
    ),
    "a stocktake deleted": (
        "stocktake_not_deleted",
        ["DELETE FROM stocktake"],
        "the stocktake of s, of which the ledger knows, is gone",
    ),
}


class TakenBackError(Exception):
    """Nothing is kept of what was spoilt; its text is what check said of it."""


@pytest.mark.parametrize("what", SPOILT_ROWS)
def test_check_finds_what_is_gone_or_somebody_elses(store: Store, what: str) -> None:
    rule, statements, told = SPOILT_ROWS[what]
    with pytest.raises(TakenBackError) as found:
        spoil(store, rule, statements)
    assert told.format(at=rows(store, "SELECT at FROM measurement")[0][0]) in found.value.args


@pytest.mark.parametrize(("ended", "other"), [("freed", "fitted"), ("fitted", "released"), ("released", "freed")])
def test_check_finds_a_promise_that_ended_otherwise_than_the_ledger_says(store: Store, ended: str, other: str) -> None:
    with store.writing() as within:
        entries = ends(within, 1, ended, Asking("mill", "Mill").given())
        append(within, entries, Asking("mill", "Mill").given())
    off = ["DROP TRIGGER promise_ended"] if store.dialect == "sqlite" else []
    with pytest.raises(TakenBackError) as found:
        spoil(store, "promise_ends_once", [*off, f"UPDATE promise SET state = '{other}'"])
    assert f"the promise first of lot 1 is {other}, and the ledger does not say so" in found.value.args


def spoil(store: Store, rule: str, statements: list[str]) -> None:
    with store.writing() as within:
        assert list(wrong_in(within)) == []
        if store.dialect == "sqlite":
            within.run(f"DROP TRIGGER {rule}")
            within.run("PRAGMA defer_foreign_keys = ON")
        else:
            within.run(f"ALTER TABLE {rule.split('_')[0]} DISABLE TRIGGER USER")
            keys = ("ledger_lot", "promise_lot", "measurement_lot", "ledger_drawer", "lot_drawer", "stocktake_drawer")
            for key in keys:
                within.run(f"ALTER TABLE {key.split('_')[0]} DROP CONSTRAINT {key}_fkey")
        for statement in statements:
            within.run(statement)
        raise TakenBackError(*wrong_in(within))


SPOILT = {
    "sqlite": {
        "DROP INDEX lot_of_a_tag;": "the index lot_of_a_tag is gone",
        "PRAGMA writable_schema = ON;\nUPDATE sqlite_master SET sql = replace(sql, ' AND promised <= on_hand', '') "
        "WHERE name = 'lot';\nPRAGMA writable_schema = OFF;": "the table lot is not what it was made as",
        "PRAGMA writable_schema = ON;\nUPDATE sqlite_master SET sql = replace(sql, 'NOT NULL REFERENCES lot (id)', "
        "'NOT NULL') WHERE name = 'promise';\nPRAGMA writable_schema = OFF;": (
            "the table promise is not what it was made as"
        ),
        "PRAGMA writable_schema = ON;\nUPDATE sqlite_master SET sql = replace(sql, 'on_hand INTEGER NOT NULL', "
        "'on_hand INTEGER') WHERE name = 'lot';\nPRAGMA writable_schema = OFF;": (
            "the table lot is not what it was made as"
        ),
        "DROP TRIGGER lot_not_deleted;\nCREATE TRIGGER lot_not_deleted BEFORE DELETE ON lot BEGIN SELECT 1; END;": (
            "the trigger lot_not_deleted is not what it was made as"
        ),
    },
    "postgresql": {
        "DROP TRIGGER lot_not_deleted ON lot;\nCREATE TRIGGER lot_not_deleted BEFORE UPDATE ON lot FOR EACH ROW "
        "EXECUTE FUNCTION refuse();": "the trigger lot_not_deleted is not what it was made as",
        "DROP TRIGGER promise_ends_once ON promise;\nCREATE TRIGGER promise_ends_once BEFORE UPDATE ON promise FOR "
        "EACH ROW WHEN (false) EXECUTE FUNCTION refuse();": "the trigger promise_ends_once is not what it was made as",
        "ALTER TABLE lot DROP CONSTRAINT lot_promised, ADD CONSTRAINT lot_promised CHECK (true);": (
            "the constraint lot_promised is not what it was made as"
        ),
        "ALTER TABLE lot DROP CONSTRAINT lot_promised, ADD CONSTRAINT lot_promised CHECK (0 <= promised);": (
            "the constraint lot_promised is not what it was made as"
        ),
        "DROP INDEX lot_of_a_tag;\nCREATE INDEX lot_of_a_tag ON lot (drawer, part, piece);": (
            "the index lot_of_a_tag is not what it was made as"
        ),
        "ALTER TABLE ledger DROP CONSTRAINT ledger_lot_fkey;": "the constraint ledger_lot_fkey is gone",
        "ALTER TABLE ledger DROP CONSTRAINT ledger_lot_fkey, ADD CONSTRAINT ledger_lot_fkey FOREIGN KEY (lot) "
        "REFERENCES lot (id) ON DELETE CASCADE;": "the constraint ledger_lot_fkey is not what it was made as",
        "ALTER TABLE ledger DROP CONSTRAINT ledger_lot_fkey, ADD CONSTRAINT ledger_lot_fkey FOREIGN KEY (drawer) "
        "REFERENCES drawer (id);": "the constraint ledger_lot_fkey is not what it was made as",
        "ALTER TABLE promise DROP CONSTRAINT promise_pkey;": "the constraint promise_pkey is gone",
        "ALTER TABLE lot DISABLE TRIGGER lot_not_deleted;": "the trigger lot_not_deleted is gone",
        "ALTER TABLE lot DROP CONSTRAINT lot_promised;": "the constraint lot_promised is gone",
        "DROP INDEX lot_of_a_tag;": "the index lot_of_a_tag is gone",
        "CREATE OR REPLACE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END';": (
            "the function refuse is not what it was made as"
        ),
    },
}


@pytest.mark.parametrize(("kind", "spoil"), [(kind, spoil) for kind in SPOILT for spoil in SPOILT[kind]])
def test_check_looks_whether_the_rules_themselves_are_all_there(tmp_path: Path, kind: str, spoil: str) -> None:
    store = with_holds(kind, tmp_path)
    with store.writing() as within:
        for statement in [spoil] if kind == "sqlite" else spoil.split(";\n"):
            within.script(f"{statement}\n")
        assert [words.split(":")[0] for words in wrong_in(within)] == [SPOILT[kind][spoil]]


def test_check_finds_a_row_that_follows_no_other_though_its_own_hash_is_right(store: Store) -> None:
    """As if somebody had taken a row out and made the next one anew: only the link tells."""
    with store.writing() as within:
        within.run("DROP TRIGGER ledger_only_grows" + ("" if store.dialect == "sqlite" else " ON ledger"))
        (last,) = within.rows(f"SELECT {', '.join(COLUMNS)} FROM ledger ORDER BY id DESC LIMIT 1")
        row = {**dict(zip(COLUMNS, last, strict=True)), "id": last[0] + 1, "request": "x", "previous": "0" * 64}
        cells = [row[column] for column in COLUMNS[:-1]]
        marks = ", ".join("?" * len(COLUMNS))
        within.run(f"INSERT INTO ledger ({', '.join(COLUMNS)}) VALUES ({marks})", *cells, hash_of(cells))
        assert f"ledger row {row['id']} was changed, or one before it" in list(wrong_in(within))
