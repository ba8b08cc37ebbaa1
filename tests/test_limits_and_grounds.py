"""What letter, sheet and plan say of limits and their sources, of what is taken as exact, and of what stays as it was.

Each job is one whose papers once said something false; the figures are worked out beside each check.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from shimopt.job import load_job
from shimopt.planner import Decision, decide
from shimopt.render.json.plan_json import plan_object
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import sheet_content
from shimopt.render.screens.layout import UNICODE
from shimopt.render.screens.plan_screen import screen_lines
from shimopt.words.letter_next_words import watch_words
from shimopt.words.speaker import Speaker
from tests.jobs import gap, job, window

DEMOS, DATA = Path(__file__).parents[1] / "demo_data", Path(__file__).parent / "data"
DATE = "2026-05-03"


def planned(folder: Path) -> Decision:
    return decide(load_job(folder))


def screen(found: Decision) -> str:
    return "\n".join(text for text, _ in screen_lines(found, found.job.unit, 5000, UNICODE))


@pytest.mark.parametrize(
    ("least", "said"),
    [
        # preload 0.09 to 0.11: 0.13 - 0.11 = 0.02 to the largest, 0.09 - 0.06 = 0.03 to the least
        ("0.06", "0.02 mm is left to the largest preload allowed, 0.13 mm."),
        # 0.09 - 0.08 = 0.01 to the least
        ("0.08", "0.01 mm is left to the least preload allowed, 0.08 mm."),
    ],
)
def test_a_preload_is_watched_at_the_limit_that_it_is_nearest_to(tmp_path: Path, least: str, said: str) -> None:
    settled = (DATA / "crown-wheel" / "job.toml").read_text().replace('on = "wheel"', 'on = "wheel", share = 1')
    assert settled.count("max = -0.06") == 1
    (tmp_path / "job.toml").write_text(settled.replace("max = -0.06", f"max = -{least}"))
    shutil.copy(DATA / "crown-wheel" / "drawer.csv", tmp_path)
    first = letter_content(planned(tmp_path), "mm", DATE)["watch"][0]
    assert first == f"Watch bearing play first: {said}"


@pytest.mark.parametrize(
    ("limits", "read", "said"),
    [
        ((4, 12), (5, 6), "1 thou (0.025 mm) is left to the least clearance allowed, 4 thou (0.102 mm)"),
        ((4, 12), (9, 10), "2 thou (0.051 mm) is left to the largest clearance allowed, 12 thou (0.305 mm)"),
        # where preload and play are both allowed, each limit says which it is
        ((-2, 3), (-1, 0), "1 thou (0.025 mm) is left to the largest preload allowed, 2 thou (0.051 mm)"),
        ((-2, 3), (1, 2), "1 thou (0.025 mm) is left to the largest play allowed, 3 thou (0.076 mm)"),
        ((-5, 0), (-3, -1), "1 thou (0.025 mm) is left to the least preload allowed, 0 thou (0.00 mm)"),
        ((0, 9), (1, 2), "1 thou (0.025 mm) is left to the least clearance allowed, 0 thou (0.00 mm)"),
        ((4, 12), (4, 5), "it may already stand at the least clearance allowed, 4 thou (0.102 mm)"),
    ],
)
def test_the_nearest_limit_is_called_what_it_is(limits: tuple[int, int], read: tuple[int, int], said: str) -> None:
    wide = gap("other", 50, 51, window(0, 100))
    found = decide(job([gap("a", *read, window(*limits)), wide], []))
    assert watch_words(found, Speaker.of(found.job))[0] == f"Watch a first: {said}."


def test_a_window_narrowed_for_heat_is_not_said_to_be_the_manuals() -> None:
    # the manual states 0.05 to 0.15; hot 0.10 to 0.20 less 0.0918 of growth leaves 0.0082 to 0.1082 cold
    found = planned(DATA / "advice" / "finger-tight")
    source = "manual, narrowed so that it holds hot too (hot: guess)"
    opening = letter_content(found, "mm", DATE)["explanation"][0]
    assert opening.endswith(f"Allowed is 0.0500 to 0.1082 mm, as stated in: {source}.")
    assert sheet_content(found, "mm", DATE)["sources"] == [source]


def test_measured_shims_are_taken_as_measured_and_only_the_others_as_marked() -> None:
    # of three kinds two were measured without an error, one is marked without a tolerance
    found = planned(DATA / "advice" / "thin-against-gear")
    assert letter_content(found, "mm", DATE)["grounds"][0] == (
        "One of 3 kinds of shim is taken as marked, without tolerance, and two as measured (no error stated)."
    )
    assert (
        "Taken as exact, for no tolerance is stated: 1 of 3 part sizes as marked, 2 of 3 as measured (no error "
        "stated) and 3 of 4 bores and shafts."
    ) in screen(found)
    counts = plan_object(found)["taken_as_exact"]
    assert counts["part_sizes"] == {"count": 3, "of": 3}
    assert counts["measured_sizes"] == {"count": 2, "of": 3}


def test_what_comes_back_to_where_it_was_stays() -> None:
    # 0.10 out on the left and 0.10 in on the right: the sum of the packs, and with it the preload, is what it was
    found = planned(DATA / "crown-wheel")
    told = {gap["name"]: gap for gap in letter_content(found, "mm", DATE)["gaps"]}
    assert told["bearing play"]["status"] == told["bearing play"]["row"][2] == "stays as it was"
    assert told["bearing play"]["row"][0] == told["bearing play"]["row"][-1] == "preload 0.09 to 0.11 mm"
    # the smallest is 0.34; ±0.005, ±0.008 and ±0.01, each even, make ±0.0152 of it (1.92 x their 0.00794):
    # 0.3248 - 0.705 x 0.20 = 0.1838 and 0.3552 - 0.141 = 0.2142, with one digit more than was read, outwards
    assert told["backlash"]["row"][-1] == "0.183 to 0.215 mm"
    why = screen(found)
    assert "  bearing play: inside as read; it stays at preload 0.10 mm.\n" in why
    assert "  backlash: reads 0.09 mm too loose; left side and right side bring it to 0.199 mm.\n" in why
