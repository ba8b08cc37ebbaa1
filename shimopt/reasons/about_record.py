"""What the last record says against what was predicted: a wrong piece, dirt or a burr comes before any more shims."""

from __future__ import annotations

from collections.abc import Iterator

from shimopt.arithmetic.agreement import otherwise_than_predicted
from shimopt.job import Job
from shimopt.reasons.job_facts import NotAsPredicted
from shimopt.seats import Finding

__all__ = ["about_record"]


def about_record(job: Job) -> Iterator[Finding]:
    """A caution for every gap that was found otherwise than predicted."""
    for row in otherwise_than_predicted(job):
        fact = NotAsPredicted(looser=row.off, plausible=row.plausible, likely=row.code, part=row.part, other=row.other)
        yield Finding(place=row.gap, grade="caution", fact=fact)
