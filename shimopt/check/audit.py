"""The rules that no plan may break, checked on the finished plan without looking at how it was found."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from shimopt.check.arithmetic import Stack
from shimopt.check.outcome import Outcome
from shimopt.errors import FaultError
from shimopt.job import Job

__all__ = ["audit"]


def audit(job: Job, stacks: Mapping[str, Stack], suits: Mapping[str, tuple[int, ...]], outcome: Outcome,
          buy: bool) -> None:  # fmt: skip
    """Raise FaultError where a plan breaks a rule.

    No part with a stop is fitted; no place holds more than its most pieces; nothing is used that is neither on hand nor
    bought from an offer; a place that alone moves a gap is shimmed only if that brings the gap's best estimate inside.
    """
    for place in job.places:
        stack = stacks.get(place.name, ())
        if set(stack) - set(suits[place.name]):
            raise FaultError(f"a part that must not be fitted stands in the stack of {place.name!r}")
        if len(stack) > place.most_pieces:
            raise FaultError(f"the stack of {place.name!r} has {len(stack)} pieces of at most {place.most_pieces}")
        if 0 < len(stack) < place.fewest_pieces:
            raise FaultError(f"the stack of {place.name!r} has {len(stack)} pieces of at least {place.fewest_pieces}")
    for index, count in Counter(i for stack in stacks.values() for i in stack).items():
        line = job.stock[index]
        if count > line.on_hand and not (buy and line.offers):
            raise FaultError(f"{count} pieces of {line.part.name!r} are used and {line.on_hand} are on hand")
    moved = Counter(place for gap in job.gaps for place, _ in gap.effects)
    for gap in job.gaps:
        alone = len(gap.effects) == 1 and moved[gap.effects[0][0]] == 1
        if alone and stacks.get(gap.effects[0][0]) and outcome.gaps[gap.name].verdict == "outside":
            raise FaultError(f"{gap.name!r} was shimmed and is outside all the same")
