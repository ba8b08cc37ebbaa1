"""Is the gauge good enough? Told of the stack that is planned, with what is to blame and what helps, by hand."""

from __future__ import annotations

from pathlib import Path

from tests.command import Run

# two trial readings of ±0.01 mm each, 0.20 mm apart: the effect is -1 ± 0.1, S-50 moves it by 0.45 to 0.55 mm
TRIAL = """
title = "Trial effect"
unit = "mm"
drawer = "drawer.csv"
[[place]]
name = "w"
[[gap]]
name = "g"
value = "0.60 mm ± 0.005 mm"
window = { min = 0.05, max = 0.139, source = "sheet 4" }
[gap.effects.w]
trial = [{ stack = 0.20, reading = "0.40 mm ± 0.01 mm" }, { stack = 0.40, reading = "0.20 mm ± 0.01 mm" }]
"""
# an exact reading, pieces to ±0.06 mm
PIECES = """
title = "Pieces uncertain"
unit = "mm"
drawer = "drawer.csv"
[[gap]]
name = "w"
value = "0.40 mm"
window = { min = 0.05, max = 0.15, source = "sheet 4" }
"""


def told(run: Run, folder: Path, job: str, drawer: str) -> str:
    (folder / "job.toml").write_text(job, encoding="utf-8")
    (folder / "drawer.csv").write_text(drawer, encoding="utf-8")
    said = run("plan", "--full", folder)[1]
    return said[said.index("Is the gauge good enough?") :].partition("Assumed")[0]


def test_the_effect_is_blamed_where_it_is_the_cause(run_unfolded: Run, tmp_path: Path) -> None:
    """By hand with S-50, 0.498 to 0.502 mm: 0.595 - 0.5522 = 0.0428 to 0.605 - 0.4482 = 0.1568, that is ±0.057."""
    said = told(run_unfolded, tmp_path, TRIAL, "part,thickness_mm,tolerance_mm,on_hand\nS-50,0.50,0.002,2\n")
    assert "reading, pieces and how far a shim moves it are known to ±0.057 mm only" in said
    assert "It takes trial readings further apart, for how far a shim moves it." in said
    assert "measure" not in said
    assert "have a stack of" not in said


def test_the_pieces_are_blamed_where_they_are_the_cause(run_unfolded: Run, tmp_path: Path) -> None:
    """One S-30 is planned: ±0.06 mm, not the ±0.12 mm of two."""
    said = told(run_unfolded, tmp_path, PIECES, "part,thickness_mm,tolerance_mm,on_hand\nS-30,0.30,0.06,2\n")
    assert "the pieces are known to ±0.06 mm only" in said
    assert "It takes pieces that are measured." in said
    assert "reading" not in said.replace("trial readings", "")
    assert "have a stack of" not in said
