"""What lies in the drawer for other jobs, and would have served: tried by planning with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

from shimopt.job import Job
from shimopt.parts import Part
from shimopt.parts.drawer import Held
from shimopt.reasons.alternatives import Chosen
from shimopt.reasons.remedies import better

# a job of more places is not planned again for it
_MOST_PLACES = 40


def held_that_serves(chosen: Chosen, again: Callable[[Job, bool], Chosen]) -> tuple[Held, ...]:
    """What is promised to other jobs, as far as a better plan takes of it."""
    job = chosen.job
    if not job.held or chosen.outcome.doable or len(job.places) > _MOST_PLACES:
        return ()
    at = {_called(line.part): i for i, line in enumerate(job.stock)}
    lying = Counter[int]()
    for one in job.held:
        lying[at[_called(one.part)]] += one.pieces
    stock = (replace(line, on_hand=line.on_hand + lying[i]) for i, line in enumerate(job.stock))
    found = again(replace(job, stock=tuple(stock)), chosen.buy)
    if not better(found.outcome, chosen.outcome):
        return ()
    wanted = Counter(i for stack in found.stacks.values() for i in stack)
    lacking = {i for i, count in wanted.items() if count > job.there[i]}
    return tuple(one for one in job.held if at[_called(one.part)] in lacking)


def _called(part: Part) -> object:
    """A piece as drawers tell it from others, whatever its micrometer leaves open."""
    return part.name, part.piece, part.thickness.best
