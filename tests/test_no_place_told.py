"""Gaps that no place moves, a reading of nothing with nothing in, a gap at which nothing was done: by hand."""

from __future__ import annotations

from pathlib import Path

from shimopt.job import load_job
from shimopt.planner import decide
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import sheet_content
from tests.command import Run
from tests.job_files import write_job

# only left has a place; the drawer holds what mid needs, 0.40 to 0.45 less 0.20 is 0.20 to 0.25
ENDS = """
unit = "mm"
drawer = "drawer.csv"
window = { min = 0.10, max = 0.25, source = "card" }
[[place]]
name = "left"
installed = ["R-20"]
[[gap]]
name = "left"
feeler = { go = 0.02, no_go = 0.05 }
[[gap]]
name = "mid"
feeler = { go = 0.40, no_go = 0.45 }
"""
DRAWER = "part,thickness_mm,on_hand\nR-20,0.20,1\n"
DATE = "2026-05-03"


def test_a_gap_without_a_place_is_not_said_to_lack_parts(tmp_path: Path) -> None:
    found = decide(load_job(write_job(tmp_path, ENDS, DRAWER)))
    letter, sheet = letter_content(found, "mm", DATE), sheet_content(found, "mm", DATE)
    assert (
        "cannot be put right as no place for a shim is named there: mid. One loses its shim (left)." in letter["answer"]
    )
    assert "mid cannot be put right as no place for a shim is named there" in sheet["answer"]
    mid = next(place for place in sheet["places"] if place["name"] == "mid")
    assert mid["nothing"] == "nothing goes in here: the job names no place for it"
    assert mid["then"][0]["expected"] == "0.40 to 0.45 mm"


def test_gaps_of_both_kinds_are_told_apart(tmp_path: Path) -> None:
    """Left 0.60 to 0.65 needs 0.40 and R-20 is all there is; mid has no place."""
    job = ENDS.replace("go = 0.02, no_go = 0.05", "go = 0.60, no_go = 0.65").replace('installed = ["R-20"]\n', "")
    found = decide(load_job(write_job(tmp_path, job, "part,thickness_mm,on_hand\nR-20,0.20,1\n")))
    answer = letter_content(found, "mm", DATE)["answer"]
    why = "left with the parts in the drawer; mid as no place for a shim is named there."
    assert f"Neither clearance can be put right: {why}" in answer


def test_no_shim_less_where_none_is_in(tmp_path: Path) -> None:
    """A blade does not go: with R-20 in one shim less opens it, with nothing in none can come out."""
    job = ENDS.replace("go = 0.02, no_go = 0.05", "no_go = 0.05")
    sheet = sheet_content(decide(load_job(write_job(tmp_path, job, DRAWER))), "mm", DATE)
    assert any("left" in step and step.endswith("with a thinner pack of known thickness in") for step in sheet["read"])
    bare = job.replace('installed = ["R-20"]\n', "")
    sheet = sheet_content(decide(load_job(write_job(tmp_path, bare, DRAWER))), "mm", DATE)
    assert any("left" in step and step.endswith("opened by a known amount") for step in sheet["read"])


def test_where_nothing_was_done_no_piece_is_to_blame(run_unfolded: Run, tmp_path: Path) -> None:
    """Mid was right at 0.15 to 0.20, nothing went in or came out there, and 0.30 to 0.35 is found."""
    path = write_job(tmp_path, ENDS.replace("go = 0.40, no_go = 0.45", "go = 0.15, no_go = 0.20"), DRAWER)
    who = ("--person", "M. Hale", "--instrument", "blades")
    said = run_unfolded("record", path, "--after", "mid=0.30 to 0.35 mm", *who)[1]
    assert "and no shim was changed there: if nothing else was done to it, look at clamping" in said
    assert "what came out was as marked" not in said


def test_where_a_ring_came_out_it_may_be_to_blame(run_unfolded: Run, tmp_path: Path) -> None:
    """Left reads 0.02 to 0.05 with R-20 in, so 0.22 to 0.25 without it; 0.35 to 0.40 is found."""
    path = write_job(tmp_path, ENDS.replace("go = 0.40, no_go = 0.45", "go = 0.15, no_go = 0.20"), DRAWER)
    who = ("--person", "M. Hale", "--instrument", "blades")
    said = run_unfolded("record", path, "--after", "left=0.35 to 0.40 mm", *who)[1]
    assert "no shim that went in can be to blame: look whether what came out was as marked" in said
    assert "no shim was changed there" not in said
