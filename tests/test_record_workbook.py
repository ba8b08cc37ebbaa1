"""A drawer that is a workbook is only read: what is to be changed in it is told, or a CSV beside it takes its place."""

from __future__ import annotations

import csv
import shutil
import tomllib
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from shimopt.job import load_job
from tests.command import Run

DEMO = Path(__file__).parents[1] / "demo_data"
WHO = ("--person", "M. Hale", "--instrument", "blades", "--date", "2026-05-03")
AFTER = ("--after", "upper 1=10 to 11 thou", "--after", "lower 2=6.5 thou")
# by hand: of R-03 3, R-07 1, W-04 2 and W-08 2 one R-07 and one W-08 are fitted
LEFT = {"R-03": 3, "R-07": 0, "W-04": 2, "W-08": 1}


@pytest.fixture
def bridge(tmp_path: Path) -> Path:
    """The swing bridge with its drawer in tins.xlsx."""
    folder = Path(shutil.copytree(DEMO / "swing-bridge", tmp_path / "bridge"))
    book = Workbook()
    with open(folder / "drawer.csv", newline="", encoding="utf-8") as file:
        for row in csv.reader(file):
            book.active.append(row)
    book.save(folder / "tins.xlsx")
    (folder / "drawer.csv").unlink()
    path = folder / "job.toml"
    path.write_text(path.read_text().replace("drawer.csv", "tins.xlsx"))
    return folder


def counts(folder: Path) -> dict[str, int]:
    with open(folder / "tins.csv", newline="", encoding="utf-8") as file:
        return {row["part"]: int(row["on_hand"]) for row in csv.DictReader(file)}


def there(folder: Path) -> dict[str, int]:
    """What the next plan may take."""
    return {line.part.name: line.on_hand for line in load_job(folder).stock}


def state(folder: Path) -> list[str]:
    return [record["drawer"] for record in tomllib.loads((folder / "job.toml").read_text()).get("record", [])]


def by_hand(folder: Path, **cells: int) -> None:
    """Somebody opens the workbook and changes cells of it."""
    book = load_workbook(folder / "tins.xlsx")
    for cell, count in cells.items():
        book.active[cell] = count
    book.save(folder / "tins.xlsx")


def test_the_workbook_stays_and_what_is_to_be_changed_in_it_is_told(run_unfolded: Run, bridge: Path) -> None:
    before = (bridge / "tins.xlsx").read_bytes()
    code, out, _ = run_unfolded("record", bridge, *AFTER, *WHO, "--update-drawer")
    assert code == 0
    assert "tins.xlsx is a workbook: it is only read. Change in it by hand:" in out
    assert "R-07: on_hand 1 becomes 0 (row 3)" in out
    assert "--drawer-as-csv" in out
    assert (bridge / "tins.xlsx").read_bytes() == before
    assert state(bridge) == ["by hand"]


def test_until_it_is_changed_by_hand_its_pieces_are_not_planned_with_twice(run_unfolded: Run, bridge: Path) -> None:
    run_unfolded("record", bridge, *AFTER, *WHO, "--update-drawer")
    assert there(bridge) == LEFT
    code, out, _ = run_unfolded("record", bridge, "--update-drawer")
    assert (code, "does not agree with the record" in out, "R-07: on_hand 1 becomes 0" in out) == (0, True, True)
    by_hand(bridge, E3=0, E5=1)
    assert there(bridge) == LEFT
    code, out, _ = run_unfolded("record", bridge, "--update-drawer")
    assert (code, "agrees with the record" in out) == (0, True)


def test_a_csv_takes_its_place_with_the_counts_after_the_record(run_unfolded: Run, bridge: Path) -> None:
    before = (bridge / "tins.xlsx").read_bytes()
    code, out, _ = run_unfolded("record", bridge, *AFTER, *WHO, "--drawer-as-csv")
    assert (code, "tins.csv holds the drawer now, and the job uses it." in out) == (0, True)
    assert (counts(bridge), state(bridge)) == (LEFT, ["done"])
    assert 'drawer = "tins.csv"' in (bridge / "job.toml").read_text()
    assert (bridge / "tins.xlsx").read_bytes() == before
    # the same command again finds nothing to do
    code, out, _ = run_unfolded("record", bridge, *AFTER, *WHO, "--drawer-as-csv")
    assert (code, "nothing was written" in out, counts(bridge)) == (0, True, LEFT)


