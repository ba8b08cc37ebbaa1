"""A record keeps the blades that it was read with: card and sheet go on with what goes and what does not."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from shimopt.job import load_job
from shimopt.planner import decide
from shimopt.words.read_steps import blanks
from tests.command import Run
from tests.job_files import write_job

GAP = (
    'title = "Pump"\nunit = "mm"\ndrawer = "drawer.csv"\n[[gap]]\nname = "float"\n{}\n'
    'window = {{ min = 0.15, max = 0.30, source = "sheet" }}\n'
)
DRAWER = "part,thickness_mm,on_hand\nH40,0.40,1\n"
FEELER, DIAL = "feeler = { go = 0.60, no_go = 0.65 }", "indicator = { readings = [0.62, 0.63, 0.62] }"
WHO = ("--person", "W. Ames", "--instrument", "blades")


def recorded(run: Run, folder: Path, gap: str, read: str) -> Path:
    job = write_job(folder, GAP.format(gap), DRAWER)
    assert run("record", job, "--after", f"float={read}", "--update-drawer", *WHO)[0] == 0
    return job


def test_a_pair_of_blades_stays_a_pair(run: Run, tmp_path: Path) -> None:
    # 0.625 less 0.40 is 0.225
    job = recorded(run, tmp_path, FEELER, "0.22 to 0.25 mm")
    written = tomllib.loads((job / "job.toml").read_text("utf-8"))["record"][0]["gap"][0]
    assert (written["go"], written["no_go"]) == ("0.22 mm", "0.25 mm")
    (gap,) = load_job(job).gaps
    assert gap.blades == (220_000, 250_000)
    assert blanks(gap) == ["goes", "does not go"]
    (row,) = json.loads(run("order", job, "--json")[1])["cards"][0]["blades"]
    assert (row["go"], row["no_go"], row["stack"][0]["part"]) == (0.22, 0.25, "H40")


@pytest.mark.parametrize("read", ["0.235 mm ± 0.015 mm", "0.235"])
def test_a_figure_is_no_pair(run: Run, tmp_path: Path, read: str) -> None:
    (gap,) = load_job(recorded(run, tmp_path, FEELER, read)).gaps
    assert gap.blades is None


def test_from_to_on_a_dial_is_no_pair_and_it_is_pulled_again(run: Run, tmp_path: Path) -> None:
    job = load_job(recorded(run, tmp_path, DIAL, "0.22 to 0.25 mm"))
    assert job.gaps[0].blades is None
    assert blanks(job.gaps[0]) == ["pull 1", "pull 2", "pull 3"]
    assert decide(job).changes.nothing


def test_a_preload_is_no_pair(run: Run, tmp_path: Path) -> None:
    job = write_job(tmp_path, GAP.format(FEELER).replace("min = 0.15", "min = -0.30"), DRAWER)
    run("record", job, "--after", "float=preload 0.22 to 0.25 mm", *WHO)
    assert load_job(job).gaps[0].blades is None
