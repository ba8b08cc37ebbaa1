"""Jobs whose drawer is one of the stock: what they see, what is held for others, and what a record does to it."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import pytest

from shimopt.job import load_job
from shimopt.ordering.merged_jobs import merged
from shimopt.parts.drawer import Change, DrawerChangedError, FittedPiece
from shimopt.stock.address import _store, stock_beside
from shimopt.stock.checking import wrong_in
from shimopt.stock.job_id import job_key
from shimopt.stock.people import Asking
from shimopt.stock.postgres_store import PostgresStore
from shimopt.stock.promises import made, released
from shimopt.stock.sqlite_store import SqliteStore
from shimopt.stock.stock_drawer import StockDrawer
from shimopt.stock.store import Store
from tests.command import Run
from tests.postgres_server import new_database
from tests.stocks import SOON, SOON_DAY, filled, shim

JOB = """\
title = "{}"
unit = "mm"
drawer = "stock:main"

[window]
min = 0.05
max = 0.12
source = "sheet 7"

[[gap]]
name = "drum"
feeler = {{ go = 0.20, no_go = 0.21 }}
"""


@pytest.fixture(params=["sqlite", "postgresql"])
def shop(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two benches that each need the one S-10: 0.20 to 0.21 less 0.10 is 0.10 to 0.11, within 0.05 to 0.12."""
    monkeypatch.delenv("SHIMOPT_STOCK", raising=False)
    if request.param == "postgresql":
        monkeypatch.setenv("SHIMOPT_STOCK", address := new_database())
        store: Store = PostgresStore(address, create=True)
    else:
        store = SqliteStore(tmp_path / "stock.db", create=True)
    filled(store, shim("S-10", 0.1, 1), shim("S-50", 0.5, 4))
    store.close()
    for name in ("mill", "quarry"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "job.toml").write_text(JOB.format(name.capitalize()), encoding="utf-8")
    return tmp_path


def the_stock(shop: Path) -> Store:
    """The stock as it is: opening it lets no hold go."""
    return _store(stock_beside(shop), create=False)


def held_for(shop: Path, name: str, lot: int = 1, until: str = SOON) -> None:
    file = shop / name / "job.toml"
    asking = Asking(job_key(file), name.capitalize(), file)
    with the_stock(shop).writing() as within:
        made(within, 1, {lot: 1}, until, asking.given(who="A. Roe"))


def counts(shop: Path) -> dict[str, tuple[int, int]]:
    """On hand and held, once the ledger was replayed and agrees."""
    with the_stock(shop).reading() as within:
        assert list(wrong_in(within)) == []
        return {part: (there, held) for part, there, held in within.rows("SELECT part, on_hand, promised FROM lot")}


def record(run: Run, shop: Path, name: str, *more: str) -> tuple[int, str, str]:
    given = ("--after", "drum=0.1 mm", "--person", "A. Roe", "--instrument", "feeler")
    return run("record", str(shop / name), *given, *more)


def test_a_piece_held_for_another_is_not_planned_with_and_its_holder_is_told(run: Run, shop: Path) -> None:
    assert run("plan", str(shop / "mill"))[0] == 0
    held_for(shop, "quarry")
    code, out, _ = run("plan", str(shop / "mill"))
    assert code == 1
    assert f"S-10 would have served, and is held for Quarry until {SOON_DAY} (A. Roe" in " ".join(out.split())
    # and the job that it is held for goes on seeing it
    code, out, _ = run("plan", str(shop / "quarry"))
    assert (code, "held for" in out) == (0, False)
    plan = json.loads(run("plan", str(shop / "mill"), "--json")[1])
    assert [(one["part"], one["for"], one["until"]) for one in plan["held_for_others"]] == [("S-10", "Quarry", SOON)]


def test_what_would_not_have_served_is_not_told(run: Run, shop: Path) -> None:
    held_for(shop, "quarry", lot=2)
    assert "S-50 would have served" not in run("plan", str(shop / "mill"))[1]
    assert [held.part.name for held in load_job(shop / "mill").held] == ["S-50"]


