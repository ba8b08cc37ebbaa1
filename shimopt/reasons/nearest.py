"""For gaps left outside: the closest that could be made of what the plan leaves over."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from shimopt.arithmetic import Outcome, after_shimming, off_by
from shimopt.arithmetic.change import change_of
from shimopt.arithmetic.clearance import Stack
from shimopt.arithmetic.needed import wanted
from shimopt.candidates import Scale, nearest_stack
from shimopt.job import Gap, Job, Place, clusters_of
from shimopt.lengths import Bracket
from shimopt.seats import Screening

__all__ = ["Nearest", "nearest_misses"]


@dataclass(frozen=True, slots=True)
class Nearest:
    """A stack that was not fitted, the clearance it would leave, and how far that is outside the window [nm]."""

    stack: Stack
    after: Bracket
    off: Fraction


def nearest_misses(
    job: Job, screening: Screening, stacks: Mapping[str, Stack], outcome: Outcome, supply: Mapping[int, int]
) -> dict[str, Nearest]:
    """The nearest miss of every gap outside that a place of its own moves."""
    used = Counter(i for stack in stacks.values() for i in stack)
    scale = Scale.of(job)
    found: dict[str, Nearest] = {}
    for cluster in clusters_of(job):
        if not cluster.alone or outcome.gaps[cluster.gaps[0]].verdict != "outside":
            continue
        gap, place = job.gap[cluster.gaps[0]], job.place[cluster.places[0]]
        usable = screening.suits[place.name]
        (least, most), own = wanted(job, gap), Counter(stacks.get(place.name, ()))
        kinds = nearest_stack(
            [scale.ticks(job.stock[i].part.thickness.best) for i in usable],
            [supply[i] - used[i] + own[i] for i in usable],
            place.most_pieces,
            None if least is None else scale.least(least),
            None if most is None else scale.most(most),
            fewest=place.fewest_pieces,
        )
        tried = [_with(job, gap, place, stack) for stack in {tuple(usable[k] for k in kinds), place.installed}]
        found[gap.name] = min(tried, key=lambda near: (near.off, len(near.stack), near.stack))
    return found


def _with(job: Job, gap: Gap, place: Place, stack: Stack) -> Nearest:
    after = after_shimming(gap, {place.name: change_of(place, stack, job.stock)})
    return Nearest(stack, after, off_by(after.best, gap.window))
