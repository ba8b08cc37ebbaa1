"""Small things that a bench goes by: units as people say them, what is exact, what a second reading foretells."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

from tests.command import Run
from tests.job_files import write_job

HEAD = 'title = "T"\nunit = "{}"\ndrawer = "drawer.csv"\n'


def paper(run: Run, folder: Path, kind: str, *options: str) -> str:
    page = folder / f"{kind}.html"
    run(kind, folder, "-o", page, "--date", "2026-05-03", *options)
    text = re.sub(r"<style.*?</style>|<[^>]+>", " ", page.read_text(encoding="utf-8"), flags=re.S)
    return " ".join(unescape(text).split())


def test_inches_are_called_inches(run_unfolded: Run, tmp_path: Path) -> None:
    job = HEAD.format("in") + '[[gap]]\nname = "a"\nvalue = 0.05\nwindow = { min = 0.01, max = 0.03, source = "s" }\n'
    folder = write_job(tmp_path, job, "part,thickness_in,on_hand\nS-3,0.03,1\n")
    said = run_unfolded("plan", folder, "--full")[1] + paper(run_unfolded, folder, "letter")
    said += paper(run_unfolded, folder, "sheet") + run_unfolded("order", folder)[1]
    assert not re.search(r"\bin in\b", said)


def test_trial_readings_without_a_plus_minus_are_taken_as_exact_and_said_to_be(
    run_unfolded: Run, tmp_path: Path
) -> None:
    job = (
        HEAD.format("mm") + '[[place]]\nname = "w"\n[[gap]]\nname = "g"\nvalue = "0.60 mm ± 0.005 mm"\n'
        'window = { min = 0.05, max = 0.30, source = "s" }\neffects = { w = { trial = ['
        '{ stack = 0.20, reading = "0.40 mm" }, { stack = 0.40, reading = "0.20 mm" }] } }\n'
    )
    folder = write_job(tmp_path, job, "part,thickness_mm,on_hand\nS-40,0.40,1\n")
    said = run_unfolded("plan", folder, "--full")[1]
    assert "from two readings with different packs, taken as exact" in said
    assert "which allow" not in said


def test_the_sheet_says_what_is_read_closed_up(run_unfolded: Run, tmp_path: Path) -> None:
    """0.22 to 0.23 less S-10 is 0.12 to 0.13; closed up it read 0.18 to 0.19, and that makes 0.08 to 0.09."""
    job = (
        HEAD.format("mm") + '[[gap]]\nname = "h"\nfeeler = { go = 0.22, no_go = 0.23 }\n'
        'after_cover = { go = 0.18, no_go = 0.19 }\nwindow = { min = 0.05, max = 0.15, source = "s" }\n'
    )
    folder = write_job(tmp_path, job, "part,thickness_mm,on_hand\nS-10,0.10,1\n")
    assert "closed up 0.08 to 0.09 mm" in paper(run_unfolded, folder, "sheet")
