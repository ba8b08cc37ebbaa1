"""All steps of a piece's life in any order, against a dictionary kept by hand."""

from __future__ import annotations

import os
import tempfile
from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from itertools import count
from pathlib import Path
from typing import Any, ClassVar, NamedTuple

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
from shimopt.parts.measured import MeasuredPiece
from shimopt.stock.bookings import booked
from shimopt.stock.checking import wrong_in
from shimopt.stock.dump import restored, saved_text
from shimopt.stock.holding import PiecesGoneError, free, hold
from shimopt.stock.ledger import Given
from shimopt.stock.people import Asking
from shimopt.stock.postgres_store import PostgresStore
from shimopt.stock.promises import released
from shimopt.stock.sqlite_store import SqliteStore
from shimopt.stock.stock_drawer import StockDrawer
from shimopt.stock.stock_sheet import Sheet
from shimopt.stock.stocktake import counted
from shimopt.stock.store import Store
from shimopt.stock.taking_in import book
from shimopt.stock.undoing import undone
from tests.postgres_server import new_database
from tests.stocks import shim

SIZES = {"S-10": 0.1, "S-20": 0.2, "S-30": 0.3}
jobs, lots, few = st.sampled_from("abc"), st.sampled_from(tuple(SIZES)), st.integers(1, 4)
plans, none_or_few = st.dictionaries(lots, few, min_size=1), st.integers(0, 5)
_names = count()
EXAMPLES = int(os.environ.get("SHIMOPT_LIVES", "6"))


class Booking(NamedTuple):
    """What a booking changed: on hand and on order by lot; the numbers that a table said, where it was one."""

    kind: str
    moved: Counter[str]
    due: Counter[str]
    said: dict[str, int]


