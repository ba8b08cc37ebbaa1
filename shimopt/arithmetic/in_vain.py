"""Places that act together are changed only if fewer gaps are outside then, and none is made too tight for that.

A place that moves one gap alone gets a stack only if that brings the gap inside. Where several places move a gap, or
one place several gaps, no gap is given for another: what is done together leaves fewer outside than as read, and none
too tight, or tighter than it was. What is too loose can be run in and read; what is too tight seizes (common practice,
no source). Else what is in stays in, and the nearest is told.
"""

from __future__ import annotations

from collections.abc import Mapping

from shimopt.arithmetic.clearance import Stack, off_by
from shimopt.arithmetic.outcome import Outcome
from shimopt.job import Cluster, Gap, Job


def most_outside(job: Job, cluster: Cluster) -> int:
    """How many gaps of places that are changed together may be outside then: fewer than as read."""
    return max(sum(_off_as_read(job.gap[name]) for name in cluster.gaps) - 1, 0)


def changed_in_vain(job: Job, cluster: Cluster, stacks: Mapping[str, Stack], outcome: Outcome) -> str:
    """What is wrong with a change of places that act together; empty where nothing is."""
    if cluster.alone or all(stacks.get(name, ()) == job.place[name].installed for name in cluster.places):
        return ""
    outside = [name for name in cluster.gaps if outcome.gaps[name].verdict == "outside"]
    if len(outside) > most_outside(job, cluster):
        return f"{cluster.places} were changed, and no fewer gaps of theirs are outside"
    for name in outside:
        read, least, after = job.gap[name].reading.bracket.best, job.gap[name].window.min, outcome.gaps[name].after.best
        if least is not None and after < least and after < read:
            return f"{name!r} was made too tight, or tighter than it was"
    return ""


def _off_as_read(gap: Gap) -> bool:
    return off_by(gap.reading.bracket.best, gap.window) > 0
