"""The fuzzer itself: the same case again is the same job, and it notices what is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

import tests.faults.fuzzer as fuzzer
from shimopt.errors import FaultError
from tests.faults.harness import files_of


def test_a_case_is_the_same_job_again_and_another_seed_another(tmp_path: Path) -> None:
    for folder, seed in (("one", 1), ("again", 1), ("other", 2)):
        fuzzer.write_case(tmp_path / folder, seed, 5)
    assert files_of(tmp_path / "one") == files_of(tmp_path / "again")
    assert files_of(tmp_path / "one") != files_of(tmp_path / "other")


def test_most_cases_reach_the_solver(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    monkeypatch.setattr(fuzzer, "tell_all", lambda job, _: asked.append(job))
    for case in range(60):
        fuzzer.write_case(tmp_path / str(case), 1, case)
        assert fuzzer.wrong_with(tmp_path / str(case), buy=False)[0] == ""
    assert len(asked) > 30


@pytest.mark.parametrize("wrong", ["fault", "error", "endless"])
def test_what_is_wrong_is_noticed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, wrong: str) -> None:
    def goes_wrong(*_: object) -> None:
        if wrong == "fault":
            raise FaultError("it contradicts itself")
        if wrong == "error":
            raise KeyError("no such thing")
        while True:
            pass

    monkeypatch.setattr(fuzzer, "tell_all", goes_wrong)
    monkeypatch.setattr(fuzzer, "_LONGEST", 1)
    fuzzer.write_coupled(tmp_path / "job", fuzzer.Random(1))
    said = {"fault": "it contradicts itself", "error": "no such thing", "endless": "still going on"}
    assert said[wrong] in fuzzer.wrong_with(tmp_path / "job", buy=False)[0]
