"""Names as people write them, long, Greek, Cyrillic, Chinese: no screen runs over, no name is lost."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from functools import cache

import pytest
from pandas import DataFrame
from rich.cells import cell_len

from shimopt.job import job_from
from shimopt.planner import Decision, decide
from shimopt.render.papers.letter import letter_content
from shimopt.render.papers.typeset import Fonts, pdf_of
from shimopt.render.screens.layout import UNICODE, Line
from shimopt.render.screens.plan_screen import screen_lines
from shimopt.render.screens.short_screen import short_lines
from shimopt.render.screens.why_screen import short_why_lines, why_lines

# title, gaps, what a shim is called, where it lies
JOBS = {
    "greek": (
        "Άξονας μετάδοσης κίνησης του μύλου",
        ("άνω άκρο, πλευρά του τροχού", "κάτω άκρο, πλευρά της μυλόπετρας", "ενδιάμεσο έδρανο"),
        ("Δακτύλιος", "κουτί"),
    ),
    "cyrillic": (
        "Редуктор лебёдки плавучего крана № 7",
        ("верхний подшипник, сторона двигателя", "нижний подшипник", "средняя опора промежуточного вала"),
        ("Шайба", "ящик"),
    ),
    "chinese": ("龙门起重机减速箱中间轴", ("上端轴承(电机侧)", "下端轴承", "中间支承"), ("垫片", "盒")),
    "long": (
        "Conveyor drive of the limestone crusher at the upper quarry, twenty idler shafts with their tensioners",
        tuple(f"idler shaft {n}, drive side, upper strand (east gantry, above the weighbridge)" for n in (1, 2, 3)),
        ("intermediate-ring-hardened-and-ground", "second drawer of the cabinet beside the lathe"),
    ),
}


@cache
def plan_of(script: str) -> Decision:
    """One gap that lacks its shim, one that is right, one that gets two."""
    title, names, (part, tin) = JOBS[script]
    sizes = {"10": 2, "20": 1, "30": 1}
    rows = [
        {
            "part": f"{part}-{size}",
            "thickness_mm": f"0.{size}",
            # the thick one hangs off centre
            "inner_mm": "32.5" if size == "30" else "30.2",
            "on_hand": str(count),
            "at": f"{tin} {size}",
        }
        for size, count in sizes.items()
    ]
    reads = ((0.30, 0.35), (0.12, 0.17), (0.45, 0.50))
    job = {
        "title": title,
        "unit": "mm",
        "window": {"min": 0.10, "max": 0.20, "source": title},
        "seat": [{"name": names[0], "shaft": "30 mm ± 0.02 mm"}],
        "gap": [
            {"name": name, "seat": names[0], "feeler": {"go": go, "no_go": no_go}}
            for name, (go, no_go) in zip(names, reads, strict=True)
        ],
    }
    return decide(job_from(job, DataFrame(rows)))


def screens(plan: Decision, width: int) -> dict[str, list[Line]]:
    return {
        "plan": short_lines(plan, "mm", width, UNICODE),
        "full": screen_lines(plan, "mm", width, UNICODE),
        "why": short_why_lines(plan, "mm", width),
        "why of all": why_lines(plan, [gap.name for gap in plan.job.gaps], "mm", width),
    }


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("script", JOBS)
def test_no_screen_runs_over_and_no_name_is_lost(script: str, width: int) -> None:
    plan = plan_of(script)
    for name, lines in screens(plan, width).items():
        assert [text for text, _ in lines if cell_len(text) > width] == [], name
    # a name may be broken anywhere, and cells of others stand between its lines: wide enough, all is in one place
    wide = re.sub(r"\s+", "", "".join(text for text, _ in short_lines(plan, "mm", 400, UNICODE)))
    for gap in plan.job.gaps:
        assert re.sub(r"\s+", "", gap.name) in wide


def test_a_picture_keeps_its_room_where_no_font_has_a_sign() -> None:
    """The fonts inside typst have no Chinese: texts are written by number, a row of the chart by one sign each."""
    content = letter_content(plan_of("chinese"), "mm", "2026-05-03")
    result = pdf_of(content, "a4", datetime(2026, 5, 3, tzinfo=UTC), Fonts())
    assert "上" in result.missing
    from shimopt.render.papers.typeset import _spelled

    spelled = _spelled(content, set(result.missing))
    assert "[U+4E0A]" in spelled["gaps"][0]["name"]
    assert "U+" not in spelled["charts"][0]["svg"]