@pytest.mark.parametrize("first", [(), ("--update-drawer",)])
def test_the_counts_of_a_record_that_was_made_before_go_into_the_csv(
    run_unfolded: Run, bridge: Path, first: tuple[str, ...]
) -> None:
    run_unfolded("record", bridge, *AFTER, *WHO, *first)
    code, out, _ = run_unfolded("record", bridge, "--drawer-as-csv")
    assert (code, "R-07: on_hand 1 becomes 0 (row 3)" in out) == (0, True)
    assert (counts(bridge), state(bridge), there(bridge)) == (LEFT, ["done"], LEFT)


@pytest.mark.parametrize(("settle", "left"), [("done", 1), ("apply", 0)])
def test_whether_it_was_changed_by_hand_a_person_says(run_unfolded: Run, bridge: Path, settle: str, left: int) -> None:
    run_unfolded("record", bridge, *AFTER, *WHO, "--update-drawer")
    # something was changed, and it is not what was told
    by_hand(bridge, E4=1)
    job = (bridge / "job.toml").read_bytes()
    code, _, err = run_unfolded("record", bridge, "--drawer-as-csv")
    assert (code, "--settle done" in err, (bridge / "tins.csv").exists()) == (2, True, False)
    assert (bridge / "job.toml").read_bytes() == job
    assert run_unfolded("record", bridge, "--drawer-as-csv", "--settle", settle)[0] == 0
    assert (counts(bridge)["R-07"], counts(bridge)["W-04"], state(bridge)) == (left, 1, ["done"])


def test_without_a_record_it_becomes_a_csv_as_it_is(run_unfolded: Run, bridge: Path) -> None:
    code, out, _ = run_unfolded("record", bridge, "--drawer-as-csv")
    assert (code, "with the counts of the workbook" in out) == (0, True)
    assert counts(bridge) == {"R-03": 3, "R-07": 1, "W-04": 2, "W-08": 2}
    assert 'drawer = "tins.csv"' in (bridge / "job.toml").read_text()


@pytest.mark.parametrize(
    "wrong",
    [
        ("--after", "upper 1=nonsense", *WHO),
        AFTER,
        (*AFTER, *WHO, "--fitted", "uper 1=R-03"),
        (*AFTER, *WHO, "--fitted", "upper 1=R-07 + R-07"),
        ("--fitted", "upper 1=R-03"),
    ],
)
def test_where_anything_is_wrong_nothing_is_written(run_unfolded: Run, bridge: Path, wrong: tuple[str, ...]) -> None:
    before = {path.name: path.read_bytes() for path in bridge.iterdir()}
    code, _, err = run_unfolded("record", bridge, *wrong, "--drawer-as-csv")
    assert (code, bool(err)) == (2, True)
    assert {path.name: path.read_bytes() for path in bridge.iterdir()} == before


def test_a_csv_that_is_there_already_is_left_alone(run_unfolded: Run, bridge: Path) -> None:
    (bridge / "tins.csv").write_text("part,thickness_thou,on_hand\nX,1,1\n")
    before = {path.name: path.read_bytes() for path in bridge.iterdir()}
    code, _, err = run_unfolded("record", bridge, *AFTER, *WHO, "--drawer-as-csv")
    assert (code, "there already" in err) == (2, True)
    assert {path.name: path.read_bytes() for path in bridge.iterdir()} == before


def test_cut_off_after_the_csv_was_written_the_same_command_goes_on(
    run_unfolded: Run, bridge: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from shimopt.recording import recorded_once

    def cut(*_: object, **__: object) -> object:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(recorded_once, "_with_drawer", cut)
        assert run_unfolded("record", bridge, *AFTER, *WHO, "--drawer-as-csv")[0] == 130
    assert (bridge / "tins.csv").exists()
    assert state(bridge) == []
    assert run_unfolded("record", bridge, *AFTER, *WHO, "--drawer-as-csv")[0] == 0
    assert (counts(bridge), state(bridge)) == (LEFT, ["done"])