class Life(RuleBasedStateMachine):
    """`there` and `due` by lot, and `held` by job with its last day, are the slow obvious stock."""

    stores: ClassVar[Callable[[], Store]]
    store: ClassVar[Store]

    @initialize(begins=st.tuples(few, few, few))
    def begin(self, begins: tuple[int, int, int]) -> None:
        self.drawer = f"drawer {next(_names)}"
        self.there, self.due = Counter[str](), Counter[str]()
        self.held: dict[str, tuple[dict[str, int], str]] = {}
        self.bookings, self.id = list[Booking](), dict[str, int]()
        self.day, self.last = date.today(), Given("", "", "")
        self.take_in(dict(zip(SIZES, begins, strict=True)))
        for lot in self.seen_by("a").lots():
            self.id[lot.part.name] = lot.id

    def seen_by(self, job: str) -> StockDrawer:
        return StockDrawer(self.store, self.drawer, self.asking(job))

    def asking(self, job: str) -> Asking:
        return Asking(f"{self.drawer} {job}", job)

    def promised(self, but: str = "") -> Counter[str]:
        found = Counter[str]()
        for job, (pieces, _) in self.held.items():
            found.update(pieces if job != but else {})
        return found

    def given(self, job: str) -> Given:
        self.last = self.asking(job).given()
        return self.last

    def book(
        self, kind: str, moved: Counter[str], due: Counter[str] | None = None, said: dict[str, int] | None = None
    ) -> None:
        """Keep by hand what was booked."""
        due = Counter() if due is None else due
        self.there.update(moved)
        self.due.update(due)
        self.bookings.append(Booking(kind, moved, due, said or {}))

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
        if changed:
            # the last one made
            self.held.pop(job, None)
        self.held[job] = dict(pieces), until
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
        parts = {lot.part.name: FittedPiece.of(lot.part) for lot in drawer.lots() if lot.part.piece is None}
        changes = [Change(parts[name], count) for name, count in out.items()]
        changes += [Change(parts[name], -count) for name, count in into.items()]
        can = all(count <= self.there[name] + out.get(name, 0) - others[name] for name, count in into.items())
        version, record = drawer.version(), f"{job}{next(_names)}"
        if not can:
            with pytest.raises(InputError, match=r"does not hold so many|is held for"):
                drawer.move(changes, version, record)
            return
        drawer.move(changes, version, record)
        if changes:
            self.book("record", Counter(out) + Counter(), None)
            self.there.subtract(into)
        # what was held and did not go in is free
        self.held.pop(job, None)
        assert drawer.move(changes, version, record).changes == ()

    @rule(days=st.integers(1, 4))
    def days_pass(self, days: int) -> None:
        self.day += timedelta(days)
        with self.store.writing() as within:
            released(within, self.day.isoformat(), "", "")
            assert released(within, self.day.isoformat(), "", "") == 0
        self.held = {job: held for job, held in self.held.items() if held[1] >= self.day.isoformat()}

    @rule(name=lots, pieces=few, kind=st.sampled_from(["scrapped", "ordered", "arrived", "called off"]))
    def book_by_name(self, name: str, pieces: int, kind: str) -> None:
        moved = {"scrapped": -pieces, "arrived": pieces}.get(kind, 0)
        due = {"ordered": pieces, "arrived": -min(pieces, self.due[name]), "called off": -pieces}.get(kind, 0)
        can = self.there[name] + moved >= self.promised()[name] and self.due[name] + due >= 0
        text = [f"{name}={due if kind == 'called off' else pieces}"]
        asked = self.store, self.drawer, "ordered" if kind == "called off" else kind, text, self.given("a"), {}
        if not can:
            with pytest.raises(InputError, match=r"on hand|free|on order"):
                booked(*asked)
            return
        assert [(one.moved, one.due) for one in booked(*asked)] == [(moved, due)]
        assert booked(*asked) == []
        self.book(kind, Counter({name: moved}), Counter({name: due}))

    @rule(says=st.dictionaries(lots, none_or_few, min_size=1))
    def take_in(self, says: dict[str, int]) -> None:
        """The shop's own table: by how much it differs from what it said last."""
        said_last = Counter[str]()
        for one in self.bookings:
            said_last.update({name: says - said_last[name] for name, says in one.said.items()})
        said = {name for one in self.bookings for name in one.said}
        moved = Counter({n: s - (said_last[n] if n in said else self.there[n]) for n, s in says.items()})
        lines = tuple((shim(name, SIZES[name], on_hand), None) for name, on_hand in says.items())
        asked = self.store, self.drawer, Sheet(Path("shop.csv"), lines), self.given("a")
        if any(self.there[name] + by < self.promised()[name] for name, by in moved.items()):
            with pytest.raises(InputError, match="fewer than there were"):
                book(*asked)
            return
        book(*asked)
        assert book(*asked) == []
        # what it said before, it need not say again
        news = {name: on_hand for name, on_hand in says.items() if name not in said or said_last[name] != on_hand}
        if news:
            self.book("taken in", moved, None, news)

    @rule(there=st.dictionaries(lots, none_or_few, min_size=1))
    def count(self, there: dict[str, int]) -> None:
        by_id = {self.id[name]: on_hand for name, on_hand in there.items()}
        counted(self.store, self.drawer, lambda _: by_id, self.given("a"), dry=True)
        counted(self.store, self.drawer, lambda _: by_id, self.last, dry=False)
        assert counted(self.store, self.drawer, lambda _: by_id, self.last, dry=False) is None
        self.book("counted", Counter({name: on_hand - self.there[name] for name, on_hand in there.items()}))
        # the last hold that was made loses first
        for job in reversed(list(self.held)):
            pieces, until = self.held[job]
            kept = {}
            for name, held in pieces.items():
                if self.promised()[name] <= self.there[name]:
                    kept[name] = held
                else:
                    self.held[job] = {one: some for one, some in self.held[job][0].items() if one != name}, until
            self.held[job] = kept, until
        self.held = {job: held for job, held in self.held.items() if held[0]}

    @rule(name=lots)
    def accept(self, name: str) -> None:
        """A piece of that part that was measured, with a tag of its own."""
        tag = f"t{next(_names)}"
        part = shim(name, SIZES[name] + 0.001, 1, tag).part
        spot = part.thickness.best.__floor__()
        piece = MeasuredPiece(part, None, (spot,), None, 0, "", 0, frozenset(), count=1)
        for _ in range(2):
            # twice adds nothing
            self.seen_by("a").accept([piece])
        label = f"{name} [{tag}]"
        self.id[label] = next(lot.id for lot in self.seen_by("a").lots() if lot.part.piece == tag)
        self.book("came", Counter({label: 1}), Counter({name: -min(1, self.due[name])}))

    @rule()
    def undo(self) -> None:
        given = self.given("a")
        # what a record put in is not in `moved`
        books = [
            one for one in self.bookings if one.kind == "record" or any(one.moved.values()) or any(one.due.values())
        ]
        last = books[-1] if books else None
        if last is None or last.kind == "record":
            with pytest.raises(InputError, match=r"is a record of|no booking by"):
                undone(self.store, self.drawer, given)
            return
        left = {name: self.there[name] - by for name, by in last.moved.items()}
        can = all(left[name] >= self.promised()[name] for name in left)
        if not (can and all(self.due[name] >= by for name, by in last.due.items())):
            with pytest.raises(InputError, match=r"on hand|free" if not can else "does not allow it"):
                undone(self.store, self.drawer, given)
            return
        undone(self.store, self.drawer, given)
        assert undone(self.store, self.drawer, given) == (None, [])
        self.bookings.remove(last)
        self.there.subtract(last.moved)
        self.due.subtract(last.due)

    @rule()
    def restore(self) -> None:
        """Saved, and gone on with in another stock."""
        other = type(self).stores()
        with self.store.reading() as within:
            text = saved_text(within)
        restored(other, text, "saved.json")
        with other.reading() as within:
            assert saved_text(within).splitlines()[1:] == text.splitlines()[1:]
        self.store.close()
        type(self).store = other

    @precondition(lambda self: self.last.request)
    @rule(name=lots)
    def an_id_is_used_again_for_something_else(self, name: str) -> None:
        with self.store.reading() as within:
            known = bool(within.rows("SELECT 1 FROM ledger WHERE request = ?", self.last.request))
        if known:
            assert not hold(self.seen_by("b"), {self.id[name]: 10**6}, "2090-01-01", self.last)

    @invariant()
    def the_counts_are_those_kept_by_hand(self) -> None:
        if not hasattr(self, "drawer"):
            return
        promised, others = self.promised(), self.promised("b")
        found = {lot.id: (lot.on_hand, lot.promised, lot.on_order, lot.free) for lot in self.seen_by("b").lots()}
        assert found == {
            lot: (self.there[name], promised[name], self.due[name], self.there[name] - others[name])
            for name, lot in self.id.items()
        }

    def teardown(self) -> None:
        with self.store.reading() as within:
            assert list(wrong_in(within)) == []


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_every_step_in_any_order(kind: str) -> None:
    with tempfile.TemporaryDirectory() as folder:

        def new_store() -> Store:
            if kind == "sqlite":
                return SqliteStore(Path(folder) / f"stock{next(_names)}.db", create=True)
            return PostgresStore(new_database(), create=True)

        class Here(Life):
            stores = staticmethod(new_store)
            store = new_store()

        examples = EXAMPLES if kind == "sqlite" else max(1, EXAMPLES // 3)
        how = settings(
            max_examples=examples, stateful_step_count=16, deadline=None, suppress_health_check=list(HealthCheck)
        )
        run_state_machine_as_test(Here, settings=how)
        Here.store.close()
