"""The letter after a record: what nobody shimmed is not called left alone, what was measured not calculated."""

from __future__ import annotations

import io
import shutil
from pathlib import Path
from typing import Any

import pypdf

from shimopt.job import load_job
from shimopt.planner import Decision, decide
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.typeset import pdf_of
from shimopt.render.pictures.gap_bars import job_bars, key_of
from tests.command import Run
from tests.test_letter_seen import MOMENT
from tests.test_record_agreement import WHO, everywhere, job

DEMO = Path(__file__).parents[1] / "demo_data"
FAN = """
title = "Fan shaft"
unit = "mm"
drawer = "drawer.csv"
window = { min = 0.10, max = 0.30, source = "fan leaflet" }
[[seat]]
name = "circlip side"
shims_allowed = false
why = "a ring behind the circlip dishes"
[[gap]]
name = "drive end"
seat = "circlip side"
feeler = { go = 0.45, no_go = 0.50 }
[[gap]]
name = "far end"
feeler = { go = 0.40, no_go = 0.45 }
"""
FAN_DRAWER = "part,thickness_mm,tolerance_mm,on_hand\nQ20,0.20,0.01,2\n"
HUBS = """
title = "Two hubs"
unit = "mm"
drawer = "drawer.csv"
window = { min = 0.10, max = 0.20, source = "card" }
[[seat]]
name = "axle end"
shaft = "20 mm ± 0.01 mm"
face = { inner = "21 mm", outer = "32 mm" }
moving_face = true
[[gap]]
name = "left hub"
seat = "axle end"
feeler = { go = 0.63, no_go = 0.65 }
[[gap]]
name = "right hub"
seat = "axle end"
feeler = { go = 0.64, no_go = 0.66 }
"""
HUBS_DRAWER = (
    "part,thickness_mm,tolerance_mm,inner_mm,outer_mm,on_hand,material,hardness\n"
    "Y50,0.50,0.01,20.1,31,2,spring steel,450 HV\nY24,0.24,0.01,20.1,31,2,brass,120 HV\n"
)


def test_what_was_put_right_without_a_shim_is_not_called_left_as_it_is(run_unfolded: Run, tmp_path: Path) -> None:
    """0.45 to 0.50 had to come down by 0.20 to 0.35, where no shim goes in; it reads 0.22 to 0.25, so it was done."""
    folder = job(tmp_path / "fan", FAN, FAN_DRAWER)
    run_unfolded("record", folder, "--after", "drive end=0.22 to 0.25", "--after", "far end=0.20 to 0.25", *WHO)
    found = everywhere(run_unfolded, folder)
    assert "one got a shim (far end); one got no shim (drive end)" in found["letter"]
    assert "drive end: no shim was changed" in found["letter"]
    assert "left as it is" not in found["letter"]
    for text in found.values():
        assert "nothing was done there" not in text


def test_what_was_measured_inside_is_not_called_calculated(run_unfolded: Run, tmp_path: Path) -> None:
    """Two Y24 are brass against a face that turns: 0.64 less 0.48 is 0.16, as it reads; the brass is still wrong."""
    folder = job(tmp_path / "hubs", HUBS, HUBS_DRAWER)
    fitted = ("--fitted", "left hub=2 x Y24", "--fitted", "right hub=Y50")
    run_unfolded(
        "record", folder, *fitted, "--after", "left hub=0.15 to 0.17", "--after", "right hub=0.14 to 0.16", *WHO
    )
    letter = everywhere(run_unfolded, folder)["letter"]
    assert "120 HV" in letter
    assert "Both clearances were measured inside, but something has to be settled: two got shims" in letter
    assert "By calculation both" not in letter


def bridge_after(run: Run, tmp_path: Path, lower_2: float) -> tuple[Decision, dict[str, Any]]:
    """The bridge, fitted as planned and read after that, and the letter that follows."""
    folder = shutil.copytree(DEMO / "swing-bridge", tmp_path / f"bridge {lower_2}")
    after = {"upper 1": 10.5, "upper 2": 9.5, "upper 3": 11, "lower 1": 6.5, "lower 2": lower_2}
    read = [word for name, value in after.items() for word in ("--after", f"{name}={value} thou ± 0.5 thou")]
    run("record", folder, *read, "--person", "Ada Smith", "--instrument", "blades no. 2", "--date", "2026-11-27")
    plan = decide(load_job(folder))
    return plan, letter_content(plan, "thou", "2026-11-28")


def test_the_letter_says_who_measured_after_fitting_and_with_what(run: Run, tmp_path: Path) -> None:
    _, content = bridge_after(run, tmp_path, 6.5)
    assert content["units"].endswith("Measured after fitting: 2026-11-27 by Ada Smith, with: blades no. 2.")
    # before a fitting nobody has
    assert (
        "Measured after" not in letter_content(decide(load_job(DEMO / "swing-bridge")), "thou", "2026-11-28")["units"]
    )


