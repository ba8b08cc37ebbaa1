"""From prices to the whole way: what a plan as good could hold is little; open levels and ties are settled on it.

Every level that is proven is held where it stands; options that stand in no plan as good at these levels are gone, and
what is left is one model, brought down and settled as a small job is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from shimopt.choose.level_after_level import Descent, all_levels
from shimopt.choose.model_rows import build_model
from shimopt.choose.priced.priced_descent import MOST_BY_RANGES, PricedDescent, PricedStep
from shimopt.choose.whole_model import Aim, tie_order
from shimopt.errors import FaultError

# beyond so many options a job's plan stays as prices have left it; of many places, that had very many, beyond fewer:
# their ties alone take longer than all else
_MOST_OPTIONS, _FEW_PLACES, _VERY_MANY, _MOST_OF_THESE = 10_000, 100, 30_000, 3_000


def handed_over(
    descent: PricedDescent, steps: Mapping[str, PricedStep], names: Sequence[str]
) -> dict[str, PricedStep] | None:
    """The steps after levels left open were brought down, with ties settled where all is proven; `descent.plan` too.

    None where what is left is too much to look at. Parameters: steps, of the levels looked at; names, of all.
    """
    fleet = descent.fleet
    proven = next(
        (at for at, name in enumerate(names) if name not in steps or not steps[name].proof.proven), len(names)
    )
    # the first open level may hold nothing worse than now either; what later ones struck may be wanted after all
    left = descent.left(min(proven + 1, len(steps)))
    little = len(fleet.kind) <= _FEW_PLACES or descent.options <= _VERY_MANY
    most = _MOST_OPTIONS if little else _MOST_OF_THESE
    if descent.goes_by_ranges([*descent.held][-1]):
        most = MOST_BY_RANGES
    if left is None or sum(map(len, left.values())) > most:
        return None
    left = {at: np.union1d(options, descent.plan[at]) for at, options in left.items()}
    model = build_model(fleet.job, fleet.scale, fleet.options_of(left), fleet.there)
    if (start := model.columns_of(descent.stacks())) is None:
        raise FaultError("what a plan holds is not among what is left")
    alone = {place: fleet.job.gap[gap] for gap, place in fleet.job.alone.items()}
    known = [(name, step.value, step.bound, step.proof) for name, step in steps.items() if step.bound is not None]
    aim, found = Aim(names, tie_order(fleet.job, alone)), dict(steps)
    whole = Descent(model, aim, descent.watch, start, known=known)
    for name in names[:proven]:
        whole.hold(name, steps[name].value)
    for step in all_levels(whole, names[proven:]):
        found[step.level] = PricedStep(step.level, step.value, step.bound, step.proof, step.seconds)
    if whole.all_proven:
        whole.settle_ties()
    plan = fleet.plan_of(whole.stacks(), left)
    descent.take(plan, {name: step.value for name, step in found.items()})
    return found
