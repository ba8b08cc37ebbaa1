"""What each piece buys: the best choice with nothing fitted, with at most one piece in all, with at most two ...

The order of levels is the job's, but `pieces` comes last: the limit already says how many may be used, and what they
are used for is then best by all other levels. At the plan's own number of pieces this is the plan.
"""

from __future__ import annotations

from shimopt.choose.chooser import Chooser
from shimopt.choose.chosen import Choice
from shimopt.choose.level_after_level import Descent
from shimopt.job import Job
from shimopt.seats import Screening
from shimopt.watch import Watch

BEYOND_THE_PLAN = 2
# so many options, each looked at for every number of pieces, are too much to wait for
_MOST_LOOKS = 2_000_000


def best_by_pieces(
    job: Job,
    screening: Screening,
    plan: Choice,
    *,
    buy: bool = False,
    watch: Watch | None = None,
) -> list[Choice]:
    """The plan, and the best choices with at most 0, 1, 2 ... pieces in all, up to two more than the plan has.

    Each is proven level by level. Where more pieces make nothing better, the choice is not repeated.
    """
    order = [*(level for level in job.levels if level != "pieces"), "pieces"]
    chooser = Chooser(job, screening, buy, watch, order, capped=True)
    if any(place.installed or (place.fewest_pieces and place.name not in chooser.alone) for place in job.places):
        # these hold pieces whatever is done, so that there is no plan with nothing fitted to begin with
        return [plan]
    planned = sum(len(stack) for stack in plan.stacks.values())
    if chooser.options(_MOST_LOOKS // max(1, planned)) is None:
        return [plan]
    model, complete = chooser.model()
    found: list[Choice] = []
    # what fewer pieces do best is allowed with more of them too: a start that is hard to beat
    start = tuple(group[0] for group in model.groups)
    for most in range(planned + BEYOND_THE_PLAN + 1):
        if most == planned:
            found.append(plan)
            continue
        descent = Descent(
            model, chooser.aim, chooser.watch, start, alive=[[nothing] for nothing in start] if most == 0 else None
        )
        descent.hold("pieces", most)
        choice = chooser.settled(descent, complete)
        start = descent.chosen
        if choice.stacks not in [other.stacks for other in found]:
            found.append(choice)
    return found
