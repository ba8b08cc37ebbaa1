"""A gap that nobody read since it was fitted wants a reading, any gauge tells; an untouched one keeps its reading."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

from tests.command import Run

# both ends were shimmed, only the left one was read after that; nothing was done at the quill
JOB = """
title = "Lathe back gear"
unit = "mm"
drawer = "drawer.csv"
window = { min = 0.05, max = 0.15, source = "works card 7" }
[[gap]]
name = "left end"
feeler = { go = 0.40, no_go = 0.45 }
[[gap]]
name = "right end"
feeler = { go = 0.25, no_go = 0.30 }
[[gap]]
name = "quill"
feeler = { go = 0.10, no_go = 0.12 }
"""
DRAWER = """part,thickness_mm,tolerance_mm,on_hand
L-30,0.30,0.005,2
L-15,0.15,0.005,2
L-05,0.05,0.003,3
"""
WHO = ("--person", "M. Hale", "--instrument", "blades", "--date")


def recorded(run: Run, folder: Path) -> Path:
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    (folder / "drawer.csv").write_text(DRAWER, encoding="utf-8")
    run("record", folder, "--after", "left end=0.12 to 0.13 mm", *WHO, "2026-05-03")
    return folder


def paper(run: Run, kind: str, folder: Path) -> str:
    page = folder / f"{kind}.html"
    run(kind, folder, "-o", page)
    text = page.read_text(encoding="utf-8")
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text[text.index("<body") :])).split())


def test_any_gauge_tells_of_what_nobody_read(run_unfolded: Run, tmp_path: Path) -> None:
    """Right end: 0.25 to 0.30 less 0.145 to 0.155 is 0.095 to 0.155 mm, 0.005 mm beyond its window at worst."""
    folder = recorded(run_unfolded, tmp_path)
    said = run_unfolded("plan", "--full", folder)[1]
    assert "right end is only probably inside, not read since it was fitted." in said
    assert "Read right end: nobody has since it was fitted." in said
    assert "finer gauge" not in said
    assert "right end: the sizes are too far apart" not in said
    for kind in ("letter", "sheet"):
        told = paper(run_unfolded, kind, folder)
        assert (
            "Not surely inside: right end. The workshop reads it before it runs: nobody has since it was fitted."
            in told
        )
        assert "more finely" not in told
        assert "the gauge cannot tell" not in told


def test_what_was_not_touched_keeps_its_reading(run_unfolded: Run, tmp_path: Path) -> None:
    """The quill was read by blades at first, and nothing was done there since."""
    folder = recorded(run_unfolded, tmp_path)
    why = run_unfolded("why", folder, "quill")[1]
    assert "0.10 to 0.12 mm by feeler gauge" in why
    assert "as predicted" not in why
    sheet = paper(run_unfolded, "sheet", folder)
    assert re.search(r"quill 0\.05 to 0\.15 mm 0\.10 to 0\.12 mm", sheet)
    assert "calculated, not read: 0.095 to 0.155 mm" in sheet


def test_a_reading_counts_until_something_is_changed(run_unfolded: Run, tmp_path: Path) -> None:
    """Read at the first record, untouched at the second: it was measured then, on that day, and is not calculated."""
    folder = recorded(run_unfolded, tmp_path)
    run_unfolded("record", folder, "--after", "right end=0.11 to 0.12 mm", *WHO, "2026-06-10")
    said = run_unfolded("plan", "--full", folder)[1]
    assert "Nothing to fit: all 3 gaps are inside as read." in said
    assert "nobody has" not in said
    letter = paper(run_unfolded, "letter", folder)
    assert "0.12 to 0.13 mm (2026-05-03)" in letter
    assert "0.11 to 0.12 mm (2026-06-10)" in letter
    assert "measured after fitting where anything was changed" in letter
    assert "alculated" not in letter.replace("calculated measured", "")


def test_a_chance_of_a_half_is_not_called_probable_over_the_gap(run_unfolded: Run, tmp_path: Path) -> None:
    """Right end: 0.25 to 0.35 less 0.145 to 0.155 is 0.095 to 0.205 mm about 0.15, its limit: an even chance."""
    (tmp_path / "job.toml").write_text(JOB.replace("go = 0.25, no_go = 0.30", "go = 0.25, no_go = 0.35"), "utf-8")
    (tmp_path / "drawer.csv").write_text(DRAWER.replace("L-05,0.05,0.003,3\n", ""), "utf-8")
    run_unfolded("record", tmp_path, "--after", "left end=0.12 to 0.13 mm", *WHO, "2026-05-03")
    told = paper(run_unfolded, "letter", tmp_path)
    assert "right end: got a shim, perhaps inside" in told
    assert "probably inside" not in told
