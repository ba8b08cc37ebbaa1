"""Slips that only may be some, as cautions: what is likely enough to stop a job never comes this far."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from shimopt.job import Job
from shimopt.job.size_slips import SizeSlip, size_slips
from shimopt.job.slips import Slip, slips_of
from shimopt.reasons.job_facts import ReadingFarOff, ReadingSuspect, SizeSuspect
from shimopt.seats import Finding
from shimopt.seats.fact import Fact

__all__ = ["suspicions"]


def suspicions(job: Job) -> Iterator[Finding]:
    """A caution for every reading and size that looks like a slip, with the likely meaning where there is one."""
    yield from (Finding(place=slip.gap, grade="caution", fact=_of_reading(slip)) for slip in slips_of(job))
    for size in size_slips(job):
        part = size.line.part
        yield Finding(part=part.name, piece=part.piece, grade="caution", fact=_of_size(size))


def _of_reading(slip: Slip) -> Fact:
    against: Literal["neighbours", "window"] = "neighbours" if slip.why == "neighbours" else "window"
    if slip.meant is None:
        return ReadingFarOff(reading=slip.reading, usual=slip.usual, against=against)
    how = slip.unit or ("ten times too large" if slip.meant < slip.reading else "a zero too many")
    return ReadingSuspect(reading=slip.reading, usual=slip.usual, against=against, meant=slip.meant, how=how)


def _of_size(slip: SizeSlip) -> Fact:
    return SizeSuspect(thickness=slip.thickness, typed_in=slip.line.typed_in, meant=slip.meant, unit=slip.unit)
