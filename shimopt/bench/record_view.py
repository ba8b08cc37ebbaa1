"""What is asked after fitting, as plain data: every gap with what it should read, every place with what is in."""

from __future__ import annotations

from typing import Any

from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.job.record import Record
from shimopt.lengths import UNITS, as_decimal
from shimopt.planner import Decision
from shimopt.words.bench_page_words import NOTHING_IN, recorded_words
from shimopt.words.digits import with_digits
from shimopt.words.first_words import open_gaps
from shimopt.words.reading_words import limits_text
from shimopt.words.record_words import torques_of
from shimopt.words.sheet_words import AFTERWARDS, expected_text
from shimopt.words.speaker import Speaker, pieces_text

# of a blade: no finer than the finest set
_DIGITS = {"mm": 3, "um": 0, "in": 4, "thou": 1}


def record_data(decision: Decision) -> dict[str, Any]:
    """The plan that was fitted, as it is asked about; and who recorded what before."""
    job = decision.job
    say = with_digits(Speaker.of(job, buys=decision.buy), decision)
    return {
        "title": shown(job.title),
        "unit": job.unit,
        "steps": list(AFTERWARDS[:2]),
        "open": sorted(shown(name) for name in open_gaps(decision)),
        "gaps": [
            {
                "n": n,
                "name": shown(gap.name),
                "expected": expected_text(decision, gap, say),
                "allowed": limits_text(gap.window, say.about(gap)),
                "start": _start(decision, gap),
                "planned": (say.stack(decision.stacks.get(gap.name, ()), gap.name) or NOTHING_IN)
                if gap.in_own_place
                else "",
            }
            for n, gap in enumerate(job.gaps, 1)
        ],
        "places": [
            {"n": n, "name": shown(place.name), "planned": say.stack(decision.stacks.get(place.name, ()), place.name)}
            for n, place in enumerate(job.places, 1)
        ],
        "before": [_visit(record, job, say) for record in reversed(job.records)],
        "drawer": job.drawer_of is not None and job.drawer_of.writable,
    }


def _start(decision: Decision, gap: Gap) -> str:
    """Where a reading by blades begins, as a number in the job's unit; empty for a gap that is read otherwise."""
    after, unit = decision.outcome.gaps[gap.name].after, decision.job.unit
    by_blades = decision.job.first_read(gap).kind in ("feeler", "cover_gap") and after.best > 0
    return as_decimal(after.best / UNITS[unit], _DIGITS[unit]) if by_blades else ""


def _visit(record: Record, job: Job, say: Speaker) -> dict[str, Any]:
    """One visit: who and when, what has been in since, and what was read."""
    gaps = [(job.gap[name], of) for name, of in record.gaps.items() if name in job.gap]
    return {
        "who": recorded_words(record),
        "torques": torques_of(record),
        "places": [
            {"name": shown(name), "pieces": pieces_text(pieces) or NOTHING_IN} for name, pieces in record.places.items()
        ],
        "gaps": [
            {
                "name": shown(gap.name),
                "predicted": say.about(gap).clearance(of.predicted.low, of.predicted.high),
                "read": say.about(gap).clearance(of.read.low, of.read.high) if of.read else "",
            }
            for gap, of in gaps
        ],
    }
