"""Files that are no files, not there, too large, or not text."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from shimopt.job import load_job
from tests.job_files import DRAWER, JOB, check, edited, problems_of, the_problem, write_job


def test_a_job_that_is_not_there(tmp_path: Path) -> None:
    check(
        the_problem(tmp_path / "job.toml"),
        file="job.toml",
        where="",
        value="",
        rule=["no such job file"],
        remedy=["check the name"],
    )


def test_a_folder_without_a_job(tmp_path: Path) -> None:
    (tmp_path / "job.tom").write_text(JOB)
    check(
        the_problem(tmp_path),
        file="job.toml",
        where="",
        value="",
        rule=["no such job file"],
        remedy=[f"did you mean {tmp_path / 'job.tom'}?"],
    )


def test_a_drawer_that_is_not_there(tmp_path: Path) -> None:
    write_job(tmp_path, drawer=None)
    (tmp_path / "drawr.csv").write_text(DRAWER)
    check(the_problem(tmp_path), file="drawer.csv", where="", value="", rule=["no such drawer"], remedy=["drawr.csv?"])


def test_a_gaps_table_that_is_not_there(tmp_path: Path) -> None:
    write_job(tmp_path, edited(("drawer =", 'gaps = "gaps.csv"\ndrawer =')))
    check(the_problem(tmp_path), file="gaps.csv", where="", value="", rule=["no such gaps table"], remedy=["check"])


def test_a_job_named_below_a_file(tmp_path: Path) -> None:
    problem = the_problem(write_job(tmp_path) / "job.toml" / "job.toml")
    assert "cannot be opened (Not a directory)" in problem.rule


def test_a_name_longer_than_any_file_system_takes(tmp_path: Path) -> None:
    assert "cannot be opened (File name too long)" in the_problem(tmp_path / ("x" * 5000)).rule
    write_job(tmp_path, edited(('"drawer.csv"', f'"{"x" * 1500}"')))
    assert "cannot be opened (File name too long)" in the_problem(tmp_path).rule


def test_a_name_with_a_zero_byte(tmp_path: Path) -> None:
    assert "cannot be opened" in the_problem(tmp_path / "job\0.toml").rule
    assert "cannot be opened" in the_problem(write_job(tmp_path, edited(('"drawer.csv"', '"a\\u0000b"')))).rule


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_drawer_that_may_not_be_read(tmp_path: Path) -> None:
    (write_job(tmp_path) / "drawer.csv").chmod(0)
    assert "Permission denied" in the_problem(tmp_path).rule


@pytest.mark.parametrize("which", ["job.toml", "drawer.csv", "gaps.csv", "catalogue.csv"])
@pytest.mark.parametrize("kind", ["pipe", "device", "folder"])
def test_a_pipe_device_or_folder_is_refused_without_waiting(tmp_path: Path, which: str, kind: str) -> None:
    job = edited(("drawer =", 'gaps = "gaps.csv"\ncatalogues = ["catalogue.csv"]\ndrawer ='))
    write_job(tmp_path, job, gaps_csv="gap,low_mm,high_mm\nlower 1,0.3,0.4\n", catalogue_csv="part,thickness_mm\nA,1\n")
    assert len(load_job(tmp_path).gaps) == 3
    spoilt = tmp_path / which
    spoilt.unlink()
    if kind == "pipe":
        os.mkfifo(spoilt)
    elif kind == "device":
        spoilt.symlink_to("/dev/zero")
    else:
        spoilt.mkdir()
    check(
        the_problem(tmp_path),
        file=which,
        where="",
        value="",
        rule=["not an ordinary file"],
        remedy=["not a folder, device or pipe"],
    )


def test_the_device_that_holds_nothing(tmp_path: Path) -> None:
    assert "not an ordinary file" in the_problem(Path("/dev/null")).rule
    [problem] = problems_of(write_job(tmp_path), drawer=Path("/dev/null"))
    assert (problem.file, "not an ordinary file" in problem.rule) == ("/dev/null", True)


@pytest.mark.parametrize(("which", "most"), [("job.toml", "4,194,304"), ("drawer.csv", "33,554,432")])
def test_a_file_of_50_megabytes_is_refused_by_its_size(tmp_path: Path, which: str, most: str) -> None:
    os.truncate(write_job(tmp_path) / which, 50_000_000)
    check(
        the_problem(tmp_path),
        file=which,
        where="",
        value="50,000,000 bytes",
        rule=[f"at most {most} bytes"],
        remedy=["the right file?"],
    )


def test_an_empty_drawer(tmp_path: Path) -> None:
    assert load_job(write_job(tmp_path, drawer="")).stock == ()


def test_a_job_that_is_not_utf8_is_told_with_its_line(tmp_path: Path) -> None:
    problem = the_problem(write_job(tmp_path, edited(("Drive", "Kästen")).encode("cp1252")))
    check(problem, file="job.toml", where="line 1", value="", rule=["not text in UTF-8"], remedy=["UTF-8"])


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_a_job_with_a_byte_order_mark_is_read(tmp_path: Path, encoding: str) -> None:
    assert load_job(write_job(tmp_path, JOB.encode(encoding))).title == "Drive of the swing bridge"


def test_a_job_with_the_line_ends_of_another_system_is_read(tmp_path: Path) -> None:
    assert len(load_job(write_job(tmp_path, JOB.replace("\n", "\r\n"))).gaps) == 2


@pytest.mark.parametrize(
    "drawer",
    [DRAWER.encode("utf-16-le"), DRAWER.encode("utf-32"), DRAWER.encode("utf-16") + b"a", bytes(range(256)), b"\0" * 9],
    ids=["UTF-16 without its mark", "UTF-32", "UTF-16 cut off", "any bytes", "zero bytes"],
)
def test_a_drawer_that_is_no_text(tmp_path: Path, drawer: bytes) -> None:
    problem = the_problem(write_job(tmp_path, drawer=drawer))
    assert (Path(problem.file).name, problem.rule) == ("drawer.csv", "the drawer is not text in UTF-8")
    assert "save it again as UTF-8" in problem.remedy
