"""What became of a record, as plain data: each gap predicted and found, what that means, and the drawer's counts."""

from __future__ import annotations

from typing import Any

from shimopt.door.workshop import Recording
from shimopt.errors import shown
from shimopt.job import Job
from shimopt.job.record import RecordedGap
from shimopt.recording import Compared
from shimopt.words.bench_page_words import (
    SIGNS,
    VERDICTS,
    as_predicted_words,
    count_words,
    counts_words,
    recorded_words,
)
from shimopt.words.record_words import (
    bought_words,
    compared_cells,
    fitted_lines,
    speaker_of,
    torques_compared,
    unread_words,
)
from shimopt.words.speaker import Speaker


def recorded_data(done: Recording) -> dict[str, Any]:
    """The answer, a line per gap, what is in where that is not as planned, and what changed in the drawer."""
    recorded, job = done.recorded, done.job
    say, rows = Speaker.of(job), recorded.compared
    finer, verdict = speaker_of(rows, job, job.unit), _verdict(rows)
    drawer = recorded.record.drawer
    counted = drawer in ("by hand", "done")
    return {
        "title": shown(job.title),
        "unit": job.unit,
        "who": recorded_words(recorded.record),
        "answer": as_predicted_words(len(rows), sum(row.code == "agrees" for row in rows)),
        "again": recorded.again,
        "verdict": verdict,
        "sign": SIGNS[verdict],
        "gaps": [_line(row, recorded.record.gaps[row.gap], job, finer) for row in rows],
        "fitted": [] if recorded.fitted is None else fitted_lines(recorded.fitted, say, said=True),
        "unread": [] if recorded.fitted is None else unread_words(recorded, recorded.fitted, say),
        "torques": [f"{torque}." for torque in torques_compared(recorded.record, job)],
        "counts": counts_words(drawer, any_drawer=job.drawer_of is not None, changes=len(recorded.changes)),
        "changes": [count_words(change) for change in recorded.changes]
        + [bought_words(piece, count, counted=counted) for piece, count in recorded.bought.items()],
    }


def _verdict(rows: tuple[Compared, ...]) -> str:
    """That of the worst gap; what is not as predicted is to be found out first, and is not shown as right."""
    found = {row.verdict if row.code == "agrees" or row.verdict == "outside" else "unproven" for row in rows}
    return next((verdict for verdict in ("outside", "unproven") if verdict in found), "inside")


def _line(row: Compared, of: RecordedGap, job: Job, say: Speaker) -> dict[str, Any]:
    predicted, found, means = compared_cells(row, job.gap[row.gap], say, of.running)
    return {
        "name": shown(row.gap),
        "predicted": predicted,
        "found": found,
        "agrees": row.code == "agrees",
        "verdict": row.verdict,
        "sign": SIGNS[row.verdict],
        "word": VERDICTS[row.verdict],
        "means": means[:1].upper() + means[1:],
    }
