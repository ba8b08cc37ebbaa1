"""The way that large jobs are planned: from screened stock to one stack per place, with value and bound per level."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from shimopt.candidates import Scale, TooManyError
from shimopt.choose.chosen import Choice, LevelResult
from shimopt.choose.priced.fleet import LEVELS, fleet_of
from shimopt.choose.priced.handover import handed_over
from shimopt.choose.priced.priced_descent import PricedDescent, PricedStep
from shimopt.choose.priced.pricing import Pricer
from shimopt.choose.priced.scarcest_sizes import what_is_scarce
from shimopt.job import Job
from shimopt.job.levels import LENGTH_LEVELS
from shimopt.proof.proven import Proof
from shimopt.seats import Screening
from shimopt.watch import Watch


def priced_choice(
    job: Job, screening: Screening, supply: Mapping[int, int], watch: Watch | None = None, *, scarce: bool = True
) -> Choice | None:
    """Choose by prices, with what is on hand.

    None where the job holds what this way does not know, or the time is over before there is any plan.

    Parameters: watch, told what begins and the best so far, and asked whether to stop; scarce, whether to find out what
    holds the job back.
    """
    watch = watch or Watch()
    scale = Scale.of(job)
    try:
        fleet = fleet_of(job, scale, screening, supply, watch.over)
    except TooManyError:
        return None
    if fleet is None or not (pricer := Pricer(fleet)).carries:
        return None
    descent = PricedDescent(fleet, watch, pricer)
    steps: dict[str, PricedStep] = {}
    names = [level for level in job.levels if level in LEVELS]
    while len(steps) < len(names):
        now = _choice(descent, steps)
        watch.told(now, now.judged)
        name = names[len(steps)]
        steps[name] = descent.level(name)
        # where a search brings down a level above its own, what came after that one is asked anew
        values = descent.values()
        lower = next((at for at, name in enumerate(steps) if values[name] < steps[name].value), None)
        if lower is not None and not watch.over():
            descent.back_to(lower)
            steps = {name: steps[name] for name in names[:lower]}
        elif not steps[name].proof.proven and descent.little_is_left(len(steps)):
            break
    choice = _choice(descent, steps)
    watch.told(choice, choice.judged)
    if not watch.over() and (found := handed_over(descent, steps, names)) is not None:
        choice = _choice(descent, found)
        choice = replace(choice, settled=not watch.over() and all(level.proven for level in choice.levels))
        watch.told(choice, choice.judged)
    if all(level.proven for level in choice.levels):
        # nothing is open, but perhaps which of plans as good it is
        choice = replace(choice, way="whole")
    if not scarce or watch.over():
        return choice
    watch.begins("what holds the job back")
    return replace(choice, scarce=what_is_scarce(descent, descent.values()))


def _choice(descent: PricedDescent, steps: Mapping[str, PricedStep]) -> Choice:
    """The choice as it stands: of levels not yet looked at nothing is proven."""
    job, scale, now = descent.fleet.job, descent.fleet.scale, descent.values()
    results, proof, begun = [], Proof.EXACT, True
    for level in job.levels:
        size = scale.tick if level in LENGTH_LEVELS else Fraction(1)
        value, step = now.get(level, 0), steps.get(level)
        begun = begun and (step is not None or level not in LEVELS)
        if step is not None:
            # a bound holds given the levels above at the values shown; a later level may have brought this one down
            held = step.proof if value == step.value else Proof.NONE
            proof = held.below(proof)
            results.append(
                LevelResult(
                    level,
                    value * size,
                    None if step.bound is None else min(value, step.bound) * size,
                    proof,
                    step.seconds,
                )
            )
        else:
            # what is not in LEVELS does not occur in such a job
            known = Fraction(0) if begun else None
            results.append(LevelResult(level, value * size, known, proof if begun else Proof.NONE, 0.0))
    return Choice(descent.stacks(), tuple(results), "priced")
