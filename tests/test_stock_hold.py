"""Holding a plan's pieces: all or nothing, for so long, again on fresh numbers where somebody was faster."""

from __future__ import annotations

import json
import shutil
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import date, timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest

from shimopt.door import holds
from shimopt.job import load_job
from shimopt.stock.holding import PiecesGoneError, free, hold
from shimopt.stock.job_id import job_key, lasting_key
from shimopt.stock.promises import released
from shimopt.stock.stock_drawer import StockDrawer
from tests.command import Run
from tests.stocks import SOON, SOON_DAY
from tests.test_stock_plan import counts, held_for, record, shop, the_stock

__all__ = ["shop"]


def drawer_of(shop: Path, name: str) -> StockDrawer:
    drawer = load_job(shop / name).drawer_of
    assert isinstance(drawer, StockDrawer)
    return drawer


def promises(shop: Path) -> list[tuple[object, ...]]:
    with the_stock(shop).reading() as within:
        return within.rows("SELECT lot, pieces, title, state, until, who FROM promise ORDER BY id")


def test_a_hold_keeps_the_piece_from_others_until_it_is_let_go(run: Run, shop: Path) -> None:
    code, out, err = run("hold", str(shop / "mill"), "--until", SOON, "--person", "A. Roe")
    assert (code, err) == (0, "")
    assert f"Held for Mill until {SOON_DAY}: S-10 (stock:main)." in out
    assert counts(shop)["S-10"] == (1, 1)
    code, out, _ = run("hold", str(shop / "quarry"))
    assert code == 1
    assert "Nothing is held." in out
    assert f"S-10 would have served, and is held for Mill until {SOON_DAY} (A. Roe" in " ".join(out.split())
    assert "No longer held for Mill: S-10." in run("hold", str(shop / "mill"), "--free")[1]
    assert "Nothing was held for Mill." in run("hold", str(shop / "mill"), "--free")[1]
    assert run("hold", str(shop / "quarry"))[0] == 0
    assert counts(shop)["S-10"] == (1, 1)


def test_what_is_held_for_a_job_of_the_same_title_may_be_its_own_and_how_to_free_it_is_told(
    run: Run, shop: Path
) -> None:
    """As if it had been moved to another disk: its id says another file's number."""
    run("hold", str(shop / "mill"))
    beside = shop / "mill" / ".job.toml.stock-id"
    beside.write_text(beside.read_text(encoding="utf-8").replace('"number": ', '"number": 1'), encoding="utf-8")
    code, out, _ = run("hold", str(shop / "mill"))
    assert code == 1
    told = " ".join(out.split())
    assert "If that is this job, moved or brought back: shimopt hold JOB --free." in told
    assert "If that is this job" not in run("plan", str(shop / "quarry"))[1]
    assert "No longer held for Mill: S-10." in run("hold", str(shop / "mill"), "--free")[1]
    assert run("hold", str(shop / "mill"))[0] == 0


