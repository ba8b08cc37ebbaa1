"""Packs that went in the other way round: exchanged, they would be as alike, or as unlike, as is asked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from shimopt.arithmetic.clearance import Stack, thickness_of
from shimopt.job import Balance, Job


def interchanged(job: Job, stacks: Mapping[str, Stack]) -> Iterator[Balance]:
    """Balances of two packs that are not within what is asked, and would be if what is in were exchanged.

    Nothing else notices it: both places move every gap alike, and take the same parts.
    """
    for balance in job.balances:
        if balance.within is None or len(balance.places) != 2:
            continue
        one, other = balance.places
        thick = {name: thickness_of(stacks.get(name, ()), job.stock).best for name in balance.places}
        meant = balance.offset.get(one, 0) - balance.offset.get(other, 0)
        now, then = thick[one] - thick[other] - meant, thick[other] - thick[one] - meant
        if abs(now) > balance.within >= abs(then) and _alike(job, one, other):
            yield balance


def _alike(job: Job, one: str, other: str) -> bool:
    """Whether two places take the same, and move every gap by as much."""
    here, there = job.place[one], job.place[other]
    takes = [(place.seat, place.parts, place.most_pieces, place.fewest_pieces) for place in (here, there)]
    moved = {gap.name: dict(gap.effects) for gap in (*job.moved_by[one], *job.moved_by[other])}
    return takes[0] == takes[1] and all(effects.get(one) == effects.get(other) for effects in moved.values())
