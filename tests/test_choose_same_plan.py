"""Same job, same plan: whatever the order of rows, and at every run."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from random import Random

import pytest

from shimopt.job import load_job
from shimopt.planner import decide

JOB = """
title = "Ten arms"
unit = "thou"
drawer = "drawer.csv"
gaps = "gaps.csv"
balance_within = 2

[window]
min = 4
max = 10
source = "test"

[[gap]]
name = "main arm"
feeler = { go = 17, no_go = 18 }
"""
# many equal ways: like gaps, sizes that add up to one another, two parts of one thickness
LOWS = [12, 14, 14, 16, 18, 9, 14, 16]
GAPS = [f"arm {n},{low},{low + 1},{'row a' if n % 2 else 'row b'}" for n, low in enumerate(LOWS)]
DRAWER = ["S-2,2,3", "S-4,4,2", "S-5,5,3", "T-5,5,2", "S-6,6,1", "S-10,10,1"]

ONE_RUN = """
import sys
from shimopt.job import load_job
from shimopt.planner import decide
decision = decide(load_job(sys.argv[1]))
print(list(decision.stacks.items()), [(level.name, level.value, level.bound) for level in decision.levels],
      decision.reasons, decision.findings)
"""


def written(folder: Path, gaps: list[str], drawer: list[str]) -> Path:
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    (folder / "gaps.csv").write_text("\n".join(["gap,low_thou,high_thou,balance", *gaps]), encoding="utf-8")
    (folder / "drawer.csv").write_text("\n".join(["part,thickness_thou,on_hand", *drawer]), encoding="utf-8")
    return folder / "job.toml"


def named_stacks(job_file: Path) -> dict[str, list[str]]:
    job = load_job(job_file)
    stacks = decide(job).stacks
    return {place: [job.stock[i].part.name for i in stack] for place, stack in stacks.items()}


@pytest.mark.parametrize("seed", range(6))
def test_the_order_of_rows_changes_nothing(seed: int, tmp_path: Path) -> None:
    plain = named_stacks(written(tmp_path, GAPS, DRAWER))
    rng = Random(seed)
    shuffled = named_stacks(written(tmp_path, rng.sample(GAPS, len(GAPS)), rng.sample(DRAWER, len(DRAWER))))
    assert shuffled == plain
    assert any(plain.values())


def test_two_programs_with_different_hash_seeds_make_the_same_plan(tmp_path: Path) -> None:
    job_file = written(tmp_path, GAPS, DRAWER)
    runs = [
        subprocess.run(
            [sys.executable, "-c", ONE_RUN, str(job_file)],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
        )
        for seed in ("1", "2")
    ]
    assert runs[0].stdout == runs[1].stdout != ""
