"""Which size that is there would make a gap sure, were there one piece more of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from shimopt.arithmetic.clearance import Stack, after_with, stands_out
from shimopt.arithmetic.needed import needed
from shimopt.candidates import Scale, TooManyError, stacks_between
from shimopt.job import Gap
from shimopt.reasons.alternatives import Chosen

_MOST_STACKS = 500


def one_more_of(chosen: Chosen, gap: Gap, used: Mapping[int, int]) -> int | None:
    """The stock line of which one piece more makes a gap with a place of its own surely inside; None for none.

    Of several the one that takes the fewest pieces in all, then the first in natural order. Parameter: used, by stock
    line, how many pieces all places hold.
    """
    job = chosen.job
    if gap.name not in job.alone or gap.least_chance is not None or (span := needed(job, gap)) is None:
        return None
    place, scale = job.place[job.alone[gap.name]], Scale.of(job)
    here = Counter(chosen.stacks.get(place.name, ()))
    lines = [i for i in chosen.screening.suits[place.name] if job.there[i] and not job.stock[i].part.measured]
    supply = chosen.supply
    left = {i: max(0, supply[i] - used.get(i, 0) + here[i]) for i in lines}
    sizes = [scale.ticks(job.stock[i].part.thickness.best) for i in lines]
    counts = [left[i] + 1 for i in lines]
    low, high = scale.within(span.least, span.most)
    fewest = max(1, place.fewest_pieces)
    try:
        found = stacks_between(sizes, counts, place.most_pieces, low, high, _MOST_STACKS, fewest=fewest)
    except TooManyError:
        return None
    named = [tuple(sorted(lines[k] for k in stack)) for stack in found]
    there = [stack for stack in named if not Counter(stack) - Counter(left)]
    if any(not stands_out(after_with(job, gap, stack), gap.window) for stack in there):
        return None  # what is there already would do
    serving = [(stack, short) for stack in named if (short := _lacking(stack, left)) is not None]
    sure = [(s, short) for s, short in serving if not stands_out(after_with(job, gap, s), gap.window)]
    return min(sure, key=lambda one: (len(one[0]), one[0]), default=((), None))[1]


def _lacking(stack: Stack, left: dict[int, int]) -> int | None:
    """The line of which exactly one piece is wanting; None where none is, or more are."""
    lacking = {i: count - left[i] for i, count in Counter(stack).items() if count > left[i]}
    return next(iter(lacking)) if [*lacking.values()] == [1] else None
