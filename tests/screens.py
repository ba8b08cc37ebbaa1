"""Screens as they are, at three widths, for a reviewer to read. `python -m tests.screens` writes them anew."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

from shimopt.job import load_job
from shimopt.planner import Decision, decide
from shimopt.render.screens.layout import ASCII, UNICODE, Line
from shimopt.render.screens.short_screen import short_lines
from shimopt.render.screens.why_screen import short_why_lines, why_lines

__all__ = ["FOLDER", "as_text", "screens"]

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "tests" / "data" / "screens"
WIDTHS = (40, 80, 120)
# every demo that is one job, then what can go wrong: nothing helps, a face is tilted, what is in comes out, a question
JOBS = {
    **{name: ROOT / "demo_data" / name for name in ("swing-bridge", "fulling-mill", "quarry-tram", "slipway-winch")},
    "twelve-valve": ROOT / "demo_data" / "twelve-valve",
    "no-shims-allowed": ROOT / "tests" / "data" / "advice" / "no-shims-allowed",
    "finger-tight": ROOT / "tests" / "data" / "advice" / "finger-tight",
    "bucket-step": ROOT / "tests" / "data" / "advice" / "bucket-step",
    "ring-comes-out": ROOT / "tests" / "data" / "installed" / "ring-comes-out",
    "crown-wheel": ROOT / "tests" / "data" / "crown-wheel",
}
# shimmed among parts that do not suit; short of a piece; where shims were in; moved by two places
ONE_GAP = {
    "swing-bridge": "upper 1",
    "quarry-tram": "rear right",
    "twelve-valve": "1 inlet",
    "slipway-winch": "backlash",
}


@cache
def planned(name: str) -> Decision:
    """The plan of one of these jobs."""
    return decide(load_job(JOBS[name]))


def as_text(lines: list[Line]) -> str:
    """Lines as they are printed, without colours."""
    return "".join(f"{text}\n" for text, _ in lines)


def screens() -> Iterator[tuple[str, str]]:
    """The file of every screen, and what it shows."""
    for name in JOBS:
        plan = planned(name)
        for width in WIDTHS:
            yield f"plan-{name}-{width}.txt", as_text(short_lines(plan, plan.job.unit, width, UNICODE))
            yield f"why-{name}-{width}.txt", as_text(short_why_lines(plan, plan.job.unit, width))
    for name, gap in ONE_GAP.items():
        plan = planned(name)
        for width in WIDTHS:
            text = as_text(why_lines(plan, [gap], plan.job.unit, width))
            yield f"why-{name}-{gap.replace(' ', '-')}-{width}.txt", text
    bridge = planned("swing-bridge")
    yield "plan-swing-bridge-ascii.txt", as_text(short_lines(bridge, bridge.job.unit, 80, ASCII))


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for file, text in screens():
        (FOLDER / file).write_text(text, encoding="utf-8")
