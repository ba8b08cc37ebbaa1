"""For gaps left outside: the closest that could be made of what the plan leaves over."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from shimopt.check import Outcome, after_shimming, off_by, thickness_of
from shimopt.check.arithmetic import Stack
from shimopt.check.needed import wanted
from shimopt.fit import Screening
from shimopt.job import Job
from shimopt.lengths import Bracket
from shimopt.stacks import Scale, nearest_stack

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
    """The nearest miss of every gap outside that one place moves."""
    used = Counter(i for stack in stacks.values() for i in stack)
    scale = Scale.of(job)
    found: dict[str, Nearest] = {}
    for gap in job.gaps:
        if outcome.gaps[gap.name].verdict != "outside" or len(gap.effects) != 1:
            continue
        place = job.place[gap.effects[0][0]]
        usable = screening.suits[place.name]
        window = gap.window
        kinds = nearest_stack(
            [scale.ticks(job.stock[i].part.thickness.best) for i in usable],
            [supply[i] - used[i] for i in usable],
            place.most_pieces,
            *(None if end is None else scale.ticks(end) for end in wanted(gap)),
            fewest=place.fewest_pieces,
        )
        stack = tuple(usable[k] for k in kinds)
        after = after_shimming(gap, {place.name: thickness_of(stack, job.stock)})
        found[gap.name] = Nearest(stack, after, off_by(after.best, window))
    return found
