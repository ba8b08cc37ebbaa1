"""`shimopt stock`, as a shop uses it: a table in and out, bookings, a stocktake, undo, saved and restored, labels."""

from __future__ import annotations

import json
import os
import re
import time
from datetime import datetime, timedelta
from hashlib import sha256
from io import BytesIO
from pathlib import Path

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from shimopt.job import load_job
from shimopt.stock.address import _store, stock_beside
from shimopt.stock.checking import wrong_in
from shimopt.stock.promises import released
from shimopt.stock.store import Store
from tests.command import Run
from tests.postgres_server import new_database
from tests.stocks import SOON, SOON_DAY, clock_at
from tests.test_stock_plan import JOB, record

DRAWER = """\
part,piece,thickness_mm,tolerance_mm,measured_mm,measuring_error_mm,inner_mm,on_hand,at,note
S-10,,0.1,0.005,,,20.1,4,tin 1,
S-20,,0.2,,,,,3,tin 2,"thin; don't"
S-30,t7,0.3,,0.302,0.001,,1,tin 3,
=S-40,,0.4,+0/-0.02,,,,2,,
"""


@pytest.fixture(params=["sqlite", "postgresql"])
def shop(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a drawer's table and two jobs, and no stock yet."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SHIMOPT_STOCK", raising=False)
    if request.param == "postgresql":
        monkeypatch.setenv("SHIMOPT_STOCK", new_database())
    (tmp_path / "drawer.csv").write_text(DRAWER, encoding="utf-8")
    for name in ("mill", "quarry"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "job.toml").write_text(JOB.format(name.capitalize()), encoding="utf-8")
    return tmp_path


@pytest.fixture
def filled(run: Run, shop: Path) -> Path:
    assert run("stock", "take-in", "drawer.csv", "--yes")[0] == 0
    return shop


def the_stock() -> Store:
    return _store(stock_beside(Path()), create=False)


def counts() -> dict[str, tuple[int, int, int]]:
    """On hand, held and on order by part, of lots with anything, once the ledger was replayed and agrees."""
    with the_stock().reading() as within:
        assert list(wrong_in(within)) == []
        rows = within.rows("SELECT part, on_hand, promised, on_order FROM lot ORDER BY id")
    return {part: tuple(found) for part, *found in rows if any(found)}  # type: ignore[misc]


BEGINS = {"S-10": (4, 0, 0), "S-20": (3, 0, 0), "S-30": (1, 0, 0), "=S-40": (2, 0, 0)}


def edited(path: Path, *changes: tuple[str, str]) -> Path:
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.usefixtures("shop")
def test_a_table_is_shown_first_and_then_booked(run: Run) -> None:
    code, out, err = run("stock", "take-in", "drawer.csv")
    assert (code, err) == (0, "")
    assert "S-10, 0.095 to 0.105 mm: new, 4 pieces." in out
    assert "Not booked yet." in out
    code, _, err = run("stock", "show")
    assert (code, "there is no stock here yet" in err) == (2, True)
    assert "Booked in main: 4 rows." in run("stock", "take-in", "drawer.csv", "--yes")[1]
    assert counts() == BEGINS
    assert "agrees with the table: nothing to book" in run("stock", "take-in", "drawer.csv", "--yes")[1]
    assert counts() == BEGINS


def test_what_jobs_see_of_it_is_what_they_saw_of_the_table(run: Run, filled: Path) -> None:
    job = filled / "mill" / "job.toml"
    by_stock = load_job(job)
    edited(job, ("stock:main", "../drawer.csv"))
    assert by_stock.stock == load_job(job).stock
    assert run("plan", "quarry")[1].replace("Quarry", "Mill") == run("plan", "mill")[1]


@pytest.mark.parametrize("name", ["out.csv", "out.xlsx"])
@pytest.mark.parametrize("unit", ["mm", "thou", "um"])
def test_a_shop_goes_back_to_its_spreadsheet_with_one_command(run: Run, filled: Path, name: str, unit: str) -> None:
    job = filled / "mill" / "job.toml"
    by_stock = load_job(job)
    assert run("stock", "write-out", name, "--unit", unit)[0] == 0
    edited(job, ("stock:main", f"../{name}"))
    back = load_job(job)
    assert [line.part for line in back.stock] == [line.part for line in by_stock.stock]
    assert [line.on_hand for line in back.stock] == [line.on_hand for line in by_stock.stock]
    assert back.not_read == ()
    assert run("plan", "mill")[0] == 0
    # and taken in again it changes nothing
    assert "nothing to book" in run("stock", "take-in", name, "--yes")[1]
    assert counts() == BEGINS


def test_a_drawer_that_was_taken_in_in_thou_is_told_in_thou(run: Run, shop: Path) -> None:
    (shop / "thou.csv").write_text("part,thickness_thou,inner_in,on_hand\nW-3,3,0.6265,4\n", encoding="utf-8")
    assert "W-3, 3 thou: new" in run("stock", "take-in", "thou.csv", "--yes")[1]
    assert "3 thou" in run("stock", "show")[1]
    assert "0.0762 mm" in run("stock", "show", "--unit", "mm")[1]
    run("stock", "write-out", "out.csv")
    head, row = (shop / "out.csv").read_text(encoding="utf-8").splitlines()
    assert (head.split(",")[:3], row.split(",")[:3]) == (
        ["part", "thickness_thou", "inner_thou"],
        ["W-3", "3", "626.5"],
    )
    assert "nothing to book" in run("stock", "take-in", "out.csv", "--yes")[1]
    # beside others each is told as it was taken in
    run("stock", "take-in", "drawer.csv", "--yes")
    out = run("stock", "show")[1]
    assert ("3 thou" in out, "0.20 mm" in out) == (True, True), out
    run("stock", "labels", "-o", "labels.pdf")
    assert "3 thou" in PdfReader(shop / "labels.pdf").pages[0].extract_text()


def test_what_a_spreadsheet_would_run_is_text_in_a_workbook(run: Run, filled: Path) -> None:
    run("stock", "write-out", "out.xlsx")
    cells = [cell for row in load_workbook(BytesIO((filled / "out.xlsx").read_bytes())).active.rows for cell in row]
    assert {"=S-40", "+0/-0.02"} <= {cell.value for cell in cells}
    assert {cell.data_type for cell in cells if cell.value is not None} == {"s"}


def test_a_table_older_than_the_stock_is_merged_by_what_changed_in_it(run: Run, filled: Path) -> None:
    """Two sheets are written out; one bench fits, the other adds: each change counts once, nothing is undone."""
    for name in ("a.csv", "b.csv"):
        run("stock", "write-out", name)
    run("stock", "scrap", "S-10=1", "--why", "bent")
    a = edited(filled / "a.csv", ("0.005,,,20.1,4,tin 1", "0.005,,,20.1,6,tin 1"))
    b = edited(filled / "b.csv", (",3,tin 2", ",1,tin 2"), (",4,tin 1", ",5,tin 9"))
    assert "S-10: 3 on hand, becomes 5." in run("stock", "take-in", str(a), "--yes")[1]
    out = run("stock", "take-in", str(b), "--yes")[1]
    assert "S-10: 5 on hand, becomes 6; lies at tin 1, becomes tin 9." in out
    assert "S-20: 3 on hand, becomes 1." in out
    # 4 less the one that was bent, and 2 and 1 more; 3 less 2
    assert counts() == BEGINS | {"S-10": (6, 0, 0), "S-20": (1, 0, 0)}
    for name in ("a.csv", "b.csv"):
        assert "nothing to book" in run("stock", "take-in", name, "--yes")[1]
    # the same sheet edited further counts from what it said last
    edited(a, (",6,tin 1", ",7,tin 1"))
    run("stock", "take-in", str(a), "--yes")
    assert counts()["S-10"] == (7, 0, 0)


def test_the_shops_own_table_is_merged_by_what_it_said_last(run: Run, filled: Path) -> None:
    run("stock", "arrived", "S-20=5")
    edited(filled / "drawer.csv", ("0.005,,,20.1,4", "0.005,,,20.1,2"))
    run("stock", "take-in", "drawer.csv", "--yes")
    assert counts() == BEGINS | {"S-10": (2, 0, 0), "S-20": (8, 0, 0)}


def test_a_piece_that_was_measured_anew_is_another_lot(run: Run, filled: Path) -> None:
    run("stock", "write-out", "out.csv")
    edited(filled / "out.csv", ("0.302,0.001", "0.304,0.001"))
    out = run("stock", "take-in", "out.csv", "--yes")[1]
    assert "S-30 [t7]: measured anew: 0.301 to 0.303 mm, now 0.303 to 0.305 mm (1 on hand)." in out
    assert "nothing to book" in run("stock", "take-in", "out.csv", "--yes")[1]
    assert counts() == BEGINS
    with the_stock().reading() as within:
        assert within.rows("SELECT low_nm, on_hand FROM lot WHERE part = 'S-30' ORDER BY id") == [
            (301_000, 0),
            (303_000, 1),
        ]


@pytest.mark.parametrize("written_out", [True, False])
def test_what_a_part_was_before_it_was_measured_anew_is_in_nobodys_way(
    run: Run, filled: Path, *, written_out: bool
) -> None:
    """S-20 is 0.21 and no longer 0.2: in the table that was written out, or in the shop's own."""
    run("stock", "ordered", "S-20=2")
    if written_out:
        run("stock", "write-out", "out.csv")
    sheet = edited(filled / ("out.csv" if written_out else "drawer.csv"), ("S-20,,0.2,", "S-20,,0.21,"))
    out = run("stock", "take-in", str(sheet), "--yes")[1]
    assert "S-20: measured anew: 0.20 mm, now 0.21 mm (3 on hand)." in out
    assert "nothing to book" in run("stock", "take-in", str(sheet), "--yes")[1]
    assert counts() == BEGINS | {"S-20": (3, 0, 2)}
    assert len(json.loads(run("stock", "show", "--json")[1])["parts"]) == len(BEGINS)
    # by its name it is one part
    (filled / "counted.csv").write_text("part,on_hand\nS-20,4\n", encoding="utf-8")
    assert run("stock", "count", "counted.csv", "--yes")[0] == 0
    assert run("stock", "scrap", "S-20=1")[0] == run("stock", "arrived", "S-20=2")[0] == 0
    assert counts() == BEGINS | {"S-20": (5, 0, 0)}
    # and the shop can go back to its spreadsheet
    run("stock", "write-out", "back.csv")
    assert "nothing to book" in run("stock", "take-in", "back.csv", "--yes")[1]
    assert "agrees with the stock" in run("stock", "count", "back.csv")[1]
    edited(filled / "mill" / "job.toml", ("stock:main", "../back.csv"))
    assert run("plan", "mill")[0] == 0
    # its last piece gone, it is one part yet
    run("stock", "scrap", "S-20=5")
    rows = json.loads(run("stock", "show", "--json")[1])["parts"]
    assert [row["thickness"]["low"] for row in rows if row["part"] == "S-20"] == [0.21]


def test_a_size_that_is_corrected_back_is_what_it_was(run: Run, filled: Path) -> None:
    for before, after in (("S-20,,0.2,", "S-20,,0.21,"), ("S-20,,0.21,", "S-20,,0.2,")):
        edited(filled / "drawer.csv", (before, after))
        assert "S-20: measured anew" in run("stock", "take-in", "drawer.csv", "--yes")[1]
        assert "nothing to book" in run("stock", "take-in", "drawer.csv", "--yes")[1]
        assert counts() == BEGINS
    rows = json.loads(run("stock", "show", "--json")[1])["parts"]
    assert [row["thickness"]["low"] for row in rows if row["part"] == "S-20"] == [0.2]


def test_ten_thousand_rows_are_a_matter_of_seconds(run: Run, shop: Path) -> None:
    """As many as a table is read of: each row against each would be 100 million. Fewer where a server works too."""
    many = 2_000 if "SHIMOPT_STOCK" in os.environ else 10_000
    rows = "".join(f"S-{n},{0.1 + n / 10_000:.4f},{n % 7},tin {n}\n" for n in range(many))
    (shop / "many.csv").write_text(f"part,thickness_mm,on_hand,at\n{rows}", encoding="utf-8")
    for _ in range(2):
        start = time.process_time()
        assert run("stock", "take-in", "many.csv", "--yes", "--json")[0] == 0
        assert time.process_time() - start < 10
    with the_stock().reading() as within:
        assert within.rows("SELECT COUNT(*), SUM(on_hand) FROM lot") == [(many, sum(n % 7 for n in range(many)))]


def test_in_a_stock_a_tag_is_of_one_piece(run: Run, shop: Path) -> None:
    """A drawer's table may tell pieces of one tag apart by their measure; who has the tag in hand cannot."""
    rows = "S-30,t7,0.302,1\nS-30,t7,0.304,1\nS-30,t8,0.304,1\n"
    (shop / "tags.csv").write_text(f"part,piece,measured_mm,on_hand\n{rows}", encoding="utf-8")
    code, _, err = run("stock", "take-in", "tags.csv", "--yes")
    assert (code, "row 3" in err, "this tag stands on row 2 already" in err) == (2, True, True), err
    assert not (shop / "stock.db").exists()


def test_an_older_table_brings_no_second_part_of_one_name(run: Run, filled: Path) -> None:
    """The written-out table says 0.21 since; the shop's own goes on saying 0.2, and one more of it."""
    run("stock", "write-out", "out.csv")
    run("stock", "take-in", str(edited(filled / "out.csv", ("S-20,,0.2,", "S-20,,0.21,"))), "--yes")
    assert "nothing to book" in run("stock", "take-in", "drawer.csv", "--yes")[1]
    edited(filled / "drawer.csv", (",3,tin 2", ",4,tin 2"))
    code, _, err = run("stock", "take-in", "drawer.csv", "--yes")
    assert (code, "another table said since that this part has another size" in err) == (2, True), err
    assert counts() == BEGINS


@pytest.mark.parametrize("written_out", [True, False])
def test_a_row_that_was_deleted_is_told_and_what_it_named_stays(run: Run, filled: Path, *, written_out: bool) -> None:
    if written_out:
        run("stock", "write-out", "out.csv")
    sheet = filled / ("out.csv" if written_out else "drawer.csv")
    rows = sheet.read_text(encoding="utf-8").splitlines()
    sheet.write_text("\n".join(row for row in rows if not row.startswith("S-20")) + "\n", encoding="utf-8")
    for more in ((), ("--yes",)):
        out = " ".join(run("stock", "take-in", str(sheet), *more)[1].split())
        assert (
            out == "main agrees with what the table names: nothing to book. Not in the table, left as they are: S-20."
        )
    told = json.loads(run("stock", "take-in", str(sheet), "--json")[1])
    assert (told["differences"], told["not_in_table"]) == ([], [{"part": "S-20", "piece": None}])
    edited(sheet, ("tin 3", "tin 8"))
    out = run("stock", "take-in", str(sheet), "--yes")[1]
    assert ("becomes tin 8" in out, "left as they are: S-20." in out) == (True, True), out
    assert counts() == BEGINS


@pytest.mark.parametrize("text", ["", "part,on_hand\n", "part,thickness_mm,on_hand\n"])
def test_a_table_in_which_nothing_was_counted_is_no_stocktake(run: Run, filled: Path, text: str) -> None:
    (filled / "counted.csv").write_text(text, encoding="utf-8")
    for more in ((), ("--yes",)):
        code, _, err = run("stock", "count", "counted.csv", *more)
        assert (code, "nothing was counted" in err) == (2, True), err
    with the_stock().reading() as within:
        assert within.rows("SELECT COUNT(*) FROM stocktake") == [(0,)]


def test_a_table_takes_nothing_away_that_is_held_or_not_there(run: Run, filled: Path) -> None:
    run("hold", "mill", "--until", SOON)
    edited(filled / "drawer.csv", ("0.005,,,20.1,4", "0.005,,,20.1,0"))
    code, _, err = run("stock", "take-in", "drawer.csv", "--yes")
    assert code == 2
    assert f"4 fewer than there were, and 1 of 4 on hand are held for Mill until {SOON_DAY}" in err
    assert counts()["S-10"] == (4, 1, 0)


@pytest.mark.usefixtures("filled")
def test_bookings_by_name(run: Run) -> None:
    assert "S-20: 0 on order becomes 10." in run("stock", "ordered", "S-20=10", "--why", "order 7")[1]
    assert "S-20: 3 on hand becomes 7, 10 on order becomes 6." in run("stock", "arrived", "S-20=4")[1]
    assert "(1 more than were on order)" in run("stock", "arrived", "S-20=7")[1]
    assert run("stock", "scrap", "S-30 [t7]=1", "S-20=2")[0] == 0
    assert counts() == {"S-10": (4, 0, 0), "S-20": (12, 0, 0), "=S-40": (2, 0, 0)}


@pytest.mark.usefixtures("filled")
def test_what_will_not_come_is_no_longer_on_order(run: Run) -> None:
    run("stock", "ordered", "S-10=5")
    run("stock", "scrap", "S-20=1")
    assert "S-10: 5 on order becomes 2." in run("stock", "ordered", "S-10=-3", "--why", "cancelled")[1]
    assert "ordered S-10: 5 to 2 on order (cancelled). " in " ".join(run("stock", "ledger")[1].split())
    code, _, err = run("stock", "ordered", "S-10=-3")
    assert (code, "only 2 are on order" in err) == (2, True), err
    for command in ("scrap", "arrived"):
        code, _, err = run("stock", command, "S-10=-1")
        assert (code, "a part and how many of it" in err) == (2, True), err
    assert counts() == BEGINS | {"S-10": (4, 0, 2), "S-20": (2, 0, 0)}


@pytest.mark.parametrize(
    ("pieces", "told"),
    [
        (["S-10"], "a part and how many of it"),
        (["S-10=0"], "a part and how many of it"),
        (["S-11=1"], "Did you mean"),
        (["S-10=5"], "S-10: only 4 are on hand"),
        (["S-30 [t7]=2"], "S-30 [t7]: only 1 is on hand"),
        (["S-20=1", "S-10=5"], "only 4 are on hand (here: S-10=5). Look again: shimopt stock show"),
        (["S-20=1", "S-20=1"], "given twice"),
        (["S-10'; DROP TABLE lot; --=1"], "the stock has no such part"),
    ],
)
@pytest.mark.usefixtures("filled")
def test_a_booking_that_cannot_be_is_refused_whole(run: Run, pieces: list[str], told: str) -> None:
    code, _, err = run("stock", "scrap", *pieces)
    assert (code, told in err) == (2, True), err
    assert counts() == BEGINS


@pytest.mark.usefixtures("filled")
def test_of_pieces_that_are_held_it_is_told_how_many_and_for_whom(run: Run) -> None:
    run("hold", "mill", "--until", SOON, "--person", "A. Roe")
    run("stock", "scrap", "S-10=2")
    held = f"held for Mill until {SOON_DAY} (A. Roe, "
    for pieces, told in (("2", f"S-10: 2 on hand, 1 of them {held}"), ("3", "S-10: only 2 are on hand")):
        code, _, err = run("stock", "scrap", f"S-10={pieces}")
        assert (code, told in " ".join(err.split())) == (2, True), err
    assert "): 1 is free (here: S-10=2)" in " ".join(run("stock", "scrap", "S-10=2")[2].split())
    run("stock", "scrap", "S-10=1")
    err = " ".join(run("stock", "scrap", "S-10=1")[2].split())
    assert (f"S-10: 1 on hand, it is {held}" in err, "): none is free" in err) == (True, True), err


@pytest.mark.usefixtures("filled")
def test_a_drawer_holds_no_more_of_a_part_than_a_table_may_say(run: Run) -> None:
    for command in ("arrived", "ordered"):
        assert run("stock", command, "S-10=999990")[0] == 0
        code, _, err = run("stock", command, "S-10=100")
        assert (code, "a drawer holds 1,000,000 at most" in err) == (2, True), err
    assert run("stock", "write-out", "out.csv")[0] == 0
    assert "nothing to book" in run("stock", "take-in", "out.csv", "--yes")[1]


@pytest.mark.usefixtures("filled")
def test_a_request_sent_twice_books_once(run: Run) -> None:
    for _ in range(2):
        assert run("stock", "scrap", "S-10=1", "--request", "bench-2-17")[0] == 0
    assert counts()["S-10"] == (3, 0, 0)


def test_no_id_that_somebody_gives_is_one_that_is_made_inside(run: Run, filled: Path) -> None:
    """A hold that ends, and one that a stocktake breaks, are booked whatever ids people gave before."""
    run("hold", "mill", "--until", SOON)
    for number in range(1, 4):
        assert run("stock", "scrap", "S-20=1", "--request", f"released-{number}")[0] == 0
    run("stock", "ordered", "S-20=1", "--request", "REQ-1")
    with the_stock().writing() as within:
        assert released(within, "2099-12-05", "", "") == 1
    assert run("stock", "show")[0] == 0
    run("hold", "mill", "--until", SOON)
    (filled / "counted.csv").write_text("part,on_hand\nS-10,0\n", encoding="utf-8")
    code, _, err = run("stock", "count", "counted.csv", "--yes", "--request", "REQ")
    assert (code, err) == (1, "")
    code, _, err = run("stock", "scrap", "=S-40=1", "--request", "record-2026-1")
    assert (code, "ids that begin with record- are those of records" in err) == (2, True)
    assert counts() == {"S-20": (0, 0, 1), "S-30": (1, 0, 0), "=S-40": (2, 0, 0)}


def test_a_part_of_a_catalogue_may_be_ordered_before_it_was_ever_there(run: Run, filled: Path) -> None:
    (filled / "catalogue.csv").write_text("part,thickness_mm,price\nS-99,0.99,1.10\n", encoding="utf-8")
    assert run("stock", "ordered", "S-99=5")[0] == 2
    assert run("stock", "ordered", "S-99=5", "--catalogue", "catalogue.csv")[0] == 0
    assert counts()["S-99"] == (0, 0, 5)


@pytest.mark.parametrize("command", ["ordered", "arrived"])
def test_a_slip_in_the_drawers_name_makes_no_second_drawer(run: Run, filled: Path, command: str) -> None:
    (filled / "catalogue.csv").write_text("part,thickness_mm\nS-99,0.99\n", encoding="utf-8")
    code, _, err = run("stock", command, "S-99=5", "--catalogue", "catalogue.csv", "--drawer", "mian")
    assert (code, "It has: main; a new one begins with shimopt stock take-in" in " ".join(err.split())) == (2, True)
    with the_stock().reading() as within:
        assert within.rows("SELECT name FROM drawer") == [("main",)]


def test_what_comes_is_not_counted_to_pieces_that_were_measured(run: Run, filled: Path) -> None:
    """One S-60 lies there, measured 0.589 and without a tag; ten that come are 0.6 as they are marked."""
    table = filled / "one.csv"
    table.write_text("part,thickness_mm,measured_mm,on_hand\nS-60,0.6,0.589,1\n", encoding="utf-8")
    assert run("stock", "take-in", "one.csv", "--yes")[0] == 0
    for command in ("ordered", "arrived"):
        code, _, err = run("stock", command, "S-60=10")
        assert (code, "is measured, and what comes is not" in " ".join(err.split())) == (2, True), err
    (filled / "catalogue.csv").write_text("part,thickness_mm,tolerance_mm\nS-60,0.6,+0/-0.05\n", encoding="utf-8")
    assert run("stock", "ordered", "S-60=10", "--catalogue", "catalogue.csv")[0] == 0
    assert run("stock", "arrived", "S-60=10")[0] == 0
    with the_stock().reading() as within:
        lots = within.rows(
            "SELECT measured, low_nm, high_nm, on_hand, on_order FROM lot WHERE part = 'S-60' ORDER BY id"
        )
    assert lots == [(1, 589_000, 589_000, 1, 0), (0, 550_000, 600_000, 10, 0)]
    # and back in a table they are two rows, which is read again
    assert run("stock", "write-out", "back.csv")[0] == 0
    assert "nothing to book" in run("stock", "take-in", "back.csv", "--yes")[1]


def test_a_stocktake_that_was_undone_is_none(run: Run, filled: Path) -> None:
    for count, why in ((3, "spring"), (2, "autumn")):
        (filled / "counted.csv").write_text(f"part,on_hand\nS-10,{count}\n", encoding="utf-8")
        run("stock", "count", "counted.csv", "--yes", "--why", why)
    assert ": autumn." in run("stock", "show")[1]
    run("stock", "undo")
    assert ": spring." in run("stock", "show")[1]
    run("stock", "undo")
    assert "Counted last" not in run("stock", "show")[1]


def test_a_stocktake_books_what_was_counted_and_names_the_jobs_that_lose_a_piece(run: Run, filled: Path) -> None:
    run("hold", "mill", "--until", SOON)
    counted = filled / "counted.csv"
    counted.write_text("part,thickness_mm,tolerance_mm,on_hand\nS-10,0.1,0.005,0\nS-20,0.2,,5\n", encoding="utf-8")
    code, out, _ = run("stock", "count", "counted.csv")
    assert code == 1
    assert f"Mill loses S-10, held until {SOON_DAY}: plan it again." in out
    assert counts()["S-10"] == (4, 1, 0)
    code, out, _ = run("stock", "count", "counted.csv", "--yes", "--why", "yearly")
    assert "S-10: 4 on hand becomes 0." in out
    assert out.endswith("Booked in main: a stocktake, 2 counts changed.\n")
    assert "Not in the table, left as they are: S-30 [t7] and =S-40." in out or "=S-40 and S-30 [t7]" in out
    assert counts() == {"S-20": (5, 0, 0), "S-30": (1, 0, 0), "=S-40": (2, 0, 0)}
    with the_stock().reading() as within:
        ((day,),) = within.rows("SELECT at FROM stocktake WHERE why = 'yearly'")
    assert f"Counted last on {day[:10]} by " in run("stock", "show")[1]
    assert json.loads(run("stock", "show", "--json")[1])["last_stocktake"]["why"] == "yearly"
    with the_stock().reading() as within:
        assert within.rows("SELECT kind, held, title FROM ledger WHERE held < 0") == [("released", -1, "Mill")]


@pytest.mark.usefixtures("filled")
def test_a_stocktake_under_the_same_id_is_booked_once(run: Run, tmp_path: Path) -> None:
    (tmp_path / "counted.csv").write_text("part,on_hand\nS-10,3\n", encoding="utf-8")
    booked = ("stock", "count", "counted.csv", "--yes", "--request", "once")
    assert "1 count changed" in run(*booked)[1]
    assert run(*booked) == (0, "This was booked before: nothing changes.\n", "")
    assert json.loads(run(*booked, "--json")[1])["differences"] == []


@pytest.mark.usefixtures("filled")
@pytest.mark.parametrize("booked", [("count", "counted.csv", "--yes"), ("scrap", "S-10=1"), ("undo",)])
def test_a_drawer_whose_name_is_mistyped_is_told_and_those_there_are_named(
    run: Run, tmp_path: Path, booked: tuple[str, ...]
) -> None:
    (tmp_path / "counted.csv").write_text("part,on_hand\nS-10,3\n", encoding="utf-8")
    code, out, err = run("stock", *booked, "--drawer", "mian")
    assert (code, out) == (2, "")
    assert (
        "the stock has no drawer of this name (here: mian). It has: main; a new one begins with shimopt stock take-in."
        in " ".join(err.split())
    )


def test_undo_tells_of_what_was_counted_and_described_at_once_in_one_line(run: Run, filled: Path) -> None:
    edited(filled / "drawer.csv", (",4,tin 1", ",5,tin 7"))
    assert (
        "S-10: 4 on hand, becomes 5; lies at tin 1, becomes tin 7." in run("stock", "take-in", "drawer.csv", "--yes")[1]
    )
    told = [line for line in run("stock", "undo")[1].splitlines() if "S-10" in line]
    assert told == ["S-10: 5 on hand becomes 4."]


def test_undo_of_a_stocktake_names_the_jobs_that_do_not_hold_their_pieces_again(run: Run, filled: Path) -> None:
    run("hold", "mill")
    (filled / "counted.csv").write_text("part,on_hand\nS-10,0\n", encoding="utf-8")
    run("stock", "count", "counted.csv", "--yes")
    out = run("stock", "undo")[1]
    assert "S-10: 0 on hand becomes 4." in out
    assert "Mill no longer holds S-10: hold it again." in out
    assert counts()["S-10"] == (4, 0, 0)
    # and what nobody lost is not told
    (filled / "counted.csv").write_text("part,on_hand\nS-10,3\n", encoding="utf-8")
    run("stock", "count", "counted.csv", "--yes")
    assert "no longer holds" not in run("stock", "undo")[1]
    told = json.loads(run("stock", "undo", "--json", "--row", "1")[1])
    assert told["jobs_that_lost"] == []


@pytest.mark.usefixtures("filled")
def test_a_restore_that_is_refused_leaves_no_stock(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run("stock", "save", "saved.json")
    told = json.loads((tmp_path / "saved.json").read_text(encoding="utf-8"))
    told["tables"]["ledger"]["rows"][0][1] = "2020-01-01T00:00:00+00:00"
    rows = {name: one["rows"] for name, one in told["tables"].items() if one["rows"]}
    hashed = json.dumps(rows, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    (tmp_path / "bad.json").write_text(
        json.dumps(told | {"hash": sha256(hashed.encode()).hexdigest()}), encoding="utf-8"
    )
    monkeypatch.setenv("SHIMOPT_STOCK", str(tmp_path / "again.db"))
    for file in ("bad.json", "drawer.csv"):
        assert run("stock", "restore", file)[0] == 2
        assert list(tmp_path.glob("*again.db*")) == []
    assert run("stock", "restore", "saved.json")[0] == 0
    assert (tmp_path / "again.db").exists()


def test_tins_may_be_counted_by_name_alone(run: Run, filled: Path) -> None:
    (filled / "counted.csv").write_text("part,piece,on_hand\nS-10,,3\nS-30,t7,0\n", encoding="utf-8")
    assert run("stock", "count", "counted.csv", "--yes")[0] == 0
    assert counts() == {"S-10": (3, 0, 0), "S-20": (3, 0, 0), "=S-40": (2, 0, 0)}
    (filled / "counted.csv").write_text("part,on_hand\nS-10,\nS-20,many\n", encoding="utf-8")
    code, _, err = run("stock", "count", "counted.csv", "--yes")
    assert (code, err.count("- ") or err.count("row"), "several lots" in err) == (2, 2, False), err
    (filled / "counted.csv").write_text("part,on_hand\nS-11,3\nS-10,1\nS-10,1\n", encoding="utf-8")
    code, _, err = run("stock", "count", "counted.csv", "--yes")
    assert (code, "the stock has no such part" in err, "stands on another row already" in err) == (2, True, True)


def test_what_was_not_stated_is_written_out_blank(run: Run, filled: Path) -> None:
    run("stock", "write-out", "out.csv")
    rows = (filled / "out.csv").read_text(encoding="utf-8").splitlines()
    assert rows[0].startswith("part,piece,thickness_mm,tolerance_mm,measured_mm,measuring_error_mm,inner_mm,on_hand")
    assert next(row for row in rows if row.startswith("S-20")).startswith("S-20,,0.2,,,,,3,tin 2")


@pytest.mark.usefixtures("filled")
def test_undo_books_the_opposite_of_what_was_booked_last_and_then_of_what_was_before(run: Run) -> None:
    run("stock", "scrap", "S-10=1")
    run("stock", "ordered", "S-20=2")
    assert "Undone, by a counter-booking: ordered, row 6 of" in run("stock", "undo")[1]
    assert "Undone, by a counter-booking: scrapped, row 5 of" in run("stock", "undo")[1]
    assert counts() == BEGINS
    run("stock", "undo")
    assert counts() == {}
    assert run("stock", "undo")[0] == 2
    # what was undone can be taken in again
    run("stock", "take-in", "drawer.csv", "--yes")
    assert counts() == BEGINS


@pytest.mark.usefixtures("filled")
def test_what_a_shell_hands_on_may_be_no_characters(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Bytes that are no UTF-8 reach Python as surrogates, here one of 0xff; they are kept as escapes."""
    odd = "\udcff"
    monkeypatch.setenv("SHIMOPT_BENCH", f"bench {odd}")
    given = ("--why", f"bent {odd}", "--person", f"Roe {odd}", "--request", f"r{odd}")
    for _ in range(2):
        assert run("stock", "scrap", "S-10=1", *given)[0] == 0
    assert counts()["S-10"] == (3, 0, 0)
    with the_stock().reading() as within:
        told = within.rows("SELECT request, why, who, bench FROM ledger ORDER BY id DESC LIMIT 1")
    assert told == [("r\\udcff", "bent \\udcff", "Roe \\udcff", "bench \\udcff")]
    monkeypatch.setenv("SHIMOPT_PERSON", f"Hale {odd}")
    assert run("stock", "scrap", "S-10=1")[0] == 0
    for command in (["show", "--drawer", odd], ["scrap", f"S{odd}=1"], ["undo", "--drawer", odd], ["count", odd]):
        code, _, err = run("stock", *command)
        assert (code, "shimopt:" in err) == (2, True), err
    assert run("stock", "ledger", "--json")[0] == 0
    Path("mill").rename(f"mill {odd}")
    Path("quarry").joinpath("job.toml").write_text(JOB.format("").replace('title = ""\n', ""), encoding="utf-8")
    Path("quarry").rename(f"quarry {odd}")
    for job in (f"mill {odd}", f"quarry {odd}"):
        code, out, err = run("hold", job, "--until", SOON)
        assert (code, err) == (0, "")
        code, out, err = run("hold", job, "--free")
        assert (code, "No longer held" in out, err) == (0, True, "")
    assert counts()["S-10"] == (2, 0, 0)


@pytest.mark.usefixtures("filled")
def test_undo_under_the_same_id_undoes_once(run: Run) -> None:
    for _ in range(2):
        run("stock", "scrap", "S-10=1")
    assert run("stock", "undo", "--request", "u1")[0] == 0
    code, out, err = run("stock", "undo", "--request", "u1")
    assert (code, out.strip(), err) == (0, "This was booked before: nothing changes.", "")
    told = json.loads(run("stock", "undo", "--request", "u1", "--json")[1])
    assert (told["undone"], told["rows"], told["booked"]) == (None, [], [])
    assert counts()["S-10"] == (3, 0, 0)


def test_a_record_is_not_undone_here_and_another_record_puts_the_piece_back(run: Run, filled: Path) -> None:
    assert record(run, filled, "mill")[0] == 0
    assert counts()["S-10"] == (3, 0, 0)
    code, _, err = run("stock", "undo", "--person", "A. Roe")
    assert (code, "this booking is a record of Mill" in " ".join(err.split())) == (2, True), err
    assert counts()["S-10"] == (3, 0, 0)
    # as it says
    given = ("--after", "drum=0.2 to 0.21 mm", "--fitted", "drum=nothing", "--person", "A. Roe")
    code, _, err = run("record", "mill", *given, "--instrument", "feeler")
    assert (code, err) == (1, ""), err
    assert counts()["S-10"] == (4, 0, 0)
    assert record(run, filled, "mill", "--fitted", "drum=S-10")[0] == 0
    assert counts()["S-10"] == (3, 0, 0)


@pytest.mark.usefixtures("filled")
def test_undo_takes_what_the_same_person_booked_at_the_same_bench(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """A scraps one, B books three that arrived: A's undo must not take B's away."""
    for bench, booking in (("A", ("scrap", "S-10=1")), ("B", ("arrived", "S-10=3"))):
        monkeypatch.setenv("SHIMOPT_BENCH", bench)
        assert run("stock", *booking, "--person", f"{bench}. Roe")[0] == 0
    monkeypatch.setenv("SHIMOPT_BENCH", "A")
    assert "scrapped, row 5 of" in run("stock", "undo", "--person", "A. Roe")[1]
    assert counts()["S-10"] == (7, 0, 0)
    code, _, err = run("stock", "undo", "--person", "A. Roe")
    told = (
        "no booking by A. Roe at A is left that could be undone. The last one is by B. Roe at B; to undo that: --row 6"
    )
    assert (code, told in " ".join(err.split())) == (2, True), err
    assert "arrived, row 6 of" in run("stock", "undo", "--row", "6", "--person", "A. Roe")[1]
    assert counts() == BEGINS
    told = " ".join(run("stock", "ledger", "--last", "1")[1].split())
    assert told.endswith("undone S-10: 7 to 4 on hand, undoes row 6. A. Roe at A")
    for row, told in (("6", "was undone already"), ("8", "is no booking of the drawer"), ("99", "is no booking")):
        code, _, err = run("stock", "undo", "--row", row)
        assert (code, told in err) == (2, True), err


@pytest.mark.usefixtures("filled")
def test_an_undone_arrival_is_on_order_again_and_the_ledger_says_from_what_to_what(run: Run) -> None:
    run("stock", "ordered", "S-20=5")
    run("stock", "arrived", "S-20=2")
    run("stock", "undo")
    told = " ".join(run("stock", "ledger", "--last", "1")[1].split())
    assert "undone S-20: 5 to 3 on hand, 3 to 5 on order, undoes row 6." in told
    assert counts()["S-20"] == (3, 0, 5)


@pytest.mark.usefixtures("filled")
def test_undo_of_an_order_that_came_is_refused_and_says_so(run: Run) -> None:
    run("stock", "ordered", "S-20=5", "--person", "B")
    run("stock", "arrived", "S-20=4", "--person", "A")
    code, _, err = run("stock", "undo", "--person", "B")
    told = "undo of row 5 of the ledger, ordered: 1 of it is on order still (here: S-20=5)."
    assert (code, told in " ".join(err.split())) == (2, True), err
    assert counts()["S-20"] == (7, 0, 1)


def test_undo_of_a_description_leaves_what_somebody_else_said_since(run: Run, filled: Path) -> None:
    for person, old, new in (("A", "tin 1", "tin 7"), ("B", "tin 7", "tin 8")):
        edited(filled / "drawer.csv", (old, new))
        run("stock", "take-in", "drawer.csv", "--yes", "--person", person)
    run("stock", "undo", "--person", "A")
    told = {row["part"]: row["at"] for row in json.loads(run("stock", "show", "--json")[1])["parts"]}
    assert told["S-10"] == "tin 8"
    run("stock", "undo", "--person", "B")
    told = {row["part"]: row["at"] for row in json.loads(run("stock", "show", "--json")[1])["parts"]}
    assert told["S-10"] == "tin 7"
    assert run("stock", "check")[0] == 0


@pytest.mark.usefixtures("filled")
def test_undo_is_refused_where_the_pieces_are_held_by_now(run: Run) -> None:
    run("hold", "mill")
    code, _, err = run("stock", "undo")
    told = " ".join(err.split())
    assert code == 2
    assert "undo of row 1 of the ledger, taken in: S-10: 4 on hand, 1 of them held for Mill until" in told, err
    assert ": 3 are free (here: S-10=4). Have them let go first: shimopt hold JOB --free." in told
    assert counts()["S-10"] == (4, 1, 0)


@pytest.mark.usefixtures("filled")
def test_show_tells_what_is_free_held_and_on_order(run: Run) -> None:
    run("hold", "mill", "--until", SOON, "--person", "A. Roe")
    run("stock", "ordered", "S-10=10")
    out = run("stock", "show")[1]
    assert "10 pieces on hand, 1 of them held" in out
    row = next(line for line in out.splitlines() if line.startswith("S-10 "))
    assert re.search(r"0.095 to 0.105 mm +3 +4 +1 Mill to", row)
    parts = json.loads(run("stock", "show", "--json")[1])["parts"]
    assert parts[1]["part"] == "S-10"
    assert (parts[1]["free"], parts[1]["on_hand"], parts[1]["on_order"]) == (3, 4, 10)
    assert [(one["for"], one["until"], one["who"]) for one in parts[1]["held"]] == [("Mill", SOON, "A. Roe")]


@pytest.mark.usefixtures("filled")
def test_the_ledger_and_its_check(run: Run) -> None:
    run("stock", "scrap", "S-10=1", "--why", "bent", "--person", "A. Roe")
    out = " ".join(run("stock", "ledger")[1].split())
    assert "scrapped S-10: 4 to 3 on hand (bent). A. Roe" in out
    assert len(json.loads(run("stock", "ledger", "--last", "2", "--json")[1])["rows"]) == 2
    code, out, _ = run("stock", "check")
    assert (code, "All agrees: 5 rows" in out) == (0, True)
    with the_stock().writing() as within:
        on = "" if "SHIMOPT_STOCK" not in os.environ else " ON ledger"
        within.run(f"DROP TRIGGER ledger_not_changed{on}")
        within.run("UPDATE ledger SET why = 'never' WHERE id = 5")
    code, out, _ = run("stock", "check")
    assert (code, "ledger row 5 was changed" in out) == (1, True)


def test_saved_and_restored_it_is_the_same_and_nothing_is_written_over(
    run: Run, filled: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("hold", "mill")
    before = counts()
    assert run("stock", "save", "saved.json")[0] == 0
    code, _, err = run("stock", "restore", "saved.json")
    assert (code, "a stock is here already" in err) == (2, True)
    monkeypatch.setenv("SHIMOPT_STOCK", str(filled / "again.db"))
    code, out, _ = run("stock", "restore", "saved.json")
    assert (code, "Restored: 4 lots, 5 rows" in out) == (0, True)
    assert counts() == before
    assert run("stock", "check")[0] == 0


def test_labels_are_a_sheet_with_a_code_for_each_tin(run: Run, filled: Path) -> None:
    assert run("stock", "labels", "-o", "labels.pdf", "--date", "2026-05-03")[0] == 0
    first = (filled / "labels.pdf").read_bytes()
    text = PdfReader(BytesIO(first)).pages[0].extract_text()
    assert [words for words in ("S-10", "tin 1", "t7", "0.301 to 0.303 mm") if words not in text] == []
    run("stock", "labels", "-o", "labels.pdf", "--date", "2026-05-03")
    assert (filled / "labels.pdf").read_bytes() == first


def test_order_counts_on_what_is_on_order_and_not_on_what_is_held_for_others(run: Run, filled: Path) -> None:
    """The mill needs one S-10 to 0.11 mm; its seat is read as surely as can be."""
    catalogue = "part,thickness_mm,tolerance_mm,price,supplier\nS-10,0.1,0.005,1.10,Kemp\n"
    (filled / "catalogue.csv").write_text(catalogue, encoding="utf-8")
    more = 'catalogues = ["../catalogue.csv"]\n\n[window]'
    supplier = '\n[[supplier]]\nname = "Kemp"\npostage = 2.00\n'
    for name in ("mill", "quarry"):
        job = edited(filled / name / "job.toml", ("[window]", more))
        job.write_text(job.read_text(encoding="utf-8") + supplier, encoding="utf-8")
    run("stock", "scrap", "S-10=3", "S-20=3", "=S-40=2", "S-30 [t7]=1")

    def bought(name: str) -> int:
        return sum(line["pieces"] for line in json.loads(run("order", name, "--json")[1])["lines"])

    assert bought("mill") == 0
    run("hold", "quarry")
    assert bought("mill") == 1
    run("stock", "ordered", "S-10=2")
    assert bought("mill") == 0
    assert "Counted as on hand, for it is on order already: 2 x S-10." in " ".join(run("order", "mill")[1].split())


def test_an_order_does_not_count_on_what_was_ordered_for_another_job_and_names_it(run: Run, filled: Path) -> None:
    """One S-10 is to come, for the quarry: the mill has to order its own; and both together count it once."""
    run("stock", "scrap", "S-10=4", "S-20=3", "=S-40=2", "S-30 [t7]=1")
    assert run("stock", "ordered", "S-10=1", "--for", "quarry")[0] == 0

    def ordered_of(*jobs: str) -> str:
        return " ".join(run("order", *jobs)[1].split())

    nothing = "Nothing more to order: with what is on order, 1 x S-10, the drawer serves every gap"
    assert ordered_of("quarry").startswith(nothing)
    assert "ordered for nobody" not in ordered_of("quarry")
    assert not ordered_of("mill").startswith("Nothing")
    told = json.loads(run("order", "mill", "--json")[1])["assumed"]
    assert "On order for Quarry, and not counted on here: S-10." in told
    assert not ordered_of("mill", "quarry").startswith("Nothing")
    # one more for whoever needs it: the mill counts on that
    run("stock", "ordered", "S-10=1")
    assert ordered_of("mill").startswith(nothing)
    assert ordered_of("mill", "quarry").startswith(nothing.replace("1 x", "2 x"))
    assert re.search(r"S-10 .* 0 +2 \(1 Quarry\)", run("stock", "show")[1])
    row = next(row for row in json.loads(run("stock", "show", "--json")[1])["parts"] if row["part"] == "S-10")
    assert (row["on_order"], row["on_order_for"]) == (2, [{"pieces": 1, "for": "Quarry"}])
    # what comes first was ordered first
    run("stock", "arrived", "S-10=1")
    row = next(row for row in json.loads(run("stock", "show", "--json")[1])["parts"] if row["part"] == "S-10")
    assert (row["on_order"], row["on_order_for"]) == (1, [])
    (filled / "list").mkdir()
    (filled / "list" / "job.toml").write_text(JOB.format("L").replace("stock:main", "../drawer.csv"), encoding="utf-8")
    code, _, err = run("stock", "ordered", "S-10=1", "--for", "list")
    assert (code, "the drawer of this job is no stock" in err) == (2, True), err


@pytest.mark.usefixtures("filled")
@pytest.mark.parametrize("last", [("arrived", "S-10=1"), ("ordered", "S-10=-1", "--for", "quarry")])
def test_what_is_on_order_again_after_an_undo_is_so_for_the_same_job(run: Run, last: tuple[str, ...]) -> None:
    """One to come for the quarry: taken off the order, and that undone, it is the quarry's and not everybody's."""
    run("stock", "scrap", "S-10=4", "S-20=3", "=S-40=2", "S-30 [t7]=1")
    run("stock", "ordered", "S-10=1", "--for", "quarry")
    assert run("stock", *last)[0] == 0
    assert run("stock", "undo")[0] == 0
    row = next(row for row in json.loads(run("stock", "show", "--json")[1])["parts"] if row["part"] == "S-10")
    assert (row["on_order"], row["on_order_for"]) == (1, [{"pieces": 1, "for": "Quarry"}])
    assert run("order", "quarry")[1].startswith("Nothing more to order")
    assert not run("order", "mill")[1].startswith("Nothing more to order")
    # and an order that is undone is on order for nobody
    first = json.loads(run("stock", "ledger", "--json")[1])["rows"]
    ordered = next(row["id"] for row in first if row["kind"] == "ordered")
    assert run("stock", "undo", "--row", str(ordered))[0] == 0
    assert not run("order", "quarry")[1].startswith("Nothing more to order")


@pytest.mark.usefixtures("filled")
def test_what_is_called_off_for_a_job_is_not_what_another_ordered(run: Run) -> None:
    run("stock", "ordered", "S-10=2", "--for", "mill")
    code, _, err = run("stock", "ordered", "S-10=-1", "--for", "quarry")
    assert (code, "only 0 on order may be called off for Quarry" in " ".join(err.split())) == (2, True), err
    run("stock", "ordered", "S-10=3")
    assert run("stock", "ordered", "S-10=-3", "--for", "quarry")[0] == 0
    row = next(row for row in json.loads(run("stock", "show", "--json")[1])["parts"] if row["part"] == "S-10")
    assert (row["on_order"], row["on_order_for"]) == (2, [{"pieces": 2, "for": "Mill"}])
    assert run("stock", "ordered", "S-10=-2", "--for", "mill")[0] == 0
    assert counts() == BEGINS


def test_a_column_that_a_table_has_not_says_nothing(run: Run, filled: Path) -> None:
    """Where it lies, its bore and what was noted stay; an empty cell of a column that is there takes away."""
    before = json.loads(run("stock", "show", "--json")[1])["parts"]
    (filled / "few.csv").write_text("part,thickness_mm,tolerance_mm,on_hand\nS-10,0.1,0.005,4\n", encoding="utf-8")
    assert "nothing to book" in run("stock", "take-in", "few.csv", "--yes")[1]
    assert json.loads(run("stock", "show", "--json")[1])["parts"] == before
    (filled / "few.csv").write_text("part,thickness_mm,tolerance_mm,on_hand,at\nS-10,0.1,0.005,4,\n", encoding="utf-8")
    assert "lies at tin 1, becomes nothing" in " ".join(run("stock", "take-in", "few.csv", "--yes")[1].split())


def test_a_stock_is_not_saved_over_a_table(run: Run, filled: Path) -> None:
    code, _, err = run("stock", "save", "drawer.csv")
    assert (code, ".json" in err) == (2, True), err
    assert (filled / "drawer.csv").read_text(encoding="utf-8") == DRAWER


def test_an_order_says_what_it_counts_on_that_is_not_here_yet(run: Run, filled: Path) -> None:
    """The tin is empty and two are on order: the mill and the quarry need one each."""
    run("stock", "scrap", "S-10=4", "S-20=3", "=S-40=2", "S-30 [t7]=1")
    assert run("plan", "mill")[0] == 1
    run("stock", "ordered", "S-10=2")
    out = " ".join(run("order", "mill")[1].split())
    assert out.startswith("Nothing more to order: with what is on order, 1 x S-10, the drawer serves every gap")
    assert "on order, and not in the drawer yet: 1 x S-10" in out
    assert "in the drawer: S-10" not in out
    assert "1 x S-10 (1 of them on order)" in out
    assert "ordered for nobody in particular another job may count on" in out
    assert "shimopt stock arrived S-10=COUNT" in out
    both = " ".join(run("order", "mill", "quarry")[1].split())
    assert both.startswith("Nothing more to order: with what is on order, 2 x S-10, the drawer serves every gap")
    assert both.count("on order, and not in the drawer yet: 1 x S-10") == 2
    # with one here, one job has no need of what is on order, and two have
    run("stock", "arrived", "S-10=1")
    out = " ".join(run("order", "mill")[1].split())
    assert out.startswith("Nothing to order: the drawer serves every gap")
    assert "in the drawer: S-10 in tin 1" in out
    assert run("order", "mill", "quarry")[1].startswith("Nothing more to order: with what is on order, 1 x S-10")
    assert "S-10" in run("order", "mill", "--card", str(filled / "card.pdf"))[1]
    card = " ".join(PdfReader(filled / "card.pdf").pages[0].extract_text().split())
    assert "not in the drawer yet" not in card


def test_with_a_clock_that_goes_back_a_hold_lasts_from_the_ledgers_last_day(run: Run, filled: Path) -> None:
    assert filled.exists()
    with clock_at("2020-01-01T12:00:00+00:00"):
        code, _, err = run("hold", "mill", "--until", "2020-01-10")
        assert (code, "this day is over already" in err) == (2, True)
        assert run("hold", "mill", "--json")[0] == 0
    with the_stock().reading() as within:
        (last,), (until,) = within.rows("SELECT MAX(at) FROM ledger")[0], within.rows("SELECT until FROM promise")[0]
    # 14 days after the ledger's last row, and not after the clock
    assert until == (datetime.fromisoformat(last).astimezone().date() + timedelta(days=14)).isoformat()
    code, _, err = run("stock", "show")
    assert (code, err) == (0, "")
    assert counts()["S-10"] == (4, 1, 0)


def test_what_a_clock_lets_go_is_told(run: Run, filled: Path) -> None:
    assert filled.exists()
    run("hold", "mill", "--until", SOON)
    with clock_at("2099-01-01T12:00:00+00:00"):
        err = run("stock", "show")[2]
    assert err.strip() == f"shimopt: S-10 is no longer held for Mill: by this clock its last day, {SOON}, is over"
    assert counts()["S-10"] == (4, 0, 0)


def test_a_clock_that_goes_back_is_told_once_and_the_ledger_stays_in_order(run: Run, filled: Path) -> None:
    assert filled.exists()
    with clock_at("2020-01-01T00:00:00+00:00"):
        code, _, err = run("stock", "scrap", "S-10=1")
    assert (code, err.count("clock is behind the stock's last entry")) == (0, 1)
    assert counts()["S-10"] == (3, 0, 0)
