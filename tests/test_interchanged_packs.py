"""Packs of two places that went in the other way round: named, where exchanging them is all that is wanting."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.command import Run
from tests.job_files import write_job
from tests.test_said_as_it_is import paper

# 21.5 thou with 15 and 10 in; the upper pack is to be 5 thicker. 16 more, 41 in all, leaves 5.5: 23 and 18
JOB = (
    'title = "Kingpin"\nunit = "thou"\ndrawer = "drawer.csv"\n[window]\nmin = 2\nmax = 8\nsource = "manual"\n'
    "[stacks]\nmost_pieces = 4\n"
    '[[place]]\nname = "upper"\ninstalled = ["K10", "K5"]\n[[place]]\nname = "lower"\ninstalled = ["K10"]\n'
    '[[gap]]\nname = "kingpin"\nvalue = "21.5 thou ± 0.2 thou"\neffects = { upper = -1, lower = -1 }\n'
    '[[balance]]\nname = "upper over lower"\nplaces = ["upper", "lower"]\nwithin = 0.5\noffset = { upper = 5 }\n'
)
DRAWER = "part,thickness_thou,on_hand\nK3,3,4\nK5,5,1\nK10,10,4\n"
WHO = ("--person", "W. Ames", "--instrument", "dial", "--date", "2026-05-04")
SAID = "the packs at upper and lower are interchanged: exchange them, and upper over lower is as it is asked to be."


def recorded(run: Run, folder: Path, upper: str, lower: str, text: str = JOB) -> tuple[Path, int, str]:
    job = write_job(folder, text, DRAWER)
    fitted = ("--fitted", f"upper={upper}", "--fitted", f"lower={lower}")
    code, out, _ = run("record", job, "--after", "kingpin=5.5 thou ± 0.5 thou", *fitted, *WHO)
    return job, code, " ".join(out.split())


def test_packs_the_wrong_way_round_are_named(run_unfolded: Run, tmp_path: Path) -> None:
    job, code, out = recorded(run_unfolded, tmp_path, "K10 + K5 + K3", "K10 + K10 + K3")
    said = SAID[0].upper() + SAID[1:]
    assert code == 1
    assert said in out
    plan = run_unfolded("plan", job)[1]
    assert plan.startswith(said)
    assert "Exchange the packs at upper and lower first" in plan
    assert "keep = false" not in plan
    letter = paper(run_unfolded, job, "letter")
    assert said in letter
    assert "That is right" not in letter
    codes = [one["code"] for one in json.loads(run_unfolded("plan", job, "--json")[1])["findings"]]
    assert "packs_interchanged" in codes


@pytest.mark.parametrize(
    ("upper", "lower"),
    [
        # 23 over 18 is 5 thicker; 20 over 20 exchanged is 20 over 20
        ("K10 + K10 + K3", "K10 + K5 + K3"),
        ("K10 + K10", "K10 + K10"),
    ],
)
def test_packs_that_no_exchange_makes_right_are_not(run_unfolded: Run, tmp_path: Path, upper: str, lower: str) -> None:
    job, _, out = recorded(run_unfolded, tmp_path, upper, lower)
    assert "interchanged" not in out
    assert "interchanged" not in run_unfolded("plan", job)[1]


def test_packs_that_cannot_change_places_are_not(run_unfolded: Run, tmp_path: Path) -> None:
    """The same two packs, and no K5 may go into the lower place."""
    text = JOB.replace('name = "lower"\n', 'name = "lower"\nparts = ["K10", "K3"]\n')
    job, code, out = recorded(run_unfolded, tmp_path, "K10 + K5 + K3", "K10 + K10 + K3", text)
    assert (code, "kingpin: predicted" in out) == (0, True)
    assert "interchanged" not in out
    assert "interchanged" not in run_unfolded("plan", job)[1]
