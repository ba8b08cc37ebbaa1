"""Which gaps hang on a reading or a size that looks like a slip: it is measured before anything is fitted for them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from shimopt.arithmetic.changes import Changes
from shimopt.arithmetic.clearance import Stack
from shimopt.job import Job
from shimopt.reasons import job_facts as stated
from shimopt.reasons import slip_facts as slips
from shimopt.seats import Finding

SUSPECT = (slips.ReadingSuspect, slips.ReadingFarOff, stated.SpotsTilted)


def suspected(findings: Sequence[Finding]) -> list[str]:
    """The gaps whose readings look wrong, by name."""
    return list(dict.fromkeys(one.place for one in findings if isinstance(one.fact, SUSPECT)))


def places_of_doubted(
    findings: Sequence[Finding], job: Job, stacks: Mapping[str, Stack]
) -> Mapping[str, Collection[str]]:
    """By part whose size looks wrong the places in which it is, or goes by the plan; none that is in no place."""
    sizes = {one.part: one.fact.thickness for one in findings if isinstance(one.fact, slips.SizeSuspect)}
    places: dict[str, list[str]] = {}
    for place in job.places if sizes else ():
        for i in sorted({*place.installed, *stacks.get(place.name, ())}):
            part = job.stock[i].part
            if sizes.get(part.name) == part.thickness.best:
                places.setdefault(part.name, []).append(place.name)
    return places


def hang_on_doubts(
    findings: Sequence[Finding], job: Job, stacks: Mapping[str, Stack], changes: Changes
) -> dict[str, str]:
    """By gap what its answer hangs on: `this reading`, `this size`, or `that reading`, of a gap that shares places.

    That one only where something is changed at them.
    """
    names = suspected(findings)
    said = dict.fromkeys(names, "this reading")
    for places in places_of_doubted(findings, job, stacks).values():
        said |= {gap.name: "this size" for place in places for gap in job.moved_by[place] if gap.name not in said}
    for cluster in job.clusters if names else ():
        if {*names} & {*cluster.gaps} and any(changes.at[place].changed for place in cluster.places):
            said |= {name: "that reading" for name in cluster.gaps if name not in said}
    return said


def read_with_what_gives(findings: Sequence[Finding], job: Job) -> set[str]:
    """The gaps that were read with something in that gives way: they are read again without it first."""
    gave = (stated.SpringWasIn, stated.CrushedWasIn)
    places = {one.place for one in findings if isinstance(one.fact, gave)}
    return {gap.name for place in places for gap in job.moved_by.get(place, ())}
