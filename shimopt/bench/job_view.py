"""A job with its answer as plain data, for its page."""

from __future__ import annotations

from typing import Any

from shimopt.planner import Decision
from shimopt.words.headline import headlines
from shimopt.words.next_steps import next_steps
from shimopt.words.short_words import proof_words
from shimopt.words.speaker import Speaker


def job_data(decision: Decision, stage: str) -> dict[str, Any]:
    """The answer, the gaps with what goes in, and what is next; without reasons at the stage "plan"."""
    job, say = decision.job, Speaker.of(decision.job)
    return {
        "title": job.title,
        "unit": job.unit,
        "answer": headlines(decision, say),
        "gaps": [
            {
                "name": gap.name,
                "read": say.bracket(gap.reading.bracket.low, gap.reading.bracket.high),
                "verdict": decision.outcome.gaps[gap.name].verdict,
                "fit": [say.stack(decision.stacks.get(place, ()), place) for place, _ in gap.effects],
            }
            for gap in job.gaps
        ],
        "next": next_steps(decision, say, whole=False) if stage == "reasons" else [],
        "proof": proof_words(decision),
    }
