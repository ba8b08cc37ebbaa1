"""Names and answers whose bytes are no characters, as old disks and terminals have them: never a fault, and told.

Python hands such bytes on as signs that no file can hold.
"""

from __future__ import annotations

import csv
import json
import os
import shutil
from pathlib import Path

import pyarrow.parquet
import pytest

from shimopt.errors import writable
from tests.command import Run
from tests.faults.test_every_output import CALLS
from tests.readme import ROOT
from tests.terminal import Person

BYTES = b"\xfcbung \xff"
NAME = os.fsdecode(BYTES)
TOLD = "\\udcfcbung \\udcff"
DEMO = ROOT / "demo_data" / "swing-bridge"
WHO = ("--after", "upper 1=10 to 11 thou", "--instrument", "blades", "--date", "2026-05-03")


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A job in a folder of this name, from the folder above it."""
    monkeypatch.chdir(tmp_path)
    return Path(shutil.copytree(DEMO, NAME))


def test_what_no_file_can_hold_becomes_escapes_and_all_else_stays() -> None:
    assert writable(NAME) == TOLD
    assert writable("Gehäuse é 軸 \u202e\x1b") == "Gehäuse é 軸 \u202e\x1b"


@pytest.mark.parametrize("call", [*CALLS, ("parts", "--catalogue", "drawer.csv")], ids=" ".join)
def test_every_command_reads_a_job_in_such_a_folder(run: Run, job: Path, call: tuple[str, ...]) -> None:
    command, *more = (word.replace("job/drawer.csv", f"{NAME}/drawer.csv") for word in call)
    given = (job / "drawer.csv",) if command == "parts" else (job, *more)
    code, _, err = run(command, *((*more[:1], *given) if command == "parts" else given))
    # the drawer is no parcel
    assert code in ((2,) if "--came" in call else (0, 1)), err
    assert "fault" not in err


def test_what_is_wrong_is_told_as_data_too(run: Run, job: Path) -> None:
    code, out, err = run("plan", job / "nowhere", "--json")
    assert (code, "nowhere: there is no such job file" in err) == (2, True)
    # a sign of this kind stands in JSON as its number
    assert json.loads(out)["errors"][0]["file"] == f"{NAME}/nowhere"


@pytest.mark.parametrize("table", ["out.csv", "out.parquet", "--json"])
def test_such_a_job_takes_no_other_with_it(run: Run, job: Path, table: str) -> None:
    shutil.copytree(job, "other")
    code, out, _ = run("batch", "--jobs", ".", *(("-o", table) if table != "--json" else (table,)))
    assert code == 0
    if table == "--json":
        named = [one["job"] for one in json.loads(out)["jobs"]]
    elif table == "out.csv":
        named = [row["job"] for row in csv.DictReader(Path(table).read_text(encoding="utf-8").splitlines())]
    else:
        named = pyarrow.parquet.read_table(table)["job"].to_pylist()
    assert set(named) == {"other", TOLD}


def test_a_record_that_no_file_can_hold_is_refused_and_nothing_is_written(run: Run, job: Path) -> None:
    before = {path.name: path.read_bytes() for path in job.iterdir()}
    code, _, err = run("record", job, *WHO, "--person", NAME, "--update-drawer")
    assert (code, "holds signs that no file can hold" in err) == (2, True)
    assert {path.name: path.read_bytes() for path in job.iterdir()} == before
    assert run("record", job, *WHO, "--person", "Übung", "--update-drawer")[0] == 0


def test_an_answer_that_no_file_can_hold_is_asked_for_again(job: Path) -> None:
    readings = [word for word in WHO if word != "--instrument" and word != "blades"]
    with Person(job, "record", ".", *readings, env={"PYTHONIOENCODING": "utf-8:surrogateescape"}) as person:
        person.hears("Fitted as planned?").types("y")
        person.hears("Who read it").types(NAME)
        person.hears("Please type it again").hears("Who read it").types("M. Hale")
        person.hears("With which instrument").types("blades")
        assert person.ends() == 0
    assert 'person = "M. Hale"' in (job / "job.toml").read_text(encoding="utf-8")
