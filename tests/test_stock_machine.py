"""All steps of a piece's life in any order, against a dictionary kept by hand."""

from __future__ import annotations

import os
import tempfile
from collections import Counter
from datetime import date, timedelta
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from shimopt.errors import InputError
from shimopt.parts.drawer import Change, FittedPiece
from shimopt.stock.checking import wrong_in
from shimopt.stock.holding import PiecesGoneError, free, hold
from shimopt.stock.ledger import Entry, Given, append
from shimopt.stock.people import Asking
from shimopt.stock.promises import released
from shimopt.stock.sqlite_store import SqliteStore
from shimopt.stock.stock_drawer import StockDrawer
from shimopt.stock.store import BrokenRuleError
from tests.stocks import filled, shim

LOTS = ("S-10", "S-20", "S-30")
jobs, lots, few = st.sampled_from("abc"), st.sampled_from(LOTS), st.integers(1, 4)
plans = st.dictionaries(lots, few, min_size=1)
_names = count()
EXAMPLES = int(os.environ.get("SHIMOPT_LIVES", "8"))


class Life(RuleBasedStateMachine):
    """`there`, `held` by job with its last day, and `due` are the slow obvious stock."""

    store: SqliteStore

    @initialize(begins=st.tuples(few, few, few))
    def begin(self, begins: tuple[int, int, int]) -> None:
        self.drawer = f"drawer {next(_names)}"
        lines = [shim(name, n / 10, on_hand) for n, (name, on_hand) in enumerate(zip(LOTS, begins, strict=True), 1)]
        self.number = filled(self.store, *lines, drawer=self.drawer)
        self.there = Counter(dict(zip(LOTS, begins, strict=True)))
        self.held: dict[str, tuple[dict[str, int], str]] = {}
        self.due = Counter[str]()
        self.id = {lot.part.name: lot.id for lot in self.seen_by("a").lots()}
        self.day, self.last = date(2090, 1, 1), Given("", "", "")

    def seen_by(self, job: str) -> StockDrawer:
        return StockDrawer(self.store, self.drawer, Asking(f"{self.drawer} {job}", job))

    def promised(self, but: str = "") -> Counter[str]:
        found = Counter[str]()
        for job, (pieces, _) in self.held.items():
            found.update(pieces if job != but else {})
        return found

    def given(self, job: str) -> Given:
        self.last = self.seen_by(job).asking.given()
        return self.last

    @rule(job=jobs, pieces=plans, days=st.integers(0, 5))
    def hold(self, job: str, pieces: dict[str, int], days: int) -> None:
        until, others = (self.day + timedelta(days)).isoformat(), self.promised(job)
        can = all(count <= self.there[name] - others[name] for name, count in pieces.items())
        asked: dict[str, Any] = {"pieces": {self.id[name]: count for name, count in pieces.items()}, "until": until}
        given = self.given(job)
        if not can:
            with pytest.raises(PiecesGoneError) as gone:
                hold(self.seen_by(job), given=given, **asked)
            short = {name for name, count in pieces.items() if count > self.there[name] - others[name]}
            assert {lacking.part.name for lacking in gone.value.lacking} == short
            return
        changed = hold(self.seen_by(job), given=given, **asked)
        assert changed == (self.held.get(job) != (pieces, until))
        self.held[job] = pieces, until
        # the same again, under the same id and under another
        assert not hold(self.seen_by(job), given=given, **asked)
        assert not hold(self.seen_by(job), given=self.given(job), **asked)

    @rule(job=jobs)
    def free(self, job: str) -> None:
        let_go = free(self.seen_by(job), self.given(job))
        assert -sum(entry.held for entry in let_go) == sum(self.held.pop(job, ({}, ""))[0].values())

    @rule(job=jobs, into=st.dictionaries(lots, few), out=st.dictionaries(lots, few))
    def record(self, job: str, into: dict[str, int], out: dict[str, int]) -> None:
        drawer, others = self.seen_by(job), self.promised(job)
        parts = {lot.part.name: FittedPiece.of(lot.part) for lot in drawer.lots()}
        changes = [Change(parts[name], count) for name, count in out.items()]
        changes += [Change(parts[name], -count) for name, count in into.items()]
        can = all(count <= self.there[name] + out.get(name, 0) - others[name] for name, count in into.items())
        version, record = drawer.version(), f"{job}{next(_names)}"
        if not can:
            with pytest.raises(InputError, match=r"does not hold so many|is held for"):
                drawer.move(changes, version, record)
            return
        drawer.move(changes, version, record)
        self.there.update(out)
        self.there.subtract(into)
        # what was held and did not go in is free
        self.held.pop(job, None)
        assert drawer.move(changes, version, record).changes == ()

    @rule(days=st.integers(1, 4))
    def days_pass(self, days: int) -> None:
        self.day += timedelta(days)
        with self.store.writing() as within:
            released(within, self.day.isoformat(), "", "")
        self.held = {job: held for job, held in self.held.items() if held[1] >= self.day.isoformat()}

    @rule(name=lots, pieces=few, kind=st.sampled_from(["scrapped", "ordered", "arrived"]))
    def book(self, name: str, pieces: int, kind: str) -> None:
        moved = {"scrapped": -pieces, "arrived": pieces}.get(kind, 0)
        due = {"ordered": pieces, "arrived": -pieces}.get(kind, 0)
        entry = Entry(kind, self.number, self.id[name], moved=moved, due=due)
        can = self.there[name] + moved >= self.promised()[name] and self.due[name] + due >= 0
        given = self.given("a")
        if not can:
            with pytest.raises(BrokenRuleError), self.store.writing() as within:
                append(within, [entry], given)
            return
        with self.store.writing() as within:
            append(within, [entry], given)
        self.there[name] += moved
        self.due[name] += due

    @precondition(lambda self: self.last.request)
    @rule(name=lots)
    def an_id_is_used_again_for_something_else(self, name: str) -> None:
        if self.known():
            assert not hold(self.seen_by("b"), {self.id[name]: 10**6}, "2090-01-01", self.last)

    def known(self) -> bool:
        with self.store.reading() as within:
            return bool(within.rows("SELECT 1 FROM ledger WHERE request = ?", self.last.request))

    @invariant()
    def the_counts_are_those_kept_by_hand(self) -> None:
        if not hasattr(self, "drawer"):
            return
        promised = self.promised()
        lots = self.seen_by("b").lots()
        assert {lot.part.name: (lot.on_hand, lot.promised, lot.on_order) for lot in lots} == {
            name: (self.there[name], promised[name], self.due[name]) for name in LOTS
        }
        others = self.promised("b")
        assert {lot.part.name: lot.free for lot in lots} == {name: self.there[name] - others[name] for name in LOTS}

    def teardown(self) -> None:
        with self.store.reading() as within:
            assert list(wrong_in(within)) == []


def test_every_step_in_any_order() -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = SqliteStore(Path(folder) / "stock.db", create=True)

        class Here(Life):
            pass

        Here.store = store
        how = settings(
            max_examples=EXAMPLES, stateful_step_count=12, deadline=None, suppress_health_check=list(HealthCheck)
        )
        run_state_machine_as_test(Here, settings=how)
        store.close()
