"""Supplier and lot in the stock: taken in, shown, written out, changed, undone, saved; and stocks of before."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from shimopt.stock import migrating
from shimopt.stock.dump import restored
from shimopt.stock.postgres_store import PostgresStore
from shimopt.stock.sqlite_store import SqliteStore
from tests.command import Run
from tests.postgres_server import new_database

KEPT = Path(__file__).parent / "data" / "kept" / "stock"
DRAWER = KEPT / "drawer.csv"
JOB = """\
title = "Ferry hoist"
unit = "mm"
drawer = "stock:main"

[window]
min = 0.10
max = 0.16
source = "hoist book, page 9"

[[gap]]
name = "drum"
feeler = { go = 0.35, no_go = 0.40 }
"""
KESTREL = "Kestrel Shim Works"


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Where the stock will be, in an empty folder."""
    monkeypatch.chdir(tmp_path)
    address = new_database() if request.param == "postgresql" else str(tmp_path / "stock.db")
    monkeypatch.setenv("SHIMOPT_STOCK", address)
    return address


def origins(run: Run) -> list[tuple[str, str | None, str | None, str | None]]:
    """Part, tag, supplier and lot of all that `show` tells."""
    code, out, _ = run("stock", "show", "--json")
    assert code == 0
    return [tuple(row[key] for key in ("part", "piece", "supplier", "lot")) for row in json.loads(out)["parts"]]


AS_TYPED = [
    ("S-10", None, KESTREL, "K114"),
    ("S-20", "a", KESTREL, "K114"),
    ("S-20", "b", KESTREL, "K121"),
]


def agrees(run: Run) -> bool:
    return "All agrees" in run("stock", "check")[1]


@pytest.mark.usefixtures("address")
def test_a_table_brings_supplier_and_lot_and_takes_them_out_again(run: Run) -> None:
    assert run("stock", "take-in", str(DRAWER), "--yes")[0] == 0
    assert origins(run) == AS_TYPED
    assert f"{KESTREL}, lot K121" in run("stock", "show")[1].replace("\n", " ")
    run("stock", "write-out", "out.csv")
    with open("out.csv", encoding="utf-8") as file:
        assert [(row["supplier"], row["lot"]) for row in csv.DictReader(file)] == [one[2:] for one in AS_TYPED]
    assert "nothing to book" in run("stock", "take-in", "out.csv")[1]
    assert agrees(run)


@pytest.mark.usefixtures("address")
def test_another_lot_is_booked_undone_saved_and_restored(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("stock", "take-in", str(DRAWER), "--yes")
    Path("drawer.csv").write_text(DRAWER.read_text(encoding="utf-8").replace("K121", "K130"), encoding="utf-8")
    assert "S-20 [b]: lot K121, becomes K130" in run("stock", "take-in", "drawer.csv", "--yes")[1]
    assert origins(run)[2] == ("S-20", "b", KESTREL, "K130")
    # what is told of one thing leaves the other as it is
    assert run("stock", "ordered", "S-10=20")[0] == 0
    assert run("stock", "undo")[0] == 0
    assert run("stock", "undo")[0] == 0
    assert origins(run) == AS_TYPED
    assert agrees(run)
    run("stock", "save", "saved.json")
    monkeypatch.setenv("SHIMOPT_STOCK", str(tmp_path / "other" / "stock.db"))
    (tmp_path / "other").mkdir()
    assert run("stock", "restore", "saved.json")[0] == 0
    assert origins(run) == AS_TYPED
    assert agrees(run)


@pytest.mark.usefixtures("address")
def test_history_tells_the_lots_of_a_stock_apart(run: Run) -> None:
    run("stock", "take-in", str(DRAWER), "--yes")
    Path("job.toml").write_text(JOB, encoding="utf-8")
    (supplier,) = json.loads(run("history", "job.toml", "--json")[1])["suppliers"]
    assert supplier["supplier"] == KESTREL
    assert [lot["lot"] for lot in supplier["lots"]] == ["K114", "K121"]


MEASURED = """\
part,piece,thickness_mm,tolerance_mm,measured_mm,measuring_error_mm,on_hand,supplier,lot
S-20,a,0.20,0.02,0.213,0.002,1,Kestrel Shim Works,K114
S-20,b,0.20,+0.03/-0,0.215,,1,Kestrel Shim Works,K121
"""


def printed(table: str) -> list[str]:
    with open(table, encoding="utf-8") as file:
        return [row["tolerance_mm"] for row in csv.DictReader(file)]


@pytest.mark.usefixtures("address")
def test_the_printed_tolerance_stays_beside_the_measure(run: Run) -> None:
    """Taken in, written out, told by history (0.20 ± 0.02 is 0.18 to 0.22), changed, undone, saved."""
    Path("drawer.csv").write_text(MEASURED, encoding="utf-8")
    run("stock", "take-in", "drawer.csv", "--yes")
    run("stock", "write-out", "out.csv")
    assert printed("out.csv") == ["0.02", "+0.03/-0"]
    assert "nothing to book" in run("stock", "take-in", "out.csv")[1]
    Path("job.toml").write_text(JOB, encoding="utf-8")
    sizes = json.loads(run("history", "job.toml", "--json")[1])["suppliers"]
    assert sorted((size["printed"]["low"], size["printed"]["high"]) for size in sizes) == [(0.18, 0.22), (0.2, 0.23)]
    Path("drawer.csv").write_text(MEASURED.replace("0.20,0.02", "0.20,0.01"), encoding="utf-8")
    assert "S-20 [a]: tolerance ±0.02 mm, becomes ±0.01 mm." in run("stock", "take-in", "drawer.csv", "--yes")[1]
    run("stock", "write-out", "out.csv")
    assert printed("out.csv") == ["0.01", "+0.03/-0"]
    run("stock", "undo")
    run("stock", "write-out", "out.csv")
    assert printed("out.csv") == ["0.02", "+0.03/-0"]
    assert agrees(run)


def test_a_stock_of_before_is_carried_over_without_loss(
    run: Run, address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Made by the program before supplier and lot were kept: its table had both, and it dropped them."""
    text = (KEPT / "version-3.json").read_text(encoding="utf-8")
    with monkeypatch.context() as before:
        known = migrating.migrations
        before.setattr(migrating, "migrations", lambda dialect: {3: known(dialect)[3]})
        store = PostgresStore(address, create=True) if "://" in address else SqliteStore(Path(address), create=True)
        restored(store, text, "version-3.json")
        store.close()
    assert origins(run) == [(*one[:2], None, None) for one in AS_TYPED]
    assert agrees(run)
    run("stock", "save", "again.json")
    was, now = json.loads(text), json.loads(Path("again.json").read_text(encoding="utf-8"))
    assert now["tables"] == was["tables"]
    # the shop's own table says it anew, and no count changes by it
    told = run("stock", "take-in", str(DRAWER), "--yes")[1]
    assert "S-20 [b]: supplier nothing, becomes Kestrel Shim Works; lot nothing, becomes K121" in told.replace(
        "\n  ", " "
    )
    assert "on hand" not in told
    assert origins(run) == AS_TYPED
    assert agrees(run)
