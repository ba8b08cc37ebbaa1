"""The letter after a record: what nobody shimmed is not called left alone, what was measured not calculated."""

from __future__ import annotations

from pathlib import Path

from tests.command import Run
from tests.test_record_agreement import WHO, everywhere, job

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
    assert "one got a shim (far end); one got no other shim (drive end)" in found["letter"]
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
