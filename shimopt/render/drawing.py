"""All gaps of a job in one picture."""

from __future__ import annotations

from shimopt.planner import Decision
from shimopt.render.letter import job_bars
from shimopt.render.pictures import common_ranges, rows_svg
from shimopt.words.letter_words import PICTURE_KEY

__all__ = ["job_picture"]


def job_picture(decision: Decision, unit: str) -> str:
    """The gaps below each other as an SVG file."""
    bars = job_bars(decision)
    ranges = common_ranges(decision.job, bars)
    rows = [(gap.name, gap.window, bars[gap.name], ranges[gap.name]) for gap in decision.job.gaps]
    return rows_svg(decision.job.title, rows, unit, PICTURE_KEY)
