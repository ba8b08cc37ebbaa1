"""Every command that writes is killed, and fails, at every point at which it touches a file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.faults.harness import Faults, try_every_point
from tests.job_files import write_job
from tests.test_accept import ARRIVED, HEAD, ROW

JOB = """\
unit = "thou"
drawer = "drawer.csv"
window = { min = 4, max = 12, source = "sheet 7" }
seat = [{ name = "end", shaft = "0.6248 in ± 0.0002 in" }]
gap = [{ name = "drum", seat = "end", feeler = { go = 17, no_go = 18 } }]
"""
DRAWER = "part,thickness_thou,inner_in,on_hand\nS-7,7,0.6265,10\n"
DAY = ("--date", "2026-05-03")
RECORD = ("record", ".", "--after", "drum=10 to 11", "--person", "M. Hale", "--instrument", "blades", *DAY)


def a_job(folder: Path) -> None:
    write_job(folder, JOB, DRAWER)


def nothing(_: Path) -> None:
    """The folder is made by the command."""


def a_note(folder: Path) -> None:
    (folder / "note.txt").write_text("mine", encoding="utf-8")


def in_a_workbook(folder: Path) -> None:
    write_job(folder, JOB.replace("drawer.csv", "drawer.xlsx"), None)
    book = openpyxl.Workbook()
    for line in DRAWER.splitlines():
        book.active.append(line.split(","))
    book.save(folder / "drawer.xlsx")


def arrived(folder: Path) -> None:
    write_job(folder, drawer=HEAD + ROW, arrived_csv=ARRIVED)


# the one ring in the drawer is too thick for the gap, the one that serves it is on offer
ON_OFFER = "part,thickness_thou,inner_in,price,currency,supplier\nS-7,7,0.6265,3.00,GBP,Ostler\n"


def to_order(folder: Path) -> None:
    (folder / "job").mkdir()
    job = JOB.replace('"drawer.csv"\n', '"drawer.csv"\ncatalogues = ["offers.csv"]\n')
    job += 'supplier = [{ name = "Ostler", postage = 2.75 }]\n'
    write_job(folder / "job", job, DRAWER.replace("S-7,7", "S-30,30"), offers_csv=ON_OFFER)
    (folder / "old.txt").write_text("the order of last year", encoding="utf-8")


PARCEL = "part,piece,on_hand,measured_thou,measuring_error_thou\nS-7,a,1,7.02,0.1\n"
CAME = ("order", "job", "--came", "parcel.csv", "--yes", *DAY)


def a_parcel(folder: Path) -> None:
    to_order(folder)
    (folder / "parcel.csv").write_text(PARCEL, encoding="utf-8")


def many_gaps(folder: Path) -> None:
    (folder / "parts.csv").write_text("part,thickness_mm\nS-1,0.1\nS-2,0.2\n", encoding="utf-8")
    rows = "".join(f"g{number},{number / 100},{number / 100 + 0.02}\n" for number in range(6))
    (folder / "gaps.csv").write_text(f"gap,low_mm,high_mm\n{rows}", encoding="utf-8")


BATCH = ("batch", "gaps.csv", "--parts", "parts.csv", "--min", "0.1 mm", "--max", "0.25 mm", "-o")
# two pieces; the gaps' file is copied for each trial, and keeps its time, by which a batch knows it again
SMALL_PIECES = {"settings": {"shimopt.batch.csv_source.PIECE_BYTES": 50}}
Calls = dict[str, tuple[Callable[[Path], object], tuple[str, ...], dict[str, Any]]]
BEGUN = {"job.toml": b'drawer = "pending"'}
CALLS: Calls = {
    "record": (a_job, RECORD, {}),
    "record and drawer": (a_job, (*RECORD, "--update-drawer"), {"on_the_way": BEGUN}),
    "record and workbook": (
        in_a_workbook,
        (*RECORD, "--drawer-as-csv"),
        {"on_the_way": {**BEGUN, "drawer.csv": DRAWER.encode()}},
    ),
    "accept": (arrived, ("fit", ".", "--measured", "arrived.csv", "--accept"), {}),
    "draw parts": (a_job, ("fit", ".", "-o", "parts.svg"), {}),
    "draw and accept": (arrived, ("fit", ".", "--measured", "arrived.csv", "--accept", "-o", "parts.svg"), {}),
    "order": (to_order, ("order", "job", "-o", "list.csv", "-o", "old.txt", "--card", "card.html", *DAY), {}),
    "came": (a_parcel, (*CAME, "--card", "card.html"), {}),
    "new": (nothing, ("new", "winch", "--yes"), {}),
    "new in a folder": (a_note, ("new", ".", "--yes"), {}),
    "plan": (a_job, ("plan", ".", "-o", "plan.json"), {}),
    "letter": (a_job, ("letter", ".", "-o", "letter.html", *DAY), {}),
    "sheet": (a_job, ("sheet", ".", "-o", "sheet.pdf", *DAY), {}),
    "draw": (a_job, ("draw", ".", "-o", "gaps.svg"), {}),
    "batch as CSV": (many_gaps, (*BATCH, "out.csv"), SMALL_PIECES),
    # pieces are kept as those of a CSV are
    "batch as parquet": (many_gaps, (*BATCH, "out.parquet"), {**SMALL_PIECES, "only": ("replace", "fsync")}),
    # each time two processes are started: not oftener than must be
    "jobs": (a_job, ("batch", "--jobs", ".", "-o", "jobs.csv"), {"only": ("replace",)}),
}


@pytest.mark.parametrize("called", CALLS)
def test_whatever_happens_files_are_old_or_new_and_the_same_command_finishes(
    faults: Faults, tmp_path: Path, called: str
) -> None:
    make, command, how = CALLS[called]
    try_every_point(faults, tmp_path, make, command, **how)
