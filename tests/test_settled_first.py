"""What has to be settled, read again or found out first says so wherever a gap of it is shown."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from shimopt.job import load_job
from shimopt.ordering.order import make_order
from shimopt.planner import decide
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import sheet_content
from shimopt.words.card_first_words import over_rows
from shimopt.words.letter_answer import gap_status
from shimopt.words.letter_words import all_gap_words
from shimopt.words.speaker import Speaker
from shimopt.words.standing import Standing
from tests.command import Run

DRAWER = "part,thickness_thou,on_hand\nC-02,2,2\nC-03,3,2\nC-05,5,1\n"
CAP = """\
unit = "thou"
drawer = "drawer.csv"
window = {{ {window}, source = "book" }}
[[place]]
name = "cap"
installed = ["C-03", "C-02"]
[[gap]]
name = "cap"
{reading}
"""
# the pack opens the gap: with one shim more there is room for a blade
OPENS = CAP.format(window="min = 2, max = 4", reading='feeler = { no_go = 1 }\neffects = { "cap" = 1 }')
COVER = CAP.format(window="preload = [2, 4]", reading="cover_gap = { no_go = 1, shims_in = true }")
HANGS = """\
unit = "mm"
drawer = "drawer.csv"
window = { min = 0.1, max = 0.2, source = "book" }
[[seat]]
name = "pin"
shaft = "20 mm"
[[place]]
name = "a"
seat = "pin"
installed = ["X-30"]
[[gap]]
name = "a"
feeler = { go = 0.12, no_go = 0.15 }
"""
WIDE = "part,thickness_mm,inner_mm,on_hand\nX-30,0.3,26,0\nY-30,0.3,20.2,1\n"


def _job(folder: Path, text: str, drawer: str = DRAWER) -> Path:
    (folder / "job.toml").write_text(text)
    (folder / "drawer.csv").write_text(drawer)
    return folder


@pytest.mark.parametrize(
    ("text", "said", "step"),
    [
        (
            OPENS,
            "read it again with a thicker pack of known thickness in",
            "or read it with a thicker pack of known thickness in",
        ),
        (COVER, "take a shim out until a blade goes", "take a shim out until a blade goes"),
    ],
    ids=["a pack that opens", "a cover"],
)
def test_what_no_blade_can_tell_stands_on_plan_letter_and_card(
    tmp_path: Path, run: Run, text: str, said: str, step: str
) -> None:
    folder = _job(tmp_path, text)
    job = load_job(folder)
    plan, say = decide(job), Speaker.of(job)
    assert step in re.sub(r"\s+", " ", run("plan", str(folder))[1])
    assert said in " ".join(all_gap_words(plan, say)["cap"].sentences)
    # the box above it holds only so far
    assert re.search(r"But this holds only if .*\bcap\b", letter_content(plan, "thou", "2026-05-03")["answer"])
    order = make_order([job])
    assert said in " ".join(over_rows(order, say).cards[0])
    # which way it may be off: a cover that rests on the case hides play, a gap that shims open hides preload
    hides = "may have play" if "cover_gap" in text else "may be tighter than 0"
    assert hides in re.sub(r"\s+", " ", run("order", str(folder))[1])


def test_a_gap_with_what_does_not_suit_is_nowhere_simply_right(tmp_path: Path, run: Run) -> None:
    job = load_job(_job(tmp_path, HANGS, WIDE))
    plan = decide(job)
    assert plan.outcome.gaps["a"].verdict == "inside"
    row = next(line for line in run("plan", str(tmp_path))[1].splitlines() if line.startswith("a  "))
    assert "once settled" in row
    assert "✓" not in row
    assert gap_status(plan, job.gap["a"], Standing.of(plan)).endswith("to be settled first")
    (place,) = sheet_content(plan, "mm", "2026-05-03")["places"]
    assert place["then"][0]["doubt"] == "only once it is settled: see the top"


GEAR = """\
unit = "mm"
drawer = "drawer.csv"
window = { min = 0.1, max = 0.2, source = "card" }
[[seat]]
name = "hub"
moving_face = true
[[gap]]
name = "idler"
seat = "hub"
feeler = { go = 0.30, no_go = 0.32 }
"""
SOFT = "part,thickness_mm,hardness,on_hand\nthin 0.10,0.10,soft,1\nthin 0.05,0.05,soft,1\n"


def test_a_planned_piece_that_asks_for_care_says_so_on_every_paper(tmp_path: Path, run: Run) -> None:
    """Soft shims alone between a fixed face and one that turns (common practice: a hard piece against what turns)."""
    job = load_job(_job(tmp_path, GEAR, SOFT))
    plan, say = decide(job), Speaker.of(job)
    words = "is soft, and the face turns"
    assert words in re.sub(r"\s+", " ", run("plan", str(tmp_path))[1])
    assert words in " ".join(sheet_content(plan, "mm", "2026-05-03")["out"])
    assert words in " ".join(all_gap_words(plan, say)["idler"].sentences)


SLACK = """\
unit = "mm"
drawer = "drawer.csv"
[state]
clamped = "finger tight"
[[gap]]
name = "shaft"
feeler = { go = 0.10, no_go = 0.15 }
window = { min = 0.05, max = 0.11, source = "manual" }
"""


def test_a_gap_not_read_as_in_service_is_nowhere_simply_right(tmp_path: Path, run: Run) -> None:
    """0.10 to 0.15 less 0.05 is 0.05 to 0.10: inside, and at both ends within a tenth of what the window allows."""
    job = load_job(_job(tmp_path, SLACK, "part,thickness_mm,on_hand\nS2,0.05,1\n"))
    plan = decide(job)
    assert plan.outcome.gaps["shaft"].verdict == "inside"
    row = next(line for line in run("plan", str(tmp_path))[1].splitlines() if line.startswith("shaft  "))
    assert "? once settled" in row
    assert gap_status(plan, job.gap["shaft"], Standing.of(plan)).endswith("to be settled first")
    (place,) = sheet_content(plan, "mm", "2026-05-03")["places"]
    assert place["then"][0]["doubt"] == "only once it is settled: see the top"


def test_the_key_of_a_picture_names_what_is_drawn(tmp_path: Path) -> None:
    left = SLACK.replace("max = 0.11", "max = 0.20").replace('[state]\nclamped = "finger tight"\n', "")
    for text, hollow in ((SLACK, True), (left, False)):
        plan = decide(load_job(_job(tmp_path, text, "part,thickness_mm,on_hand\nS2,0.05,1\n")))
        assert ("Hollow bar" in letter_content(plan, "mm", "2026-05-03")["key"]) == hollow


PACKS = """\
unit = "thou"
drawer = "drawer.csv"
window = { min = 4, max = 12, source = "book" }
[[place]]
name = "left"
pieces = { min = 0, max = 1 }
[[place]]
name = "right"
pieces = { min = 2, max = 2 }
[[gap]]
name = "float"
value = "20 thou ± 9 thou"
effects = { left = -1, right = -1 }
"""


@pytest.mark.parametrize(("half", "sizes", "likely"), [(5, (4, 8), "probably inside"), (9, (4, 5), "perhaps inside")])
def test_a_doubt_of_a_gap_that_packs_set_stands_in_its_row(
    tmp_path: Path, half: int, sizes: tuple[int, int], likely: str
) -> None:
    """20 ± 5 less 12 is 3 to 13: 8 of 10 parts of that are inside; 20 ± 9 less 9 is 2 to 20: 8 of 18."""
    rows = "".join(f"S{size},{size},1\n" for size in sizes)
    job = PACKS.replace("± 9", f"± {half}")
    plan = decide(load_job(_job(tmp_path, job, f"part,thickness_thou,on_hand\n{rows}")))
    (gap,) = letter_content(plan, "thou", "2026-05-03")["gaps"]
    assert gap["verdict"] == "unproven"
    assert gap["status"].endswith(likely)
    assert any(cell.startswith(f"{likely}: right: ") for cell in gap["row"]), gap["row"]
