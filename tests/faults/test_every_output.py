"""Every command with every kind of output on every job of these tests: nobody is told of a fault of our own.

Each job is read, planned and ordered, and a parcel held against its order, once for all of its outputs.
"""

from __future__ import annotations

import shutil
import tomllib
from pathlib import Path
from typing import Any

import pytest

import shimopt.job
import shimopt.ordering.order
import shimopt.planner
import shimopt.receiving
from shimopt.job import Job, load_job
from shimopt.ordering.order import make_order
from shimopt.ordering.order_result import Order
from shimopt.planner import Decision, decide
from shimopt.receiving import Parcel, received
from tests.command import Run
from tests.hard_job import write_hard_job

ROOT = Path(__file__).parents[2]
JOBS = sorted([*(ROOT / "demo_data").glob("*/job.toml"), *(ROOT / "tests" / "data").glob("**/job.toml")])
ENDINGS = {".csv", ".html", ".json", ".pdf", ".svg", ".txt", ".xlsx"}
DAY = ("--date", "2026-05-03")
TOLD = ((), ("--json",))
# what each command may be asked for, after the job
CALLS: tuple[tuple[str, ...], ...] = (
    *(("plan", *more) for more in ((), ("--json",), ("-o", "-"), ("-o", "plan.json"), ("--unit", "in"), ("--quiet",))),
    *(("plan", "--choices", *more) for more in TOLD),
    *(("plan", "--buy", *more) for more in TOLD),
    *(("why", *more) for more in TOLD),
    *(("why", "--buy", *more) for more in TOLD),
    *(("letter", "-o", f"letter.{ending}", *DAY) for ending in ("pdf", "html")),
    ("letter", "-o", "letter-buy.html", "--buy", "--unit", "mm", *DAY),
    *(("sheet", "-o", f"sheet.{ending}", *DAY) for ending in ("pdf", "html")),
    *(("sheet", "-o", f"sheet-card.{ending}", "--card", "--paper", "letter", *DAY) for ending in ("pdf", "html")),
    ("draw", "-o", "gaps.svg"),
    *(("fit", *more) for more in (*TOLD, ("-o", "parts.svg"))),
    *(("order", "--came", "job/drawer.csv", *more) for more in (*TOLD, ("--yes", "--card", "card.html", *DAY))),
    *(("order", *more) for more in (*TOLD, ("-o", "-"), ("--semicolons", "-o", "list.csv"))),
    ("order", *(word for ending in ("csv", "xlsx", "txt", "json") for word in ("-o", f"all.{ending}"))),
    ("order", *(word for ending in ("pdf", "html", "csv", "txt") for word in ("--card", f"card.{ending}")), *DAY),
)


def worked_out_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever is worked out of a job is kept for the next command."""
    jobs: dict[Path, Job] = {}
    plans: dict[tuple[int, bool, bool], Decision] = {}
    orders: dict[tuple[int, ...], Order] = {}
    parcels: dict[tuple[object, ...], Parcel] = {}

    def loaded(path: Path, **how: Any) -> Job:
        assert not any(how.values())
        if path not in jobs:
            jobs[path] = load_job(path)
        return jobs[path]

    def decided(job: Job, *, buy: bool = False, choices: bool = False, **_: Any) -> Decision:
        key = id(job), buy, choices
        if key not in plans:
            plans[key] = decide(job, buy=buy, choices=choices)
            if choices and (bare := plans.get((id(job), buy, False))):
                # what another reading would tell is the same with choices and without
                plans[key].worked_out.update(bare.worked_out)
        return plans[key]

    def ordered(of: list[Job], **_: Any) -> Order:
        key = tuple(map(id, of))
        if key not in orders:
            orders[key] = make_order(of)
        return orders[key]

    def held(of: list[Job], came: Path, **how: Any) -> Parcel:
        key = (*map(id, of), came.read_bytes())
        if key not in parcels:
            parcels[key] = received(of, came, **how)
        return parcels[key]

    monkeypatch.setattr(shimopt.job, "load_job", loaded)
    monkeypatch.setattr(shimopt.planner, "decide", decided)
    monkeypatch.setattr(shimopt.ordering.order, "make_order", ordered)
    monkeypatch.setattr(shimopt.receiving, "received", held)


def what_is_wrong(run: Run, folder: Path, command: str, more: tuple[str, ...]) -> str:
    """What a call did that no call does: a fault, files that nobody asked for, none of those that somebody did."""
    asked = {word for word in more if Path(word).suffix in ENDINGS and not (folder / word).exists()}
    code, _, err = run(command, "job", *more)
    written = {path.name for path in folder.iterdir()} - {"job"}
    said = f"{' '.join([command, *more])}: exit {code}, {sorted(written)}, {err}"
    empty = [name for name in written if not (folder / name).stat().st_size]
    for name in written:
        (folder / name).unlink()
    right = code in (0, 1) and written == asked
    refused = code == 2 and not written and all(line.startswith("shimopt") for line in err.splitlines())
    return "" if (right or refused) and not empty and "fault" not in err else said


@pytest.mark.parametrize("job", [*JOBS, None], ids=lambda path: path.parent.name if path else "markup")
def test_every_command_with_every_output(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, job: Path | None
) -> None:
    if job is None:
        (tmp_path / "job").mkdir()
        write_hard_job(tmp_path / "job", count=6)
    else:
        shutil.copytree(job.parent, tmp_path / "job")
    monkeypatch.chdir(tmp_path)
    worked_out_once(monkeypatch)
    written = tomllib.loads((tmp_path / "job" / "job.toml").read_text(encoding="utf-8"))
    name = next((gap["name"] for gap in written.get("gap", ())), "nobody")
    record = (
        "--after",
        f"{name}=0.1 mm",
        "--person",
        "M.",
        "--instrument",
        "blades",
        "--update-drawer",
        "--json",
        *DAY,
    )
    calls = [*CALLS, ("record", *record)]
    assert [wrong for command, *more in calls if (wrong := what_is_wrong(run, tmp_path, command, tuple(more)))] == []
