"""Places that act with others and are left with fewer pieces than they ask for."""

from __future__ import annotations

from collections.abc import Mapping

from shimopt.arithmetic.change import stays
from shimopt.arithmetic.clearance import Stack
from shimopt.job import Job, clusters_of

__all__ = ["left_short"]


def left_short(job: Job, stacks: Mapping[str, Stack]) -> tuple[str, ...]:
    """The places, in job order; one that keeps what is in it because its gaps are inside is none of them."""
    alone = {cluster.places[0] for cluster in clusters_of(job) if cluster.alone}
    return tuple(
        place.name
        for place in job.places
        if len(stacks.get(place.name, ())) < place.fewest_pieces and place.name not in alone and not stays(job, place)
    )
