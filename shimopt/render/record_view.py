"""A record as other programs read it; lengths in mm."""

from __future__ import annotations

from typing import Any

from shimopt.job import Job
from shimopt.lengths import Bracket, mm_number
from shimopt.recording import Recorded
from shimopt.words.record_words import compared_words
from shimopt.words.speaker import Speaker

__all__ = ["record_object"]


def record_object(recorded: Recorded, job: Job) -> dict[str, Any]:
    """What was recorded, each gap compared, and the drawer's changes."""
    record = recorded.record
    return {
        "format": 1,
        "title": job.title,
        "lengths_in": "mm",
        "id": record.id,
        "date": record.date,
        "person": record.person,
        "instrument": record.instrument,
        "written": not recorded.again,
        "gaps": [
            {
                "name": row.gap,
                "predicted": _bracket(row.predicted),
                "found": _bracket(row.found),
                "off": mm_number(row.off),
                "verdict": row.verdict,
                "code": row.code,
                "words": compared_words(row, job.gap[row.gap], Speaker(job.unit)),
            }
            for row in recorded.compared
        ],
        "drawer": {
            "state": record.drawer,
            "changes": [
                {"part": c.piece.part, "piece": c.piece.piece, "row": c.row, "before": c.count, "by": c.by}
                for c in recorded.changes
            ],
        },
    }


def _bracket(bracket: Bracket) -> dict[str, float]:
    return {"low": mm_number(bracket.low), "best": mm_number(bracket.best), "high": mm_number(bracket.high)}