def test_a_record_takes_the_piece_out_and_ends_the_hold_in_one_step(run: Run, shop: Path) -> None:
    held_for(shop, "mill")
    code, out, err = record(run, shop, "mill")
    assert (code, err) == (0, "")
    assert "Changed in stock:main:\n  S-10: on_hand 1 becomes 0" in out
    assert counts(shop) == {"S-10": (0, 0), "S-50": (4, 0)}
    # the same again moves nothing
    assert "recorded before" in record(run, shop, "mill")[1]
    assert counts(shop) == {"S-10": (0, 0), "S-50": (4, 0)}
    with the_stock(shop).reading() as within:
        assert within.rows("SELECT DISTINCT who FROM ledger WHERE kind = 'fitted'") == [("A. Roe",)]
        states = within.rows("SELECT kind, moved, held FROM ledger WHERE job <> '' ORDER BY id")
    assert states == [("held", 0, 1), ("fitted", 0, -1), ("fitted", -1, 0)]


def test_what_was_held_and_not_fitted_is_free_after_the_record(run: Run, shop: Path) -> None:
    held_for(shop, "mill")
    held_for(shop, "mill", lot=2)
    assert record(run, shop, "mill")[0] == 0
    assert counts(shop) == {"S-10": (0, 0), "S-50": (4, 0)}


def test_a_hold_that_is_over_is_let_go_by_the_next_command_with_a_row_in_the_ledger(run: Run, shop: Path) -> None:
    held_for(shop, "quarry", until="2020-01-01")
    assert counts(shop)["S-10"] == (1, 1)
    assert run("plan", str(shop / "mill"))[0] == 0
    assert counts(shop)["S-10"] == (1, 0)
    with the_stock(shop).reading() as within:
        told = within.rows("SELECT kind, held, title, why FROM ledger ORDER BY id DESC LIMIT 1")
    assert told == [("released", -1, "Quarry", "held until 2020-01-01")]


def test_two_commands_that_let_go_at_one_moment_let_go_once(shop: Path) -> None:
    held_for(shop, "quarry", until="2020-01-01")
    ready = Barrier(2)

    def let_go() -> int:
        store = the_stock(shop)
        ready.wait(20)
        with store.writing() as within:
            return released(within, "2020-01-02", "A. Roe", "bench")

    with ThreadPoolExecutor(2) as benches:
        assert sorted(one.result(20) for one in [benches.submit(let_go) for _ in range(2)]) == [0, 1]
    assert counts(shop)["S-10"] == (1, 0)


def test_of_two_records_on_one_version_of_the_drawer_the_second_is_refused(shop: Path) -> None:
    """Both looked at it with four S-50; the first took one."""
    mill, quarry = (load_job(shop / name) for name in ("mill", "quarry"))
    assert isinstance(mill.drawer_of, StockDrawer)
    assert isinstance(quarry.drawer_of, StockDrawer)
    versions = mill.drawer_of.version(), quarry.drawer_of.version()
    assert versions[0] == versions[1]
    piece = FittedPiece.of(next(line.part for line in mill.stock if line.part.name == "S-50"))
    mill.drawer_of.move([Change(piece, -1)], versions[0], "first")
    with pytest.raises(DrawerChangedError):
        quarry.drawer_of.move([Change(piece, -1)], versions[1], "second")
    assert counts(shop)["S-50"] == (3, 0)
    # holding changes no version: what is planned goes on being true of what lies there
    held_for(shop, "mill", lot=2)
    quarry.drawer_of.move([Change(piece, -1)], quarry.drawer_of.version(), "second")
    assert counts(shop)["S-50"] == (2, 1)


