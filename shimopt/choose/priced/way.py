"""The way that large jobs are planned: from screened stock to one stack per place, with value and bound per level."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction

from shimopt.candidates import Scale, TooManyError
from shimopt.choose.choice import Choice, LevelResult
from shimopt.choose.priced.descent import PricedDescent
from shimopt.choose.priced.fleet import LEVELS, fleet_of
from shimopt.choose.priced.scarce import what_is_scarce
from shimopt.job import Job
from shimopt.job.model import LENGTH_LEVELS
from shimopt.proof.proven import Proof
from shimopt.seats import Screening

__all__ = ["priced_choice"]


def priced_choice(
    job: Job, screening: Screening, supply: Mapping[int, int], progress: Callable[[str], None] | None = None
) -> Choice | None:
    """Choose by prices, with what is on hand; None where the job holds what this way does not know."""
    scale = Scale.of(job)
    try:
        fleet = fleet_of(job, scale, screening, supply)
    except TooManyError:
        return None
    if fleet is None:
        return None
    descent = PricedDescent(fleet, progress)
    steps = {level: descent.level(level) for level in job.levels if level in LEVELS}
    now = descent.values()
    values: dict[str, int] = {level: now[level] for level in job.levels if level in now}
    results, sure = [], True
    for level in job.levels:
        if level not in steps:
            results.append(LevelResult(level, Fraction(0), Fraction(0), _proof(sure), 0.0))
            continue
        step, size = steps[level], scale.tick if level in LENGTH_LEVELS else Fraction(1)
        # a bound holds given the levels above at the values shown; a later level may have brought this one down
        sure = sure and step.bound == values[level]
        results.append(LevelResult(level, values[level] * size, step.bound * size, _proof(sure), step.seconds))
    if progress:
        progress("what holds the job back")
    scarce = what_is_scarce(descent, values)
    return Choice(descent.stacks(), tuple(results), "priced", scarce)


def _proof(sure: bool) -> Proof:
    # bounds of this way are sums of whole numbers at whole prices
    return Proof.EXACT if sure else Proof.NONE
