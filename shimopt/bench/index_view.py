"""A job as a row of the list of jobs, as plain data."""

from __future__ import annotations

from typing import Any

from shimopt.planner import Decision
from shimopt.words.headline import headline
from shimopt.words.speaker import Speaker


def row_data(decision: Decision) -> dict[str, Any]:
    """Its title, whether it comes right, and the answer in a sentence."""
    job, found = decision.job, decision.outcome
    sign = "inside" if found.doable else "outside"
    return {"title": job.title, "verdict": sign, "answer": headline(decision, Speaker.of(job))}
