"""Places that share one total: nothing but how it is split tells one plan from another.

Such are places that move the same gaps in the same proportion and the same way, so that a little less at one and a
little more at another leaves every clearance as it is. Equal packs and a balance of all of them state the split.
"""

from __future__ import annotations

from fractions import Fraction

from shimopt.arithmetic.clearance import Stack, thickness_of
from shimopt.job import Job

__all__ = ["further", "splits_not_stated"]


def splits_not_stated(job: Job) -> list[tuple[str, ...]]:
    """Places, in job order, that share a total of which nothing states how it is split."""
    groups: dict[tuple[tuple[str, Fraction], ...], list[str]] = {}
    for place, gaps in job.moved_by.items():
        moves = [(gap.name, dict(gap.effects)[place]) for gap in gaps]
        if moves:
            first = abs(moves[0][1])
            groups.setdefault(tuple((gap, effect / first) for gap, effect in moves), []).append(place)
    stated = [set(names) for names in (*job.equal, *(balance.places for balance in job.balances))]
    return [tuple(names) for names in groups.values() if len(names) > 1 and not any(set(names) <= s for s in stated)]


def further(job: Job, place: str, stack: Stack) -> int:
    """How far a stack is from what was in the place, squared.

    The squares of all places of a total add up to least where each stays as near as it can and none gives way alone:
    they are the distance from the old split in a straight line. Best estimates lie in the middle of whole nanometres,
    so half nanometres make whole numbers.
    """
    was = thickness_of(job.place[place].installed, job.stock).best
    return int(2 * (thickness_of(stack, job.stock).best - was)) ** 2
