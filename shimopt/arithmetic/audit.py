"""A finished plan, however it was found: rules that none may break, and places that get less than they ask for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from shimopt.arithmetic.clearance import Stack, stays, unlike
from shimopt.arithmetic.in_vain import changed_in_vain
from shimopt.arithmetic.outcome import Outcome
from shimopt.errors import FaultError
from shimopt.job import Job


def audit(
    job: Job, stacks: Mapping[str, Stack], suits: Mapping[str, tuple[int, ...]], outcome: Outcome, buy: bool
) -> None:
    """Raise FaultError where a plan breaks a rule.

    A place stays as it was, or: no part with a stop is fitted; no place holds more than its most or fewer than its
    fewest pieces; a place that alone moves a gap is shimmed only if that brings the gap's best estimate inside, places
    that act together are changed only if fewer gaps are outside then, and none is made too tight for it. A place whose
    gaps are all inside keeps what is in it. Nothing is used that is neither there nor bought from an offer. Equal packs
    are equal, or all stay.
    """
    for place in job.places:
        stack = stacks.get(place.name, ())
        if stack == place.installed:
            continue
        if stays(job, place):
            raise FaultError(f"{place.name!r} was opened though every gap that it moves is inside")
        if set(stack) - set(suits[place.name]):
            raise FaultError(f"a part with a stop stands in the stack of {place.name!r}")
        if len(stack) > place.most_pieces:
            raise FaultError(f"the stack of {place.name!r} has {len(stack)} pieces of at most {place.most_pieces}")
        if len(stack) < place.fewest_pieces:
            raise FaultError(f"the stack of {place.name!r} has {len(stack)} pieces of at least {place.fewest_pieces}")
    for index, count in Counter(i for stack in stacks.values() for i in stack).items():
        line = job.stock[index]
        if count > job.there[index] and not (buy and line.offers):
            raise FaultError(f"{count} pieces of {line.part.name!r} are used and {job.there[index]} are there")
    for gap, name in job.alone.items():
        if outcome.gaps[gap].verdict == "outside" and stacks.get(name, ()) != job.place[name].installed:
            raise FaultError(f"{gap!r} was shimmed and is outside all the same")
    for cluster in job.clusters:
        if wrong := changed_in_vain(job, cluster, stacks, outcome):
            raise FaultError(wrong)
    for names in job.equal:
        if unlike(job, stacks, names) and any(stacks.get(name, ()) != job.place[name].installed for name in names):
            raise FaultError(f"the packs of {names[0]!r} and those that should be like it differ")


def short_places(job: Job, suits: Mapping[str, Sequence[int]], supply: Mapping[int, int]) -> dict[str, int]:
    """How many suiting pieces there are for each such place; a place that takes no shims is none of them."""
    short = {}
    for place in job.places:
        there = sum(supply[i] for i in suits[place.name])
        if place.takes_shims and there < place.fewest_pieces:
            short[place.name] = there
    return short


def left_short(job: Job, stacks: Mapping[str, Stack]) -> tuple[str, ...]:
    """Places that act with others and are left with fewer, in job order.

    One that keeps what is in it because its gaps are inside is none of them.
    """
    alone = {*job.alone.values()}
    return tuple(
        place.name
        for place in job.places
        if len(stacks.get(place.name, ())) < place.fewest_pieces and place.name not in alone and not stays(job, place)
    )
