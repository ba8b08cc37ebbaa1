"""Running torque: typed with its unit and how it was taken, kept in the record, told on screen, in JSON and letter."""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from fractions import Fraction
from html import unescape
from pathlib import Path

import pytest

import shimopt
from shimopt.assembly import running_torque
from shimopt.errors import InputError
from shimopt.job import load_job
from tests.command import Run

CROWN = Path(__file__).parent / "data" / "crown-wheel"
WHO = ("--person", "M. Hale", "--instrument", "spring balance", "--date", "2026-05-03")
TORQUE = ("--running-torque", "bearing play=1.2 N·m, without oil")


@pytest.fixture
def crown(tmp_path: Path) -> Path:
    return Path(shutil.copytree(CROWN, tmp_path / "crown"))


def test_it_goes_from_the_call_into_the_job_and_from_there_onto_every_paper(run_unfolded: Run, crown: Path) -> None:
    code, out, _ = run_unfolded("record", crown, *TORQUE, "--after", "backlash=0.21", *WHO)
    assert code == 0
    compare = "compare it with the maker's figure, for this job states none."
    assert f"bearing play: running torque 1.2 N·m without oil: {compare}" in out
    (record,) = tomllib.loads((crown / "job.toml").read_text(encoding="utf-8"))["record"]
    kept = {gap["name"]: gap.get("running_torque") for gap in record["gap"]}
    assert kept == {"backlash": None, "bearing play": "1.2 N·m, without oil"}
    found = load_job(crown).records[0].gaps["bearing play"].running
    assert found is not None
    assert (found.torque.low, found.torque.high, found.how) == (Fraction("1.2"), Fraction("1.2"), "without oil")
    _, out, _ = run_unfolded("plan", crown)
    assert "Measured then: bearing play: running torque 1.2 N·m without oil." in out
    _, out, _ = run_unfolded("plan", crown, "--json")
    (told,) = json.loads(out)["started_from"]["running_torque"]
    assert (told["gap"], told["newton_metres"], told["how"]) == (
        "bearing play",
        {"low": 1.2, "high": 1.2},
        "without oil",
    )
    run_unfolded("letter", crown, "-o", crown / "letter.html")
    text = re.sub(r"<[^>]+>", " ", (crown / "letter.html").read_text(encoding="utf-8"))
    compare = "compare it with the maker's figure, for this job states none"
    assert unescape(text).count(f"Running torque 1.2 N·m without oil, measured on 2026-05-03: {compare}.") == 1


def test_it_may_be_all_that_was_measured_and_nothing_else_is_called_measured(run_unfolded: Run, crown: Path) -> None:
    code, out, _ = run_unfolded("record", crown, *TORQUE, *WHO, "--json")
    said = json.loads(out)
    assert (code, said["gaps"]) == (0, [])
    assert [each["words"] for each in said["running_torque"]] == ["running torque 1.2 N·m without oil"]
    run_unfolded("letter", crown, "-o", crown / "letter.html")
    text = re.sub(r"<[^>]+>", " ", (crown / "letter.html").read_text(encoding="utf-8"))
    assert "partly measured after fitting" not in text
    _, out, _ = run_unfolded("record", crown, *TORQUE, *WHO)
    assert "The same was recorded before" in out
    assert len(load_job(crown).records) == 1


# 1 lbf·in = 4.4482216152605 N × 0.0254 m = 0.1129848290276167 N·m: 8 of them 0.90388, 11 of them 1.24283
def test_a_range_in_another_unit_and_free_words() -> None:
    found = running_torque("8 to 11 lbf in, as the maker states")
    assert (round(float(found.torque.low), 5), round(float(found.torque.high), 5)) == (0.90388, 1.24283)
    assert (found.how, str(found)) == ("as the maker states", "8 to 11 lbf in, as the maker states")
    assert str(running_torque(" 1.2 N·m ")) == "1.2 N·m"
    assert running_torque("1.2 N·m, seals in, 20 °C").how == "seals in, 20 °C"


@pytest.mark.parametrize(
    ("typed", "rule", "remedy"),
    [
        ("bering play=1.2 N·m", "the job has no gap of this name", "mean bearing play?"),
        ("1.2 N·m", "a running torque names its gap", "GAP=1.2 N·m"),
        ("bearing play=1.2", "a torque carries its unit", "without oil"),
        ("bearing play=1.2, without oil", "a torque carries its unit", "without oil"),
        ("bearing play=-1.2 N·m", "above zero", "take the minus out"),
        ("bearing play=0 N·m", "above zero", "check the number"),
        ("bearing play=1,2 N·m", "decimal point", "1.2 N·m"),
        ("bearing play=1.2 mm", "unit of torque is not known", "use N·m"),
        ("bearing play=stiff", "this is not a torque", "without oil"),
    ],
)
def test_what_is_no_running_torque_is_told_and_nothing_is_written(
    run_unfolded: Run, crown: Path, typed: str, rule: str, remedy: str
) -> None:
    before = (crown / "job.toml").read_bytes()
    code, _, err = run_unfolded("record", crown, "--running-torque", typed, "--after", "backlash=0.21", *WHO)
    assert code == 2
    assert typed in err
    assert rule in err
    assert remedy.lower() in err.lower()
    assert (crown / "job.toml").read_bytes() == before
    assert not (crown / "job.toml.bak").exists()
    name, sign, value = typed.partition("=")
    if sign:
        with pytest.raises(InputError):
            shimopt.record(crown, {"backlash": 0.21}, person="A", instrument="B", running_torque={name: value})
        assert (crown / "job.toml").read_bytes() == before


def test_from_python_the_table_of_the_record_reads_back(crown: Path) -> None:
    turned = {"bearing play": "1.1 to 1.3 N·m, without oil"}
    done = shimopt.record(crown, {}, person="A", instrument="B", running_torque=turned)
    assert [gap.get("running_torque") for gap in done.table["gap"]] == [None, "1.1 to 1.3 N·m, without oil"]
    found = load_job(crown).records[0].gaps["bearing play"].running
    assert found is not None
    assert (found.torque.low, found.torque.high) == (Fraction("1.1"), Fraction("1.3"))
