"""Jobs written as files for tests: one good job, and ways to spoil it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pytest

from shimopt.errors import InputError, Problem
from shimopt.job import load_job

JOB = """\
title = "Drive of the swing bridge"
unit = "thou"
drawer = "drawer.csv"

[window]
min = 4
max = 12
source = "works drawings 1931, sheet 7"

[[seat]]
name = "plain end"
shaft = "0.6248 in ± 0.0002 in"

[[gap]]
name = "upper 1"
seat = "plain end"
feeler = { go = 17, no_go = 18 }

[[gap]]
name = "upper 2"
value = 9
"""

DRAWER = "part,thickness_thou,on_hand\nS-05,5,4\nS-10,10,2\n"


def write_job(folder: Path, job: str | bytes = JOB, drawer: str | bytes | None = DRAWER, **others: str | bytes) -> Path:
    """A folder with a job in it; `others` are more files, `gaps_csv` for gaps.csv."""
    files = {"job.toml": job, "drawer.csv": drawer} | {name.replace("_", "."): text for name, text in others.items()}
    for name, text in files.items():
        if text is not None:
            (folder / name).write_bytes(text.encode() if isinstance(text, str) else text)
    return folder


def edited(*edits: tuple[str, str], of: str = JOB) -> str:
    """The good job with each first text, which stands in it once, replaced by the second."""
    for old, new in edits:
        assert of.count(old) == 1, f"{old!r} stands {of.count(old)} times"
        of = of.replace(old, new)
    return of


def problems_of(path: Path, drawer: Path | None = None) -> tuple[Problem, ...]:
    """What is wrong with a job that cannot be read."""
    with pytest.raises(InputError) as caught:
        load_job(path, drawer=drawer)
    return caught.value.problems


def the_problem(path: Path) -> Problem:
    """The one thing that is wrong."""
    problems = problems_of(path)
    assert len(problems) == 1, "\n".join(map(str, problems))
    return problems[0]


def check(problem: Problem, *, file: str, where: str, value: str, rule: Iterable[str], remedy: Iterable[str]) -> None:
    """A problem names its place and value exactly, and says these words."""
    assert (Path(problem.file).name, problem.where, problem.value) == (file, where, value)
    for words in rule:
        assert words in problem.rule
    for words in remedy:
        assert words in problem.remedy
