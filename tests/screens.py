"""Screens as they are, at three widths, for a reviewer to read. `python -m tests.screens` writes them anew."""

from __future__ import annotations

import contextlib
import io
import os
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from unittest.mock import patch

from shimopt.cli import main
from shimopt.job import load_job
from shimopt.planner import Decision, decide
from shimopt.render.screens.layout import ASCII, UNICODE, Line
from shimopt.render.screens.short_screen import short_lines
from shimopt.render.screens.why_screen import gap_why_lines, short_why_lines

__all__ = ["COMMANDS", "FOLDER", "FOLDER_OF_COMMANDS", "WIDTHS", "as_text", "printed", "screens"]

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "tests" / "data" / "screens"
FOLDER_OF_COMMANDS = ROOT / "tests" / "data" / "screens_of_commands"
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


# the other screens, one of each kind; files are seen from the project's folder
COMMANDS: dict[str, tuple[str, ...]] = {
    "full": ("plan", "--full", "demo_data/swing-bridge"),
    "choices": ("plan", "--choices", "demo_data/swing-bridge"),
    "buy": ("plan", "--buy", "demo_data/quarry-tram"),
    "order": ("order", "demo_data/fulling-mill"),
    "fit": ("fit", "demo_data/swing-bridge"),
    "fit-one": ("fit", "demo_data/quarry-tram", "--part", "PS56-0.5"),
    "parts": ("parts", "--catalogue", "demo_data/quarry-tram/catalogue.csv"),
    "make": ("make", "0.53mm", "--drawer", "demo_data/quarry-tram/drawer.csv"),
}


def printed(command: str, width: int) -> str:
    """What one of these commands prints on a terminal so wide, without colours; seconds are nobody's business."""
    shown = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="\n")
    wide = {"COLUMNS": str(width), "TTY_COMPATIBLE": "1", "TERM": "xterm"}
    with (
        patch.dict(os.environ, wide),
        contextlib.chdir(ROOT),
        contextlib.redirect_stdout(shown),
        contextlib.suppress(SystemExit),
    ):
        main([*COMMANDS[command]])
    shown.seek(0)
    plain = re.sub(r"\x1b\[[0-9;]*m", "", shown.read())
    return re.sub(r"in [0-9.]+ s\b", "in 0.00 s", plain)


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
            text = as_text(gap_why_lines(plan, gap, plan.job.unit, width))
            yield f"why-{name}-{gap.replace(' ', '-')}-{width}.txt", text
    bridge = planned("swing-bridge")
    yield "plan-swing-bridge-ascii.txt", as_text(short_lines(bridge, bridge.job.unit, 80, ASCII))


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for file, text in screens():
        (FOLDER / file).write_text(text, encoding="utf-8")
    FOLDER_OF_COMMANDS.mkdir(exist_ok=True)
    for name in COMMANDS:
        for width in WIDTHS:
            (FOLDER_OF_COMMANDS / f"{name}-{width}.txt").write_text(printed(name, width), encoding="utf-8")
