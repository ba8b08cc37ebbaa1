"""A job as a row of the list of jobs, as plain data."""

from __future__ import annotations

from typing import Any

from shimopt.bench.job_view import verdict_of
from shimopt.planner import Decision
from shimopt.words.bench_page_words import VERDICTS
from shimopt.words.headline import headline
from shimopt.words.speaker import Speaker


def row_data(decision: Decision) -> dict[str, Any]:
    """Its title, how it stands, and the answer in a sentence."""
    job = decision.job
    verdict = verdict_of(decision)
    return {
        "title": job.title,
        "verdict": verdict,
        "word": VERDICTS[verdict],
        "answer": headline(decision, Speaker.of(job, buys=decision.buy)),
    }
