"""Whether whole numbers of 64 bits carry a job: in its own ticks, and all its gaps together."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil

from shimopt.errors import Problem
from shimopt.job import Gap, Job

__all__ = ["too_large_to_carry"]

# whatever all gaps of a job could come to stays below this [ticks], so that a difference of two such sums, and a limit
# beside it, stay within 64 bits (9.2e18)
_MOST = 1 << 60


def too_large_to_carry(job: Job) -> Iterator[Problem]:
    """The gap with the largest numbers, where those of all gaps together are too large."""
    thickest = max((line.part.thickness.high for line in job.stock), default=Fraction(0))
    most = {
        place.name: ceil(max(place.most_pieces, len(place.installed)) * thickest) + _installed(job, place.installed)
        for place in job.places
    }
    reach = {gap.name: _reach(gap, most) for gap in job.gaps}
    beside = sum(abs(offset) for balance in job.balances for offset in (balance.within or 0, *balance.offset.values()))
    if sum(reach.values()) + beside < _MOST * job.tick:
        return
    largest = max(job.gaps, key=lambda gap: reach[gap.name])
    yield Problem(
        "job",
        f"gap {largest.name}",
        f"up to {reach[largest.name] / 1_000_000:,.0f} mm, in steps of {job.tick} nm",
        "lengths this long in steps this fine are more than whole numbers can carry",
        "write effects with fewer decimals, or as fractions of one small denominator; or plan fewer gaps at once",
    )


def _installed(job: Job, stack: tuple[int, ...]) -> int:
    return ceil(sum((job.stock[i].part.thickness.high for i in stack), Fraction(0)))


def _reach(gap: Gap, most: dict[str, int]) -> int:
    """What a gap and its window come to at most, whatever is in its places [nm]."""
    ends = (gap.reading.bracket.low, gap.reading.bracket.high, gap.window.min, gap.window.max)
    found = sum(ceil(abs(Fraction(end))) for end in ends if end is not None)
    for place, effect in gap.effects:
        found += ceil(max(abs(effect), *map(abs, gap.reach(place))) * most[place])
    return found