def test_of_what_is_looked_into_first_the_letter_plans_nothing(run: Run, tmp_path: Path) -> None:
    """lower 2 reads 13 where 6.5 was predicted: what goes in there is said when it is known why."""
    plan, content = bridge_after(run, tmp_path, 13)
    assert plan.changes.at["lower 2"].changed
    (row,) = [one["row"] for one in content["gaps"] if one["name"] == "lower 2"]
    assert row == ["14 to 15 thou", "4 to 12 thou", "to be looked into first", "6 to 7 thou", "12.5 to 13.5 thou", ""]
    assert content["answer"].count("lower 2") == 2
    assert "What has to be done can be said once that is found out." in content["answer"]
    # six columns, and no figure is folded on paper
    page = pypdf.PdfReader(io.BytesIO(pdf_of(content, "a4", MOMENT).file)).pages[0]
    (row,) = (line for line in page.extract_text(extraction_mode="layout").splitlines() if "upper 3  " in line)
    assert row.count("10.5 to 11.5") == 4
    # found, and measured since: nothing is drawn of what it would come to
    bars = job_bars(plan, "thou", unknown=["lower 2"])
    assert [(bar.label, bar.kind) for bar in bars["lower 2"]] == [("found", "found"), ("measured", "after")]
    # left alone and read again, a little lower: the last reading alone
    assert [bar.label for bar in bars["lower 1"]] == ["measured"]
    assert "Solid bar: as it is." in content["key"]
    assert [bar.kind for bar in job_bars(plan, "thou")["lower 2"]] == ["found", "found", "after"]
    assert "Hollow bar: as found, and as measured since. Solid bar: then." in key_of(plan.job, job_bars(plan, "thou"))


TAPPETS = """
title = "Two tappets"
unit = "mm"
drawer = "drawer.csv"
window = { min = 0.25, max = 0.35, source = "engine plate" }
[[place]]
name = "first"
pieces = { min = 1, max = 1 }
installed = ["C-270"]
[[place]]
name = "second"
pieces = { min = 1, max = 1 }
installed = ["C-275"]
[[gap]]
name = "ex 1"
feeler = { go = 0.38, no_go = 0.40 }
effects = { first = -1 }
[[gap]]
name = "ex 2"
feeler = { go = 0.28, no_go = 0.30 }
effects = { second = -1 }
"""
TAPPETS_DRAWER = (
    "part,thickness_mm,tolerance_mm,on_hand\nC-270,2.70,0.003,0\nC-275,2.75,0.003,0\nC-280,2.80,0.003,1\n"
    "C-285,2.85,0.003,1\n"
)


def test_what_was_measured_outside_is_told_so_and_not_as_what_is_held_back_would_leave_it(
    run: Run, tmp_path: Path
) -> None:
    """0.39 less 0.10 is 0.29, and 0.39 was read again: 0.04 over 0.35.

    A C-285 for the C-280 would leave 0.324 to 0.356, and waits until it is known why.
    """
    folder = job(tmp_path / "tappets", TAPPETS, TAPPETS_DRAWER)
    read = ("--after", "ex 1=0.38 to 0.40", "--after", "ex 2=0.28 to 0.30")
    run("record", folder, "--fitted", "first=C-280", *read, *WHO)
    plan = decide(load_job(folder))
    assert plan.to_find_out == ["ex 1"]
    assert plan.outcome.gaps["ex 1"].verdict == "unproven"
    content = letter_content(plan, "mm", "2026-11-28")
    assert content["warnings"] == ["Do not run it like this: ex 1 is 0.04 mm too loose."]
    told = " ".join(content["gaps"][0]["sentences"])
    assert "0.04 mm too loose" in told
    assert "robably inside" not in told
    assert "it may still be" not in told


def test_what_was_read_with_play_stays_to_be_settled_after_a_record_of_the_preload_alone(
    tmp_path: Path, run_unfolded: Run
) -> None:
    """With play of 0.075 the backlash may be 0.68 x 0.075 / 2 = 0.0255 less or more: 0.111 may be 0.086, too tight."""
    folder = shutil.copytree(DEMO / "slipway-winch", tmp_path / "winch")
    run_unfolded("record", folder, "--after", "preload=preload 0.02 to 0.03 mm", "--fitted", "as planned", *WHO)
    _, plan, _ = run_unfolded("plan", folder)
    assert "? once settled" in plan
    assert "backlash has to be read again now that preload is set" in plan
    assert "Set preload first" not in plan
    content = letter_content(decide(load_job(folder)), "mm", "2026-05-03")
    assert "Preload is as it should be, measured after fitting; backlash has to be measured again" in content["answer"]
    # read again, it is what was read
    run_unfolded(
        "record", folder, "--after", "backlash=0.12 to 0.14 mm", "--after", "preload=preload 0.02 to 0.03 mm", *WHO
    )
    assert "once settled" not in run_unfolded("plan", folder)[1]
