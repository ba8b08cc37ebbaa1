"""What is asked after fitting, as plain data: every gap with what it should read, every place with what is in."""

from __future__ import annotations

from typing import Any

from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.words.bench_page_words import recorded_words
from shimopt.words.digits import with_digits
from shimopt.words.first_words import open_gaps
from shimopt.words.reading_words import limits_text
from shimopt.words.sheet_words import AFTERWARDS, expected_text
from shimopt.words.speaker import Speaker


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
            }
            for n, gap in enumerate(job.gaps, 1)
        ],
        "places": [
            {"n": n, "name": shown(place.name), "planned": say.stack(decision.stacks.get(place.name, ()), place.name)}
            for n, place in enumerate(job.places, 1)
        ],
        "before": [recorded_words(record) for record in job.records],
        "drawer": job.drawer_of is not None and job.drawer_of.writable,
    }
