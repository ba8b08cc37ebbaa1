"""A reading of nothing hides as much when it is recorded as it does in the job; what it hid is named first."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.command import Run
from tests.test_record_agreement import DATA, WHO, everywhere, job
from tests.test_said_as_it_is import paper

RING = """
title = "One arm, ring comes out"
unit = "mm"
drawer = "drawer.csv"
[[place]]
name = "arm"
installed = ["S-20"]
[[gap]]
name = "arm"
feeler = { go = 0.05, no_go = 0.10 }
window = { min = 0.15, max = 0.35, source = "sheet 1" }
"""
RING_DRAWER = "part,thickness_mm,on_hand\nS-20,0.20,0\n"
COVER = """
title = "Windlass end cover"
unit = "thou"
drawer = "drawer.csv"
window = { preload = [2, 4], source = "sheet 4" }
[[place]]
name = "aft"
installed = ["B-10"]
[[gap]]
name = "aft"
cover_gap = { no_go = 1, shims_in = true }
"""
COVER_DRAWER = "part,thickness_thou,tolerance_thou,on_hand\nB-02,2,0.1,3\nB-05,5,0.2,1\nB-10,10,0.2,0\n"
HIDDEN = """
title = "One thrust face"
unit = "mm"
drawer = "drawer.csv"
[[gap]]
name = "hub"
feeler = { no_go = 0.05 }
window = { min = -0.20, max = -0.10, source = "sheet 1" }
"""


@pytest.mark.parametrize("typed", ["0 mm", "0 to 0.05 mm", "0"])
def test_no_blade_goes_after_fitting_and_a_preload_may_be_hidden(run_unfolded: Run, tmp_path: Path, typed: str) -> None:
    """S-20 came out, 0.25 to 0.30 was to be found, and nothing goes in: any preload looks so, and nobody measured one.

    Metal comes off on no reading that tells nothing.
    """
    folder = job(tmp_path / "ring", RING, RING_DRAWER)
    out = run_unfolded("record", folder, "--after", f"arm={typed}", *WHO)[1]
    assert "It reads as nothing, which may hide a preload of any size: turn it" in out
    assert "read 0.00" in out
    found = everywhere(run_unfolded, folder)
    for name, text in found.items():
        assert "metal has to come off" not in text, name
        assert "metal must come off" not in text, name
        assert "preload 0.0" not in text, name
    assert "assuming that there is no preload, which no blade can show." in found["plan"]
    assert "Turn arm, or read it opened by a known amount: before anything is done there." in found["plan"]
    assert "It reads as nothing, which may hide more: turn it" in found["letter"]
    assert "read as from nothing, which may hide a preload: read it again opened" in found["sheet"]


def test_a_reading_of_nothing_is_neither_inside_nor_outside_a_preload(run_unfolded: Run, tmp_path: Path) -> None:
    folder = job(tmp_path / "ring", RING.replace("min = 0.15, max = 0.35", "min = -0.2, max = -0.1"), RING_DRAWER)
    out = run_unfolded("record", folder, "--after", "arm=0 to 0.05 mm", *WHO)[1]
    assert "It reads as nothing, which may hide a preload of any size: turn it" in out
    assert "its window" not in out


def test_a_cover_that_rested_is_no_burr(run_unfolded: Run, tmp_path: Path) -> None:
    """By hand: found 3.5 of play with 7 thou under the cover, so 6.5 with the 10 before: it lay on its case."""
    folder = job(tmp_path / "cover", COVER, COVER_DRAWER)
    fitted = ("--fitted", "aft=B-05 + B-02")
    out = run_unfolded("record", folder, *fitted, "--after", "aft=play 3 to 4 thou", *WHO)[1]
    why = "the reading before was blind and is disproved, for the cover rested on its case"
    assert f"7 thou looser than predicted (0.8 thou is plausible): {why}." in out
    found = everywhere(run_unfolded, folder)
    for name, text in found.items():
        assert "burr, dirt, a wrong shim" not in text, name
        assert "find out why" not in text.casefold(), name
        assert why in text, name


def test_a_gap_found_tighter_than_nothing_held_a_preload(run_unfolded: Run, tmp_path: Path) -> None:
    """Nothing was fitted, and no blade went: turned, it has a preload of 0.10 to 0.12, which no blade had shown."""
    folder = job(tmp_path / "hub", HIDDEN, "part,thickness_mm,on_hand\nS-20,0.20,0\n")
    out = run_unfolded("record", folder, "--after", "hub=preload 0.10 to 0.12 mm", *WHO)[1]
    assert "the reading before was blind and is disproved, for what read as nothing hid a preload. It is inside" in out


def test_a_computed_effect_is_the_first_to_be_looked_at(run_unfolded: Run, tmp_path: Path) -> None:
    """By hand: 0.20 moved over half of 0.705 on each side was to take 0.141 off 0.35; it took 0.09 off.

    The stated half is the least known figure there, before any shim.
    """
    folder = Path(shutil.copytree(DATA / "crown-wheel", tmp_path / "crown"))
    path = folder / "job.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('on = "wheel"', 'on = "wheel", share = 0.5'), encoding="utf-8")
    out = run_unfolded("record", folder, "--after", "backlash=0.25 to 0.27 mm", *WHO)[1]
    first = "look first whether the packs at left side and right side move it as far as is computed"
    assert first in out
    found = everywhere(run_unfolded, folder)
    assert found["plan"].index(first) < found["plan"].index("wrong shim")
    assert first in found["letter"]


def test_what_was_read_after_fitting_and_moves_no_more_is_asked_nothing(run_unfolded: Run, tmp_path: Path) -> None:
    """0.35 less 0.10 x 2 x 0.705 is 0.209: read as 0.204 to 0.214, inside. Moved by half it would read 0.28."""
    folder = Path(shutil.copytree(DATA / "crown-wheel", tmp_path / "crown"))
    assert "the packs move backlash is assumed" in run_unfolded("plan", folder)[1]
    after = ("--after", "backlash=0.204 to 0.214", "--after", "bearing play=preload 0.095 to 0.105 mm")
    run_unfolded("record", folder, *after, *WHO)
    found = everywhere(run_unfolded, folder)
    assert found["plan"].startswith("Nothing to fit: both gaps are inside as read. Crown wheel")
    assert "are as they should be, measured after fitting" in found["letter"]
    for name, text in found.items():
        assert "share = 0.5" not in text, name
        assert "settled" not in text.casefold(), name


def test_what_a_blind_reading_hid_is_known_and_the_card_counts(run_unfolded: Run, tmp_path: Path) -> None:
    # no blade of 0.04 went with S-40 in; S-20 in its place was to leave 0.20 to 0.24, and 0.05 to 0.08 is read: what
    # read as nothing was 0.12 to 0.19 of preload. S-05 leaves 0.20 to 0.23
    text = RING.replace('"S-20"', '"S-40"').replace("go = 0.05, no_go = 0.10", "no_go = 0.04")
    folder = job(tmp_path / "ring", text, "part,thickness_mm,on_hand\nS-40,0.40,0\nS-20,0.20,1\nS-05,0.05,1\n")
    run_unfolded("record", folder, "--after", "arm=0.05 to 0.08", *WHO, "--update-drawer")
    assert "hid a preload" in run_unfolded("plan", folder)[1]
    sheet = paper(run_unfolded, folder, "sheet", "--card")
    assert "bench card" in sheet.casefold()
    assert "find that out before anything is fitted" not in sheet
    assert "only once that is settled does a row count" not in sheet
