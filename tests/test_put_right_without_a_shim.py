"""A record says what was machined: then no shim is looked for, and the letter says that it was put right so."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.command import Run
from tests.job_files import write_job
from tests.test_said_as_it_is import paper

JOB = (
    'title = "Fan"\nunit = "mm"\ndrawer = "drawer.csv"\n[window]\nmin = 0.10\nmax = 0.30\nsource = "leaflet"\n'
    '[[gap]]\nname = "drive end"\nfeeler = { go = 0.45, no_go = 0.50 }\n'
    '[[gap]]\nname = "far end"\nfeeler = { go = 0.40, no_go = 0.45 }\n'
)
DRAWER = "part,thickness_mm,on_hand\nQ20,0.20,1\n"
WHO = ("--person", "W. Ames", "--instrument", "blades", "--date", "2026-05-04")
# Q20 goes into one of them, and takes 0.20 off; 0.475 less 0.24 is read in the other
READ = ("--after", "far end=0.20 to 0.25", "--after", "drive end=0.22 to 0.25")


def recorded(run: Run, folder: Path, *more: str) -> tuple[Path, int, str]:
    job = write_job(folder, JOB, DRAWER)
    code, out, _ = run("record", job, "--fitted", "far end=Q20", "--fitted", "drive end=nothing", *READ, *more, *WHO)
    return job, code, " ".join(out.split())


def test_what_was_machined_is_told_and_not_looked_for(run_unfolded: Run, tmp_path: Path) -> None:
    job, code, out = recorded(run_unfolded, tmp_path, "--machined", "drive end=shoulder faced 0.24 mm")
    assert code == 0
    assert (
        "drive end: predicted 0.45 to 0.50 mm, read 0.22 to 0.25 mm; it was worked on otherwise than by shims since"
        in out
    )
    plan = run_unfolded("plan", job)[1]
    assert plan.startswith("Nothing to fit: both gaps are inside as read.")
    assert "predicted" not in plan
    letter = paper(run_unfolded, job, "letter")
    assert "one was put right without a shim (drive end)" in letter
    assert "put right without a shim: shoulder faced 0.24 mm" in letter
    for false in ("left as it is", "no shim was changed", "To be cleared up"):
        assert false not in letter


def test_without_it_somebody_is_asked_to_look(run_unfolded: Run, tmp_path: Path) -> None:
    job, _, out = recorded(run_unfolded, tmp_path)
    assert "If it was machined or restored, record that too: --machined." in out
    plan = run_unfolded("plan", job)[1]
    assert "Found inside, but not as predicted" in plan
    assert "First look why drive end reads otherwise than predicted, then record it." in plan
    assert "Only then: leave it as it is." in plan
    letter = paper(run_unfolded, job, "letter")
    assert "as they should be" not in letter
    assert (
        "But drive end came out otherwise than was calculated: the workshop looks why before it is closed up." in letter
    )


def test_the_record_holds_what_was_done(run_unfolded: Run, tmp_path: Path) -> None:
    said = "face = 0.24 mm off"
    job = write_job(tmp_path, JOB, DRAWER)
    out = run_unfolded("record", job, *READ, "--machined", f"drive end={said}", "--json", *WHO)[1]
    assert [row["code"] for row in json.loads(out)["gaps"]].count("machined") == 1
    assert f'machined = "{said}"' in (job / "job.toml").read_text("utf-8")


@pytest.mark.parametrize(
    ("typed", "rule"),
    [
        ("far end=faced", "what was machined is read again"),
        ("drive end=", "what was done is said in 1 to 200 letters"),
        ("drive=faced", "the job has no gap of this name"),
        ("faced", "what was done names its gap"),
    ],
)
def test_what_cannot_be_recorded_is_refused(run_unfolded: Run, tmp_path: Path, typed: str, rule: str) -> None:
    job = write_job(tmp_path, JOB, DRAWER)
    code, _, error = run_unfolded("record", job, "--after", "drive end=0.22 to 0.25", "--machined", typed, *WHO)
    assert code == 2
    assert rule in error
    assert "[[record]]" not in (job / "job.toml").read_text("utf-8")


def test_what_was_worked_on_where_a_shim_went_in_too_is_told(run_unfolded: Run, tmp_path: Path) -> None:
    """By hand: 0.475 less Q20 is 0.275, less 0.10 that was faced is 0.175; the shim alone did not do it."""
    job = write_job(tmp_path, JOB, DRAWER)
    fitted = ("--fitted", "drive end=Q20", "--fitted", "far end=nothing", "--after", "drive end=0.16 to 0.19")
    worked = ("--machined", "drive end=collar faced 0.10 mm", "--machined", "far end=faced 0.20 mm")
    code, out, _ = run_unfolded("record", job, *fitted, "--after", "far end=0.20 to 0.25", *worked, *WHO)
    assert code == 0
    assert "it was worked on otherwise than by shims since, so the prediction no longer holds" in out
    assert "drive end: collar faced 0.10 mm. far end: faced 0.20 mm." in run_unfolded("plan", job)[1]
    worked_on = "Done at the last visit: drive end: collar faced 0.10 mm. far end: faced 0.20 mm."
    for told in (run_unfolded("why", job), run_unfolded("why", job, "drive end")):
        assert worked_on in told[1]
    assert worked_on in paper(run_unfolded, job, "sheet")
    letter = paper(run_unfolded, job, "letter")
    assert "one was put right without a shim (far end); drive end was worked on as well: collar faced 0.10 mm" in letter
    assert "got a shim: Q20 (0.20 mm); collar faced 0.10 mm" in letter
