"""Places that act together are changed only for a gap that comes inside; none is made too tight, or tighter, for that.

A place that moves one gap alone gets a stack only if that brings the gap inside. Where several places move a gap, or
one place several gaps, the same holds of what they do together: else what is in stays in, and the nearest is told.
What is too loose can be run in and read; what is too tight seizes (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping

from shimopt.arithmetic.clearance import Stack, off_by
from shimopt.arithmetic.outcome import Outcome
from shimopt.job import Cluster, Gap, Job


def brought_inside(job: Job, cluster: Cluster) -> tuple[str, ...]:
    """The gaps of which one has to be inside where anything is changed: of those outside as read, else of all."""
    return tuple(name for name in cluster.gaps if _off_as_read(job.gap[name])) or cluster.gaps


def changed_in_vain(job: Job, cluster: Cluster, stacks: Mapping[str, Stack], outcome: Outcome) -> str:
    """What is wrong with a change of places that act together; empty where nothing is."""
    if cluster.alone or all(stacks.get(name, ()) == job.place[name].installed for name in cluster.places):
        return ""
    outside = {name for name in cluster.gaps if outcome.gaps[name].verdict == "outside"}
    if outside and outside >= {*brought_inside(job, cluster)}:
        return f"{cluster.places} were changed, and no gap of theirs came inside"
    for name in outside:
        read, least, after = job.gap[name].reading.bracket.best, job.gap[name].window.min, outcome.gaps[name].after.best
        if least is not None and after < least and after < read:
            return f"{name!r} was made too tight, or tighter than it was"
    return ""


def _off_as_read(gap: Gap) -> bool:
    return off_by(gap.reading.bracket.best, gap.window) > 0
