"""What any drawer must pass, wherever it is kept: a CSV, a list in memory, and those that come later."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.errors import InputError
from shimopt.lengths import Bracket
from shimopt.parts import Part, StockLine
from shimopt.parts.csv_drawer import CsvDrawer
from shimopt.parts.drawer import Change, Drawer, DrawerChangedError, FittedPiece, MemoryDrawer
from shimopt.parts.measured import MeasuredPiece
from shimopt.stock.people import Asking
from shimopt.stock.stock_drawer import StockDrawer
from tests.stocks import in_file, in_postgres, shim

MM = 1_000_000


def exact(mm: float) -> Bracket:
    nm = round(mm * MM)
    return Bracket.between(nm, nm)


SMALL, LARGE = FittedPiece("S-10", None, exact(0.1)), FittedPiece("S-30", "t7", exact(0.302))
STRANGE = FittedPiece("X-1", "old", exact(0.407))


def in_csv(folder: Path) -> Drawer:
    path = folder / "drawer.csv"
    path.write_text("part,thickness_mm,piece,measured_mm,on_hand\nS-10,0.1,,,4\nS-30,0.3,t7,0.302,1\n")
    return CsvDrawer(path)


def in_memory(_: Path) -> Drawer:
    small = Part("S-10", exact(0.1), marked=100_000)
    return MemoryDrawer([StockLine(small, 4), StockLine(Part("S-30", exact(0.302), "t7", True, 300_000), 1)])


def in_stock(folder: Path) -> Drawer:
    store = in_file(folder, shim("S-10", 0.1, 4), shim("S-30", 0.302, 1, "t7"))
    return StockDrawer(store, "main", Asking("mill", "Mill"))


MAKERS: dict[str, Callable[[Path], Drawer]] = {"csv": in_csv, "memory": in_memory, "stock": in_stock}


def in_database(_: Path) -> Drawer:
    return StockDrawer(in_postgres(shim("S-10", 0.1, 4), shim("S-30", 0.302, 1, "t7")), "main", Asking("mill", "Mill"))


@pytest.fixture(params=[*MAKERS, "postgresql"])
def drawer(request: pytest.FixtureRequest, tmp_path: Path) -> Drawer:
    """Four of S-10 at 0.1 mm, and one S-30, tag t7, found to be 0.302 mm."""
    return (in_database if request.param == "postgresql" else MAKERS[request.param])(tmp_path)


def counts(drawer: Drawer) -> dict[str, int]:
    return {line.part.name: line.on_hand for line in drawer.stock()}


def test_it_tells_what_lies_in_it_and_its_version_stays_while_nothing_happens(drawer: Drawer) -> None:
    assert counts(drawer) == {"S-10": 4, "S-30": 1}
    assert drawer.version() == drawer.version() != ""
    assert drawer.writable


def test_pieces_go_and_come_and_the_version_changes(drawer: Drawer) -> None:
    before = drawer.version()
    moved = drawer.move([Change(SMALL, -3), Change(LARGE, -1)], before, "one")
    assert counts(drawer) == {"S-10": 1, "S-30": 0}
    assert moved.version == drawer.version() != before
    assert [(c.piece.part, c.count, c.by) for c in moved.changes] == [("S-10", 4, -3), ("S-30", 1, -1)]
    drawer.move([Change(SMALL, 2)], moved.version, "two")
    assert counts(drawer) == {"S-10": 3, "S-30": 0}


def test_the_same_id_twice_moves_once_whatever_came_between(drawer: Drawer) -> None:
    before = drawer.version()
    drawer.move([Change(SMALL, -1)], before, "one")
    assert drawer.move([Change(SMALL, -1)], before, "one").changes == ()
    # back as it was, so that it looks like before the first move
    drawer.move([Change(SMALL, 1)], drawer.version(), "two")
    assert drawer.move([Change(SMALL, -1)], before, "one").changes == ()
    assert counts(drawer) == {"S-10": 4, "S-30": 1}


def test_another_version_than_expected_changes_nothing(drawer: Drawer) -> None:
    before = drawer.version()
    now = drawer.move([Change(SMALL, -1)], before, "one").version
    with pytest.raises(DrawerChangedError):
        drawer.move([Change(SMALL, -1)], before, "two")
    assert (counts(drawer), drawer.version()) == ({"S-10": 3, "S-30": 1}, now)
    # and the id was not used up
    assert drawer.move([Change(SMALL, -1)], now, "two").changes


@pytest.mark.parametrize("wrong", [[Change(SMALL, -1), Change(LARGE, -2)], [Change(SMALL, -1), Change(STRANGE, -1)]])
def test_where_one_change_cannot_be_made_none_is(drawer: Drawer, wrong: list[Change]) -> None:
    before = drawer.version()
    with pytest.raises(InputError, match="does not hold so many"):
        drawer.move(wrong, before, "one")
    assert (counts(drawer), drawer.version()) == ({"S-10": 4, "S-30": 1}, before)
    assert drawer.move([Change(SMALL, -1)], before, "one").changes


def test_a_piece_that_was_never_in_it_can_come_in(drawer: Drawer) -> None:
    drawer.move([Change(STRANGE, 1)], drawer.version(), "one")
    (line,) = [line for line in drawer.stock() if line.part.name == "X-1"]
    assert (line.part.piece, line.part.thickness, line.on_hand) == ("old", exact(0.407), 1)
    drawer.move([Change(STRANGE, -1)], drawer.version(), "two")
    assert counts(drawer) == {"S-10": 4, "S-30": 1, "X-1": 0}


def test_accepted_pieces_come_in_once(drawer: Drawer) -> None:
    part = Part("S-50", exact(0.498), "t1", True)
    piece = MeasuredPiece(part, None, (498_000,), None, 0, "", 2, frozenset())
    done = drawer.accept([piece])
    assert (len(done.rows), done.there_already, done.written) == (1, (), True)
    assert counts(drawer) == {"S-10": 4, "S-30": 1, "S-50": 1}
    version = drawer.version()
    done = drawer.accept([piece])
    assert (done.rows, done.there_already, done.written) == ((), ("S-50 [t1]",), False)
    assert (counts(drawer), drawer.version()) == ({"S-10": 4, "S-30": 1, "S-50": 1}, version)


def test_a_piece_of_the_same_tag_that_is_another_is_refused_and_one_that_was_fitted_since_is_told(
    drawer: Drawer,
) -> None:
    part = Part("S-50", exact(0.498), "t1", True)
    piece = MeasuredPiece(part, None, (498_000,), None, 0, "", 2, frozenset(), count=3)
    drawer.accept([piece])
    assert counts(drawer)["S-50"] == 3
    version = drawer.version()
    thicker = replace(piece, part=replace(part, thickness=exact(0.499)))
    for other in (thicker, replace(piece, count=2)):
        with pytest.raises(InputError, match="is another"):
            drawer.accept([other])
    assert drawer.version() == version
    drawer.move([Change(FittedPiece.of(part), -2)], version, "fitted")
    done = drawer.accept([piece])
    assert (done.there_already, done.fewer, done.written) == (("S-50 [t1]",), ("S-50 [t1] (1 of 3)",), False)


def test_threads_that_move_at_once_lose_no_piece(drawer: Drawer) -> None:
    drawer.move([Change(SMALL, 46)], drawer.version(), "more")

    def take(name: str) -> None:
        for n in range(5):
            while True:
                try:
                    drawer.move([Change(SMALL, -1)], drawer.version(), f"{name}{n}")
                    break
                except DrawerChangedError:
                    continue

    threads = [threading.Thread(target=take, args=(name,)) for name in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert counts(drawer)["S-10"] == 50 - 20


@settings(max_examples=25, deadline=None)
@given(
    made=st.sampled_from(sorted(MAKERS)),
    moves=st.lists(st.tuples(st.sampled_from("abc"), st.integers(-3, 3), st.booleans()), max_size=8),
)
def test_it_does_what_the_slow_obvious_drawer_does(
    tmp_path_factory: pytest.TempPathFactory, made: str, moves: list[tuple[str, int, bool]]
) -> None:
    """Against a count, a set of ids and a list of versions kept by hand."""
    drawer = MAKERS[made](tmp_path_factory.mktemp("drawer"))
    there, known, first = 4, set[str](), drawer.version()
    for name, by, fresh in moves:
        version = drawer.version()
        expected = version if fresh else first
        try:
            drawer.move([Change(SMALL, by)], expected, name)
        except DrawerChangedError:
            assert name not in known
            assert expected != version
        except InputError:
            assert there + by < 0
        else:
            if name not in known:
                there += by
            known.add(name)
        assert counts(drawer)["S-10"] == there