def test_a_stock_that_is_not_there_and_a_drawer_that_it_has_not_are_told(run: Run, shop: Path) -> None:
    job = shop / "mill" / "job.toml"
    job.write_text(JOB.format("Mill").replace("stock:main", "stock:mian"), encoding="utf-8")
    code, _, err = run("plan", str(job))
    assert (code, "no drawer of this name (here: mian). It has: main" in err) == (2, True)
    if not (file := shop / "stock.db").exists():
        return
    file.unlink()
    code, _, err = run("plan", str(job))
    assert (code, "there is no stock here yet" in err) == (2, True)


def test_pieces_that_arrived_go_in(run: Run, shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seat = '\n[[seat]]\nname = "shaft"\nshaft = "10 mm"\n'
    (shop / "mill" / "job.toml").write_text(JOB.format("Mill") + seat, encoding="utf-8")
    arrived = shop / "arrived.csv"
    arrived.write_text("part,piece,measured_mm,inner_mm\nS-10,a1,0.101,10.2\n", encoding="utf-8")
    code, out, _ = run("fit", str(shop / "mill"), "--measured", str(arrived), "--accept")
    assert (code, "1 piece added to stock:main" in out) == (0, True)
    code, out, _ = run("fit", str(shop / "mill"), "--measured", str(arrived), "--accept")
    assert "In the drawer already" in out
    with the_stock(shop).reading() as within:
        assert within.rows("SELECT piece, on_hand, single, low_nm FROM lot WHERE piece <> ''") == [
            ("a1", 1, 1, 101_000)
        ]
        assert within.rows("SELECT spots FROM measurement") == [("101000",)]
    monkeypatch.chdir(shop)
    assert "came S-10 [a1]: 0 to 1 on hand, measured at 1 spot, for Mill. " in " ".join(
        run("stock", "ledger")[1].split()
    )
    row = next(row for row in json.loads(run("stock", "show", "--json")[1])["parts"] if row["piece"] == "a1")
    assert [one["spots"] for one in row["measured"]] == [[0.101]]


def test_several_jobs_of_one_stock_count_each_piece_once(shop: Path) -> None:
    """What both see is one S-10; held for the second, it still is there for the two together."""
    for _ in range(2):
        jobs = merged([load_job(shop / "mill"), load_job(shop / "quarry")]).jobs
        assert {line.part.name: line.on_hand for line in jobs[0].stock} == {"S-10": 1, "S-50": 4}
        if not jobs[0].held:
            held_for(shop, "quarry")


CATALOGUE = "part,thickness_mm,tolerance_mm,inner_mm,outer_mm,price\nS-10,0.1,+0/-0.02,20,30,1\nS-20,0.2,,20,30,1\n"


@pytest.fixture
def beside_a_table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A job with a drawer that leaves its bores and tolerances to the catalogue, and the same with that in a stock."""
    monkeypatch.delenv("SHIMOPT_STOCK", raising=False)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "catalogue.csv").write_text(CATALOGUE, encoding="utf-8")
    (tmp_path / "drawer.csv").write_text("part,thickness_mm,on_hand\nS-10,0.1,1\nS-50,0.5,4\n", encoding="utf-8")
    for name, drawer in (("table", "../drawer.csv"), ("stock", "stock:main")):
        job = JOB.format("Mill").replace('"stock:main"', f'"{drawer}"\ncatalogues = ["../catalogue.csv"]')
        (tmp_path / name).mkdir()
        (tmp_path / name / "job.toml").write_text(job, encoding="utf-8")
    return tmp_path


def test_what_a_drawer_leaves_to_the_catalogue_a_stock_leaves_to_it_too(run: Run, beside_a_table: Path) -> None:
    assert run("stock", "take-in", "drawer.csv", "--yes")[0] == 0
    by_table, by_stock = (load_job(beside_a_table / name) for name in ("table", "stock"))
    assert by_stock.stock == by_table.stock
    assert [(line.part.name, line.on_hand, len(line.offers)) for line in by_stock.stock] == [
        ("S-10", 1, 1),
        ("S-20", 0, 1),
        ("S-50", 4, 0),
    ]
    # held for another, it is the same part yet; fitted and back, it lies where it lay
    held_for(beside_a_table, "other")
    assert load_job(beside_a_table / "stock").held[0].part == by_table.stock[0].part
    assert record(run, beside_a_table, "stock", "--fitted", "drum=S-50")[0] in (0, 1)
    back = ("--after", "drum=0.2 to 0.21 mm", "--fitted", "drum=nothing", "--person", "A", "--instrument", "feeler")
    assert run("record", str(beside_a_table / "stock"), *back)[0] == 1
    assert counts(beside_a_table) == {"S-10": (1, 1), "S-50": (4, 0)}


def test_commands_that_name_a_drawer_know_one_of_the_stock_or_say_what_to_do(run: Run, beside_a_table: Path) -> None:
    run("stock", "take-in", "drawer.csv", "--yes")
    assert run("make", "0.6mm", "--drawer", "stock:main")[1:] == run("make", "0.6mm", "--drawer", "drawer.csv")[1:]
    assert "no drawer of this name (here: mian). It has: main" in run("make", "0.6mm", "--drawer", "stock:mian")[2]
    for command in (["plan"], ["fit", "--part", "S-10"]):
        name, *more = command
        told = [run(name, job, *more)[1] for job in ("table", "stock")]
        assert told[0] == told[1]
        assert run(name, "table", *more, "--drawer", "stock:main")[1] == told[0]
    (beside_a_table / "gaps.csv").write_text("gap,low_mm,high_mm\ndrum,0.20,0.21\n", encoding="utf-8")
    tables = []
    for job in ("table", "stock"):
        # 0.20 to 0.21 less 0.08 to 0.10 is up to 0.13: not surely inside
        assert run("batch", "gaps.csv", "--job", job, "-o", f"{job}.csv")[0] == 1
        tables.append((beside_a_table / f"{job}.csv").read_text(encoding="utf-8"))
    assert tables[0] == tables[1]
    limits = ("--min", "0.05mm", "--max", "0.12mm", "-o", "out.csv")
    code, _, err = run("batch", "gaps.csv", "--parts", "stock:main", *limits)
    assert (code, "is no table of parts" in err, "stock write-out FILE" in err) == (2, True, True), err
    code, _, err = run("parts", "--catalogue", "stock:main")
    assert (code, "is no catalogue" in err, "shimopt stock show" in err) == (2, True, True), err


def test_pieces_that_came_are_no_longer_on_order(run: Run, shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three S-10 are on order, and two come, each measured: one is to come yet, and nothing counts twice."""
    monkeypatch.chdir(shop)
    seat = '\n[[seat]]\nname = "shaft"\nshaft = "10 mm"\n'
    (shop / "mill" / "job.toml").write_text(JOB.format("Mill") + seat, encoding="utf-8")
    run("stock", "ordered", "S-10=3")
    (shop / "arrived.csv").write_text("part,piece,measured_mm,inner_mm\nS-10,a1,0.101,10.2\nS-10,a2,0.1,10.2\n")
    assert run("fit", "mill", "--measured", "arrived.csv", "--accept")[0] == 0
    with the_stock(shop).reading() as within:
        assert within.rows("SELECT SUM(on_hand), SUM(on_order) FROM lot WHERE part = 'S-10'") == [(3, 1)]
        assert list(wrong_in(within)) == []


def test_a_part_of_the_jobs_catalogue_may_be_ordered_for_it_before_it_was_ever_there(
    run: Run, beside_a_table: Path
) -> None:
    run("stock", "take-in", "drawer.csv", "--yes")
    code, _, err = run("stock", "ordered", "S-20=2")
    assert (code, "name the --catalogue that has it" in err) == (2, True), err
    assert run("stock", "ordered", "S-20=2", "--for", "stock")[0] == 0
    lines = {line.part.name: line for line in load_job(beside_a_table / "stock").stock}
    assert (lines["S-20"].coming, len(lines["S-20"].offers)) == (2, 1)