def test_a_job_that_was_moved_or_is_seen_from_another_machine_goes_on_holding(
    run: Run, shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("hold", str(shop / "mill"))
    (shop / "mill").rename(shop / "mill 2")
    monkeypatch.setattr("platform.node", lambda: "another")
    assert run("plan", str(shop / "mill 2"))[0] == 0
    assert "Held already for Mill" in run("hold", str(shop / "mill 2"))[1]
    assert counts(shop)["S-10"] == (1, 1)
    assert "No longer held for Mill: S-10." in run("hold", str(shop / "mill 2"), "--free")[1]
    run("hold", str(shop / "mill 2"))
    (shop / "mill 2").rename(shop / "mill")
    assert record(run, shop, "mill", "--fitted", "drum=S-10")[0] == 0
    assert counts(shop)["S-10"] == (0, 0)


def test_a_copy_of_a_job_is_another_job(run: Run, shop: Path) -> None:
    run("hold", str(shop / "mill"))
    shutil.copytree(shop / "mill", shop / "copy")
    assert run("hold", str(shop / "copy"))[0] == 1
    assert "Nothing was held for Mill." in run("hold", str(shop / "copy"), "--free")[1]
    assert counts(shop)["S-10"] == (1, 1)


@pytest.mark.parametrize("copied", [False, True])
def test_two_first_holds_at_once_find_one_id(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, copied: bool) -> None:
    """A double click: whoever is about to make an id waits here for the other, who must not make a second one."""
    job, both = tmp_path / "job.toml", threading.Barrier(2)
    job.touch()
    if copied:
        (tmp_path / ".job.toml.stock-id").write_text('{"id": "of another", "number": 1}', encoding="utf-8")

    def made() -> UUID:
        with suppress(threading.BrokenBarrierError):
            both.wait(0.5)
        return uuid4()

    monkeypatch.setattr("shimopt.stock.job_id.uuid4", made)
    with ThreadPoolExecutor(2) as pool:
        ids = set(pool.map(lasting_key, [job, job]))
    assert ids == {job_key(job)}
    assert len(job_key(job)) == 32
    assert sorted(file.name for file in tmp_path.iterdir()) == [".job.toml.stock-id", "job.toml"]


def test_a_job_that_was_moved_to_another_disk_lets_go_and_holds_anew(run: Run, shop: Path) -> None:
    """There its files are others, with other numbers, as they are from a backup."""
    run("hold", str(shop / "mill"))
    shutil.copytree(shop / "mill", shop / "other disk")
    shutil.rmtree(shop / "mill")
    assert run("hold", str(shop / "other disk"))[0] == 1
    assert "No longer held for Mill: S-10." in run("hold", str(shop / "other disk"), "--free")[1]
    assert "Held for Mill until" in run("hold", str(shop / "other disk"))[1]
    assert counts(shop)["S-10"] == (1, 1)


def test_where_no_id_can_be_written_a_job_is_known_by_its_place(
    run: Run, shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And of a job that lies no longer there, another of its title lets go what was held."""
    monkeypatch.setattr("shimopt.stock.job_id._file_beside", lambda file: file / "in a file is no folder")
    run("hold", str(shop / "mill"))
    assert "Held already for Mill" in run("hold", str(shop / "mill"))[1]
    # one of the same title that still lies where it was keeps what is held for it
    job = shop / "quarry" / "job.toml"
    job.write_text(job.read_text(encoding="utf-8").replace("Quarry", "Mill"), encoding="utf-8")
    assert "Nothing was held for Mill." in run("hold", str(job), "--free")[1]
    assert counts(shop)["S-10"] == (1, 1)
    (shop / "mill").rename(shop / "mill 2")
    assert "No longer held for Mill: S-10." in run("hold", str(shop / "mill 2"), "--free")[1]
    assert counts(shop)["S-10"] == (1, 0)
    assert run("hold", str(shop / "mill 2"))[0] == 0


def test_it_lasts_fourteen_days_where_nobody_says_until_when(run: Run, shop: Path) -> None:
    day = (date.today() + timedelta(days=14)).isoformat()
    assert json.loads(run("hold", str(shop / "mill"), "--json")[1]) == {
        "format": 1,
        "title": "Mill",
        "doable": True,
        "held": [{"part": "S-10", "piece": None, "pieces": 1}],
        "until": day,
        "read_again_first": [],
    }
    assert "Held already for Mill" in run("hold", str(shop / "mill"))[1]
    assert [row[4] for row in promises(shop)] == [day]


@pytest.mark.parametrize(
    ("until", "told"),
    [
        ("2020-01-01", "over already"),
        ("soon", "this is no day"),
        ((date.today() + timedelta(days=400)).isoformat(), "a hold lasts a year at most"),
        ("9999-12-31", "a hold lasts a year at most"),
    ],
)
def test_a_day_that_is_over_or_none_is_refused(run: Run, shop: Path, until: str, told: str) -> None:
    code, _, err = run("hold", str(shop / "mill"), "--until", until)
    assert (code, told in err) == (2, True)
    assert promises(shop) == []


def test_what_is_held_before_a_gap_was_read_rightly_is_not_to_be_fitted_yet(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The winch's backlash was read while its bearings had play: half the pack is set by a reading to come."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SHIMOPT_STOCK", raising=False)
    shutil.copytree(Path(__file__).parents[1] / "demo_data" / "slipway-winch", tmp_path / "winch")
    assert run("stock", "take-in", "winch/drawer.csv", "--yes")[0] == 0
    job = tmp_path / "winch" / "job.toml"
    job.write_text(job.read_text(encoding="utf-8").replace('"drawer.csv"', '"stock:main"'), encoding="utf-8")
    code, out, _ = run("hold", "winch")
    assert (code, max(map(len, out.splitlines())) <= 80) == (0, True), out
    assert "Held, but backlash is to be settled first" in " ".join(out.split())
    assert json.loads(run("hold", "winch", "--json")[1])["read_again_first"] == ["backlash"]
    assert max(map(len, run("stock", "check")[1].splitlines())) <= 80


def test_in_a_list_nothing_can_be_held(run: Run, shop: Path) -> None:
    (shop / "drawer.csv").write_text("part,thickness_mm,on_hand\nS-10,0.1,1\n", encoding="utf-8")
    job = shop / "mill" / "job.toml"
    job.write_text(job.read_text(encoding="utf-8").replace("stock:main", "../drawer.csv"), encoding="utf-8")
    code, _, err = run("hold", str(job))
    assert (code, "lists promise no piece to anybody" in err) == (2, True)


def test_the_same_request_twice_holds_once(shop: Path) -> None:
    """A bench that sends the same again, for it never saw the answer, must not hold a second time."""
    drawer = drawer_of(shop, "mill")
    given = drawer.asking.given("double-click")
    assert hold(drawer, {1: 1}, SOON, given)
    assert not hold(drawer, {1: 1}, SOON, given)
    assert free(drawer, drawer.asking.given("let go"))
    assert not hold(drawer, {1: 1}, SOON, given)
    assert counts(shop)["S-10"] == (1, 0)


def test_all_or_nothing(shop: Path) -> None:
    held_for(shop, "quarry")
    mill = drawer_of(shop, "mill")
    with pytest.raises(PiecesGoneError) as gone:
        hold(mill, {1: 1, 2: 2}, SOON, mill.asking.given())
    assert [(one.part.name, one.wanted, one.free) for one in gone.value.lacking] == [("S-10", 1, 0)]
    assert counts(shop) == {"S-10": (1, 1), "S-50": (4, 0)}


def test_a_new_hold_takes_the_place_of_the_old_one(shop: Path) -> None:
    mill = drawer_of(shop, "mill")
    assert hold(mill, {1: 1, 2: 2}, SOON, mill.asking.given())
    assert hold(mill, {2: 3}, "2099-12-05", mill.asking.given())
    assert counts(shop) == {"S-10": (1, 0), "S-50": (4, 3)}
    assert [(row[0], row[1], row[3]) for row in promises(shop)] == [(1, 1, "freed"), (2, 2, "freed"), (2, 3, "held")]


def test_where_a_piece_goes_while_it_is_planned_it_is_planned_again_on_fresh_numbers(
    run: Run, shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stock_of, plans = holds.stock_of, []

    def somebody_is_faster(job: object) -> StockDrawer:
        # after the job was loaded and before its pieces are held, once
        if not plans:
            held_for(shop, "quarry")
        plans.append(job)
        return stock_of(job)  # type: ignore[arg-type]

    monkeypatch.setattr(holds, "stock_of", somebody_is_faster)
    code, out, _ = run("hold", str(shop / "mill"))
    assert (code, len(plans)) == (1, 2)
    assert f"S-10 went meanwhile (1 wanted, none free): held for Quarry until {SOON_DAY} (A. Roe" in " ".join(
        out.split()
    )
    assert "Planned again." in out
    assert "Nothing is held. The drawer cannot do it" in out
    assert [row[2] for row in promises(shop)] == ["Quarry"]


def test_after_three_times_it_gives_up(run: Run, shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def gone(*_: object) -> bool:
        raise PiecesGoneError(())

    monkeypatch.setattr(holds, "hold", gone)
    code, out, _ = run("hold", str(shop / "mill"))
    assert (code, out.count("Planned again."), "three times a piece went" in out) == (1, 3, True)


def test_record_after_the_end_takes_the_piece_if_it_is_free_else_says_who_has_it(run: Run, shop: Path) -> None:
    run("hold", str(shop / "mill"), "--until", date.today().isoformat())
    with the_stock(shop).writing() as within:
        # the day is over, and Quarry was faster
        released(within, "2098-01-01", "", "")
    plan = load_job(shop / "mill")
    assert plan.stock[0].on_hand == 1
    held_for(shop, "quarry")
    code, _, err = record(run, shop, "mill", "--fitted", "drum=S-10")
    assert code == 2
    assert f"1 x S-10 (0.10 mm) went into the machine, and what there is, is held for Quarry until {SOON_DAY}" in err
    assert counts(shop)["S-10"] == (1, 1)
    run("hold", str(shop / "quarry"), "--free")
    assert record(run, shop, "mill", "--fitted", "drum=S-10")[0] == 0
    assert counts(shop)["S-10"] == (0, 0)
