"""A folder of jobs planned at once: every job's answer, broken ones among them, and one table."""

from __future__ import annotations

import errno
import json
import os
import shutil
from pathlib import Path

import pyarrow.parquet
import pytest

import shimopt
from shimopt.batch.job_folder import plan_folder
from shimopt.planner import decide
from shimopt.render.screens.batch_screen import jobs_lines
from tests.batch_files import Batches
from tests.dying_planner import dies
from tests.faults.harness import Faults

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "demo_data"
COLUMNS = [
    "job",
    "title",
    "gaps",
    "inside",
    "unproven",
    "outside",
    "pieces",
    "exit_code",
    "error",
    "settle_first",
    "go_in",
]


@pytest.fixture
def batches(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Batches:
    return Batches(tmp_path, capsys)


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Two jobs of the demos, one of them deeper; one that is broken, one whose drawer is missing."""
    jobs = tmp_path / "jobs"
    shutil.copytree(DEMO / "swing-bridge", jobs / "year 10" / "bridge")
    shutil.copytree(DEMO / "quarry-tram", jobs / "year 2" / "tram")
    (jobs / "broken").mkdir()
    (jobs / "broken" / "job.toml").write_text('unit = "furlong"\n')
    shutil.copytree(DEMO / "swing-bridge", jobs / "no drawer")
    (jobs / "no drawer" / "drawer.csv").unlink()
    return jobs


def test_every_job_is_answered_as_plan_answers_it_and_broken_ones_stop_nothing(batches: Batches, shop: Path) -> None:
    ended = batches.call("--jobs", shop, "-o", batches.out)
    assert ended.code == 1
    assert [row["job"] for row in ended.rows] == ["broken", "no drawer", "year 2/tram", "year 10/bridge"]
    assert [row["exit_code"] for row in ended.rows] == ["2", "2", "1", "0"]
    assert list(ended.rows[0]) == COLUMNS
    for row, job in ((ended.rows[2], "quarry-tram"), (ended.rows[3], "swing-bridge")):
        plan = decide(shimopt.load_job(DEMO / job))
        verdicts = [found.verdict for found in plan.outcome.gaps.values()]
        assert row["title"] == plan.job.title
        assert [int(row[key]) for key in ("inside", "unproven", "outside")] == [
            verdicts.count(verdict) for verdict in ("inside", "unproven", "outside")
        ]
        assert int(row["pieces"]) == plan.outcome.levels["pieces"]
        assert row["error"] == ""
    assert "unit" in ended.rows[0]["error"]
    assert "drawer.csv" in ended.rows[1]["error"]
    assert ended.out.startswith("1 of 4 jobs can be done; 2 jobs could not be planned.\n")
    assert ended.err == ""


def test_the_answers_are_data_and_a_parquet_table_too_and_all_done_exits_with_0(batches: Batches, shop: Path) -> None:
    shutil.rmtree(shop / "broken")
    shutil.rmtree(shop / "no drawer")
    table = batches.folder / "jobs.parquet"
    # with what the catalogues offer, the tram can be done too
    ended = batches.call("--jobs", shop, "--buy", "-o", table, "--json")
    said = json.loads(ended.out)
    assert (said["format"], said["doable"], ended.code) == (1, True, 0)
    assert said["jobs"] == pyarrow.parquet.read_table(table).to_pylist()
    assert [job["outside"] for job in said["jobs"]] == [0, 0]


@pytest.mark.parametrize(
    "arguments",
    [
        ["--jobs", "no-such-folder"],
        ["--jobs", "."],
        ["--jobs", "jobs", "-o", "jobs.xlsx"],
        ["--jobs", "jobs", "-o", "jobs/broken/job.toml"],
        ["--jobs", "jobs", "--parts", "x.csv"],
        ["--jobs", "jobs", "--scheduler", "local"],
    ],
)
def test_a_wrong_call_is_refused(
    batches: Batches, arguments: list[str], shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    empty = batches.folder / "empty"
    empty.mkdir()
    monkeypatch.chdir(empty if arguments[1] == "." else batches.folder)
    ended = batches.call(*arguments)
    assert (ended.code, ended.out) == (2, "")
    assert ended.err.startswith(("shimopt: ", "shimopt batch: "))
    assert (shop / "broken" / "job.toml").read_text() == 'unit = "furlong"\n'


def test_a_job_that_kills_its_process_takes_no_other_with_it(shop: Path) -> None:
    come: list[tuple[str, int, int]] = []
    answers = plan_folder(shop, told=lambda answer, n, of: come.append((answer.job, n, of)), planned=dies)
    assert [answer.exit_code for answer in answers] == [3, 0, 0, 0]
    assert "process that planned it died" in answers[0].error
    assert [(n, of) for _, n, of in come] == [(1, 4), (2, 4), (3, 4), (4, 4)]
    assert {job for job, _, _ in come} == {answer.job for answer in answers}


def test_ctrl_c_ends_quietly_and_leaves_no_process(faults: Faults, shop: Path) -> None:
    answered = "concurrent.futures.Future.result", 1
    ended = faults.run(shop, "batch", "--jobs", ".", do="interrupt", after=answered)
    assert (ended.code, ended.out, ended.err.strip(), ended.left) == (130, "", "", [])


def test_a_folder_that_cannot_be_looked_into_and_a_job_that_is_no_file_are_counted_and_named(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (shop / "folder" / "job.toml").mkdir(parents=True)
    (shop / "gone").mkdir()
    (shop / "gone" / "job.toml").symlink_to(shop / "nowhere.toml")
    (shop / "private").mkdir()
    scandir = os.scandir

    def closed(path: str) -> object:
        if os.fspath(path).endswith("private"):
            raise PermissionError(errno.EACCES, "Permission denied", os.fspath(path))
        return scandir(path)

    monkeypatch.setattr(os, "scandir", closed)
    answers = {answer.job: answer for answer in plan_folder(shop)}
    assert {"folder", "gone", "private"} <= set(answers)
    assert [answers[name].exit_code for name in ("folder", "gone", "private")] == [2, 2, 2]
    assert all("job.toml" in answers[name].error for name in ("folder", "gone", "private"))


def test_a_job_with_something_to_be_settled_first_is_not_called_done(batches: Batches, tmp_path: Path) -> None:
    """Nothing says how far the packs move the wheel: by half it would stay outside."""
    shutil.copytree(ROOT / "tests" / "data" / "crown-wheel", tmp_path / "jobs" / "crown")
    shutil.copytree(DEMO / "swing-bridge", tmp_path / "jobs" / "bridge")
    ended = batches.call("--jobs", tmp_path / "jobs", "-o", batches.out)
    assert [row["settle_first"] for row in ended.rows] == ["", "yes"]
    assert ended.out.startswith("1 of 2 jobs can be done; in 1 job something is to be settled first.")
    assert "settle first" in " ".join(ended.out.split())


@pytest.mark.parametrize("width", [40, 80, 120])
def test_the_jobs_on_a_narrow_screen_are_a_line_or_two_each(width: int) -> None:
    counts = {"gaps": 12, "inside": 11, "unproven": 1, "outside": 0, "pieces": 12, "go_in": 12}
    row = counts | {"job": "pumping-engine", "exit_code": 0, "settle_first": 0, "error": ""}
    lines = [text for text, _ in jobs_lines([row, row | {"job": "winch"}], None, width)]
    assert max(map(len, lines)) <= width
    said = " ".join(" ".join(lines).split())
    wide = "pumping-engine 12 11 1 0 12 can be done"
    narrow = "pumping-engine: gaps 12, inside 11, perhaps inside 1, outside 0, go in 12, answer can be done"
    assert (narrow if width == 40 else wide) in said
