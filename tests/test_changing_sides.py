"""Pieces change sides: what both places share of a gap stays as well known as it was, by hand."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest

from shimopt import load_job, plan
from shimopt.arithmetic import outcome_of
from shimopt.lengths import Bracket
from tests.command import Run
from tests.job_files import write_job

# the total of both packs sets the preload; only their difference moves the backlash
DIFFERENTIAL = """
unit = "mm"
drawer = "drawer.csv"
[[place]]
name = "left"
installed = ["D-50", "D-20", "D-10"]
pieces = { min = 1, max = 4 }
[[place]]
name = "right"
installed = ["D-50", "D-30"]
pieces = { min = 1, max = 4 }
[[gap]]
name = "backlash"
value = "0.10 mm ± 0.01 mm"
window = { min = 0.15, max = 0.22, source = "G.2" }
effects = { left = 0.356, right = -0.356 }
[[gap]]
name = "side preload"
value = "-0.09 mm ± 0.01 mm"
window = { preload = [0.05, 0.12], source = "G.3" }
effects = { left = -1, right = -1 }
"""
DRAWER = """part,thickness_mm,tolerance_mm,on_hand
D-50,0.50,0.003,0
D-30,0.30,0.003,0
D-20,0.20,0.003,0
D-10,0.10,0.002,0
"""


def test_errors_of_pieces_that_change_sides_cancel_in_the_total(tmp_path: Path, run_unfolded: Run) -> None:
    """D-30 goes left and D-20 right: the sum of both packs is made of the same five pieces, the preload 0.08 to 0.10.

    Backlash: 0.356 x 0.20 = 0.0712 more; each of two pieces counts 2 x 0.356 x 0.003 = 0.002136: ±0.014272 in all.
    """
    path = write_job(tmp_path, DIFFERENTIAL, DRAWER)
    found = plan(load_job(path)).to_dict()["gaps"]
    backlash, preload = (gap["after"] for gap in found)
    assert (preload["low"], preload["best"], preload["high"]) == (-0.10, -0.09, -0.08)
    assert (backlash["low"], backlash["best"], backlash["high"]) == (0.156928, 0.1712, 0.185472)
    said = run_unfolded("plan", "--full", path)[1]
    assert "preload 0.068" not in said
    letter = tmp_path / "letter.html"
    run_unfolded("letter", path, "-o", letter)
    text = " ".join(letter.read_text(encoding="utf-8").split())
    # found, allowed, done, then
    row = re.search(r">side preload</th>(.*?)</tr>", text)[1]
    cells = [re.sub("<[^>]+>", "", cell) for cell in row.split("</td>")]
    assert (cells[0], cells[3]) == ("preload 0.08 to 0.10 mm",) * 2
    assert "stays as it was" in text
    who = ("--person", "M. Hale", "--instrument", "dial")
    recorded = run_unfolded("record", path, "--after", "side preload=preload 0.08 to 0.10 mm", *who)[1]
    assert "predicted preload 0.08 to 0.10 mm" in recorded


# a worm pinched between two caps, and the mesh that the difference of their packs moves
BOX = """
unit = "mm"
drawer = "drawer.csv"
[[place]]
name = "near cap"
installed = ["G-40", "G-20"]
pieces = { max = 4 }
[[place]]
name = "far cap"
installed = ["G-40", "G-30"]
pieces = { max = 4 }
[[gap]]
name = "bearings"
value = "-0.03 mm ± 0.005 mm"
window = { preload = [0.02, 0.06], source = "sheet 3" }
effects = { "near cap" = -1, "far cap" = -1 }
[[gap]]
name = "backlash"
feeler = { go = 0.28, no_go = 0.30 }
window = { min = 0.12, max = 0.22, source = "sheet 3" }
effects = { "near cap" = 0.338, "far cap" = -0.338 }
"""
BOXED = """part,thickness_mm,tolerance_mm,on_hand
G-05,0.05,0.002,2
G-10,0.10,0.002,2
G-20,0.20,0.003,{}
G-30,0.30,0.003,1
G-40,0.40,0.004,0
"""


@pytest.mark.parametrize("on_hand", [0, 2], ids=["the only one", "others like it in the drawer"])
def test_a_piece_carried_over_leaves_the_total_as_sure_as_it_was(
    tmp_path: Path, run_unfolded: Run, on_hand: int
) -> None:
    """G-20 goes over: of the sum t - t = 0 whatever t is, so preload 0.025 to 0.035 stays, inside 0.02 to 0.06.

    Counted twice, 2 x 0.003, it would be 0.019 to 0.041. Of the backlash it counts 2 x 0.338 x 0.003 = 0.002028:
    0.29 - 2 x 0.338 x 0.20 = 0.1548, ±0.012028.
    """
    path = write_job(tmp_path, BOX, BOXED.format(on_hand))
    found = plan(load_job(path)).to_dict()
    bearings, backlash = found["gaps"]
    assert (bearings["after"]["low"], bearings["after"]["high"]) == (-0.035, -0.025)
    assert (backlash["after"]["low"], backlash["after"]["high"]) == (0.142772, 0.166828)
    assert (bearings["verdict"], bearings["chance"], found["doable"]) == ("inside", 1, True)
    assert all(level["proven"] for level in found["levels"])
    code, said = run_unfolded("plan", path)[:2]
    assert (code, said.split(" untitled")[0]) == (
        0,
        "Move 0.20 mm from near cap to far cap. Then both gaps are inside.",
    )
    # another one from the drawer would not be as thick: the card says which
    card = run_unfolded("order", path)[1]
    assert "near cap: take G-20 out, leave G-40 in" in card
    assert "far cap: leave G-40 + G-30 in, add G-20: G-40 + G-20 + G-30 (G-20 out of near cap)" in card


THREE = """
unit = "thou"
drawer = "drawer.csv"
place = [{ name = "front", installed = ["P-10", "P-05"] }, { name = "middle", installed = ["P-10"] }]
[[gap]]
name = "float"
value = "6 thou ± 1 thou"
window = { min = 8, max = 11.5, source = "s" }
effects = { front = -1, middle = -0.5 }
"""


def test_a_piece_that_counts_half_where_it_goes_errs_by_the_other_half(tmp_path: Path) -> None:
    """P-10 goes from front to middle: 6 + 10 - 5 = 11. Its ±0.4 counts 1 - 0.5 of itself: ±0.2, and ±1 of the reading.

    Above 11.5, by u of ±1 and v of ±0.2, each even: u > 0.5 - v, on average (1 - 0.5) / 2 = 25 %.
    """
    drawer = "part,thickness_thou,tolerance_thou,on_hand\nP-05,5,0.3,0\nP-10,10,0.4,0\n"
    job = load_job(write_job(tmp_path, THREE, drawer))
    name = {line.part.name: i for i, line in enumerate(job.stock)}
    stacks = {"front": (name["P-05"],), "middle": (name["P-10"], name["P-10"])}
    found = outcome_of(job, stacks, {place.name: frozenset() for place in job.places}).gaps["float"]
    thou = Fraction(25_400)
    assert found.after == Bracket(thou * 98 / 10, thou * 11, thou * 122 / 10)
    assert found.chance == Fraction(3, 4)
