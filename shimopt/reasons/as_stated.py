"""What is worth saying of a job as it is stated: its readings, where its effects come from, what is not read."""

from __future__ import annotations

from typing import Literal

from shimopt.job import EffectSource, Job
from shimopt.readings.instruments import FEWEST_PULLS
from shimopt.reasons.job_facts import (
    ColumnNotRead,
    CoverFreeAssumed,
    DecidedByBrackets,
    EffectFromBevel,
    EffectFromFigure,
    EffectFromTrial,
    FewPulls,
    NoPreloadAssumed,
    SpotsTilted,
)
from shimopt.seats import Finding
from shimopt.seats.fact import Fact

__all__ = ["about_effects", "about_readings", "not_by_chance", "not_read"]


def about_readings(job: Job) -> list[Finding]:
    """Spots that differ, an indicator that was pulled too seldom, a blade that did not go."""
    found = []
    for gap in job.gaps:
        reading = gap.reading
        if reading.tilt:
            found.append(Finding(place=gap.name, grade="caution", fact=SpotsTilted(apart=reading.tilt)))
        if reading.pulls is not None and reading.pulls < FEWEST_PULLS:
            fact = FewPulls(pulls=reading.pulls, fewest=FEWEST_PULLS)
            found.append(Finding(place=gap.name, grade="caution", fact=fact))
        if reading.no_preload_assumed:
            assumed: Fact = NoPreloadAssumed(high=reading.bracket.high)
            if reading.opens:
                assumed = CoverFreeAssumed(high=-reading.bracket.low)
            found.append(Finding(place=gap.name, grade="note", fact=assumed))
    return found


def not_by_chance(stated: Job, job: Job) -> list[Finding]:
    """A note on every gap whose stated chance does not decide in the job that was planned."""
    return [
        Finding(place=gap.name, grade="note", fact=DecidedByBrackets())
        for gap in stated.gaps
        if gap.least_chance is not None and job.gap[gap.name].least_chance is None
    ]


def about_effects(job: Job) -> list[Finding]:
    """A note for every effect that is computed or that names its source, in job order."""
    return [
        Finding(place=gap.name, grade="note", fact=_effect(gap.name, source))
        for gap in job.gaps
        for source in gap.effect_sources
    ]


def _effect(gap: str, of: EffectSource) -> Fact:
    place, effect, source = of.place, of.effect, of.source
    if of.kind == "bevel" and of.teeth is not None and of.angle is not None:
        return EffectFromBevel(
            place=place, gap=gap, effect=effect, source=source, teeth=of.teeth, angle=of.angle, on=of.on
        )
    if of.kind == "trial" and of.low is not None and of.high is not None:
        return EffectFromTrial(place=place, gap=gap, effect=effect, source=source, low=of.low, high=of.high)
    by: Literal["geometry", "two readings"] = "two readings" if of.teeth is None else "geometry"
    return EffectFromFigure(place=place, gap=gap, effect=effect, source=source, computed=of.geometry, by=by)


def not_read(job: Job) -> list[Finding]:
    """Columns that nobody reads."""
    return [Finding(grade="note", fact=ColumnNotRead(file=file, column=column)) for file, column in job.not_read]
