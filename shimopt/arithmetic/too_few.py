"""Places that get fewer pieces than they ask for: because the stock has none, or because of what else they act with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shimopt.arithmetic.clearance import Stack, stays
from shimopt.job import Job, clusters_of

__all__ = ["left_short", "short_places"]


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
    alone = {cluster.places[0] for cluster in clusters_of(job) if cluster.alone}
    return tuple(
        place.name
        for place in job.places
        if len(stacks.get(place.name, ())) < place.fewest_pieces and place.name not in alone and not stays(job, place)
    )
