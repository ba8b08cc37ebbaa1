"""Places whose least number of pieces the stock cannot give, even if no other place wanted any."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shimopt.job import Job

__all__ = ["short_places"]


def short_places(job: Job, suits: Mapping[str, Sequence[int]], supply: Mapping[int, int]) -> dict[str, int]:
    """How many suiting pieces there are for each such place; a place that takes no shims is none of them."""
    short = {}
    for place in job.places:
        allowed = place.seat is None or place.seat.shims_allowed
        there = sum(supply[i] for i in suits[place.name])
        if allowed and there < place.fewest_pieces:
            short[place.name] = there
    return short
