"""Words on screens and papers that once said other than was so: each with the job that showed it."""

from __future__ import annotations

import shutil
from pathlib import Path

from shimopt.job import load_job
from shimopt.planner import decide
from shimopt.render.json.plan_json import plan_object
from shimopt.render.papers.sheet import sheet_content
from shimopt.words.headline import headline
from shimopt.words.letter_words import all_gap_words
from shimopt.words.speaker import Speaker
from tests.command import Run

ADVICE = Path(__file__).parent / "data" / "advice"


def test_a_cover_without_shims_stands_off_and_is_not_too_tight(tmp_path: Path) -> None:
    found = decide(load_job(ADVICE / "cover-no-row-serves"))
    say = Speaker.of(found.job)
    # read 27 to 28 thou between cover and case, 27.5 in the middle
    said = [reason["words"] for reason in plan_object(found)["reasons"]]
    assert said[0].startswith("worm bearings: without shims the cover stands 27.5 thou off; ")
    letter = " ".join(all_gap_words(found, say)["worm bearings"].sentences)
    assert letter.startswith("Without shims the cover stands 27 to 28 thou (0.686 to 0.711 mm) off. The shims ")
    assert "bring worm bearings to preload 2 to 3 thou" in letter
    (read,) = sheet_content(found, "thou", "2026-05-03")["gaps"]
    assert read["read"] == "cover stands 27 to 28 thou off"
    for text in (*said, letter):
        assert "too tight" not in text
    # with nothing that is thick enough it is said of the cover as it is
    bare = shutil.copytree(ADVICE / "cover-no-row-serves", tmp_path / "bare")
    (bare / "drawer.csv").write_text("part,thickness_thou,on_hand\nS-2,2,1\n", encoding="utf-8")
    left = decide(load_job(bare))
    assert "worm bearings without shims is 24.5 thou too tight" in headline(left, say)


def test_a_gap_that_is_left_alone_is_told_how_much_would_still_do(run: Run) -> None:
    # 10 to 11 thou read, 4 to 12 allowed: 10 - 4 = 6
    code, out, _ = run("plan", ADVICE / "no-shims-allowed")
    assert code == 1
    assert "leave; up to 6 thou would still be inside" in out
    # where nothing can help, or no shim may go in, nothing is promised
    assert out.count("leave; up to") == 1
    assert out.count("  fit nothing") == 3
