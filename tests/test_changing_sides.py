"""Two pieces change sides: what both places share of a gap stays as well known as it was, by hand."""

from __future__ import annotations

import re
from pathlib import Path

from shimopt import load_job, plan
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
