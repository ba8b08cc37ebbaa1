"""One word for each thing, and each thing told once: covers, seats, where pieces come from, what speaks against it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from pandas import read_csv

from shimopt.job import job_from, load_job
from shimopt.planner import Decision, decide
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.sheet import sheet_content
from shimopt.render.screens.layout import UNICODE
from shimopt.render.screens.short_screen import short_lines
from shimopt.render.screens.why_screen import why_lines
from shimopt.words.headline import headline
from shimopt.words.speaker import Speaker

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "demo_data"
KEPT = ROOT / "tests" / "data"
JOBS = [
    *(DEMO / name for name in ("swing-bridge", "quarry-tram", "slipway-winch", "twelve-valve", "fulling-mill")),
    *(KEPT / name for name in ("advice/bucket-step", "advice/finger-tight", "installed/ring-comes-out", "crown-wheel")),
]
WINDOW = {"min": 0.08, "max": 0.15, "source": "mill drawing 4471, sheet 2"}


def screen(plan: Decision, width: int = 80) -> str:
    return "\n".join(text for text, _ in short_lines(plan, plan.job.unit, width, UNICODE))


def unfolded(text: str) -> str:
    return " ".join(text.split())


def planned(job: dict[str, Any], *rows: str) -> Decision:
    """The plan of a job with these rows in its drawer."""
    table = read_csv(StringIO("\n".join(("part,thickness_mm,on_hand,at", *rows))), dtype=str, keep_default_na=False)
    return decide(job_from({"unit": "mm", "window": WINDOW, **job}, table))


def felt() -> Decision:
    """Plain shims under the cover of a felt roll, no bore in the drawer; both packs from one box of tins."""
    cover = {"name": "drive side", "cover_gap": {"go": 0.05, "no_go": 0.10, "shims_in": True}}
    return planned(
        {
            "place": [{"name": "drive side", "installed": ["P-10", "P-20"]}, {"name": "tending side"}],
            "gap": [cover, {"name": "tending side", "feeler": {"go": 0.35, "no_go": 0.40}}],
        },
        *("P-05,0.05,6,tin 1", "P-10,0.10,4,tin 1", "P-20,0.20,3,tin 2"),
    )


def row(gaps: int, at: str = "") -> Decision:
    """So many rolls that read alike, and a drawer with a shim for each."""
    reads = [{"name": f"roll {number}", "feeler": {"go": 0.30, "no_go": 0.35}} for number in range(1, gaps + 1)]
    return planned({"gap": reads}, f"P-20,0.20,{gaps},{at}")


def test_a_cover_stands_off_on_every_screen_and_paper() -> None:
    plan = decide(load_job(DEMO / "fulling-mill"))
    why = unfolded("\n".join(text for text, _ in why_lines(plan, ["step cover"], "thou", 80)))
    letter = letter_content(plan, "thou", "2026-05-03")
    sheet = sheet_content(plan, "thou", "2026-05-03")
    assert "stands 6 to 7 off" in screen(plan)
    assert "Read cover stands 6 to 7 thou off; best estimate 6.5 thou" in why
    (found,) = [one["row"][0] for one in letter["gaps"] if one["name"] == "step cover"]
    assert found == "without shims the cover stands 6 to 7 thou off"
    assert next(one["read"] for one in sheet["gaps"] if one["name"] == "step cover") == "cover stands 6 to 7 thou off"
    for text in (screen(plan), why):
        assert "preload 6 to 7" not in text
        assert "cover gap" not in text


def test_that_flat_packs_name_no_seat_is_told_once_and_no_bore_is_asked_for() -> None:
    text = unfolded(screen(felt()))
    assert text.count("seat") == 1  # in one caution
    assert "bores" not in text
    mill = unfolded(screen(decide(load_job(DEMO / "fulling-mill"))))
    assert mill.count("Not checked, not given: seat,") == 1
    assert "Measure the bores" not in mill


def test_a_bore_that_matters_is_still_asked_for() -> None:
    """One gap between rings on a shaft that nobody wrote down."""
    assert "Measure bores and shafts." in unfolded(screen(row(1)))


@pytest.mark.parametrize(("at", "said"), [("", "All pieces from the drawer."), ("tin 7", "All pieces from tin 7.")])
def test_where_all_pieces_come_from_is_told_once(at: str, said: str) -> None:
    text = screen(row(14, at))
    assert said in unfolded(text)
    assert text.count(at or "drawer") == 1
    # of two it stands beside each
    assert screen(row(2, at)).count(at or "drawer") == 2


def test_but_is_said_once() -> None:
    """The exhaust bucket that reads from nothing, beside one that is only probably inside."""
    for name in ("bucket-step", "finger-tight"):
        plan = decide(load_job(KEPT / "advice" / name))
        said = headline(plan, Speaker.of(plan.job))
        assert said.lower().count("but ") == 1, said
        assert letter_content(plan, plan.job.unit, "2026-05-03")["answer"].lower().count("but ") <= 1


def test_the_first_line_says_what_is_done_though_a_gap_stays_outside() -> None:
    """A ring of 0.20 goes from the end that reads from nothing to the middle; the right end reads nought: no shim."""
    ends = [
        {"name": "left", "feeler": {"no_go": 0.05}},
        {"name": "mid", "feeler": {"go": 0.40, "no_go": 0.45}},
        {"name": "right", "value": "0.00 mm ± 0.01 mm"},
    ]
    places = [{"name": "left", "installed": ["R-20"]}, {"name": "mid"}, {"name": "right"}]
    window = {"min": 0.10, "max": 0.25, "source": "card"}
    plan = planned({"window": window, "gap": ends, "place": places}, "R-20,0.20,0,")
    first = headline(plan, Speaker.of(plan.job))
    assert first.startswith("No shim can do it for 1 of 3 gaps: right stays 0.10 mm too tight. Move 0.20 mm from left")


def test_why_one_of_two_gets_the_shim_is_said_where_the_other_gets_none() -> None:
    """By hand: without shims the cover stands 6.5 off and wants 3 at least, 9.5 too tight; the south end 17.5 - 12."""
    text = unfolded(screen(decide(load_job(DEMO / "fulling-mill"))))
    assert "S-10 would do it, but goes to step cover, which would else stay 9.5 thou too tight: needs 8" in text


def texts(value: Any) -> Iterator[str]:
    """All texts of a content, pictures left out."""
    if isinstance(value, str):
        yield value
    for item in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        if item[0] != "svg":
            yield from texts(item[1])


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.name)
def test_a_letter_names_no_tag_of_a_piece_and_no_key_of_the_job(path: Path) -> None:
    plan = decide(load_job(path))
    content = letter_content(plan, plan.job.unit, "2026-05-03")
    assert not [text for text in texts(content) if re.search(r"[\[\]`]", text)]
    assert not [chart for chart in content["charts"] if re.search(r">[^<]*[\[\]][^<]*<", chart["svg"])]
