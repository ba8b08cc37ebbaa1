"""What one piece more would make sure: of a size that is there, or in a place that takes no more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from fractions import Fraction

from shimopt.arithmetic.clearance import Stack, after_with, stands_out
from shimopt.arithmetic.needed import Span, needed
from shimopt.candidates import Scale, TooManyError, stacks_between
from shimopt.job import Gap, Job
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
    named = _stacks(
        job, scale, lines, [left[i] + 1 for i in lines], span, (max(1, place.fewest_pieces), place.most_pieces)
    )
    there = [stack for stack in named if not Counter(stack) - Counter(left)]
    if any(not stands_out(after_with(job, gap, stack), gap.window) for stack in there):
        return None  # what is there already would do
    serving = [(stack, short) for stack in named if (short := _lacking(stack, left)) is not None]
    sure = [(s, short) for s, short in serving if not stands_out(after_with(job, gap, s), gap.window)]
    return min(sure, key=lambda one: (len(one[0]), one[0]), default=((), None))[1]


def fuller(chosen: Chosen, gap: Gap, used: Mapping[int, int]) -> Stack | None:
    """The stack of one piece more than its place takes that makes a gap surely inside, out of what is there.

    None where no such stack does, where the place takes just one, or where it is not that of this gap alone.
    Parameter: used, by stock line, how many pieces all places hold.
    """
    job = chosen.job
    if gap.name not in job.alone or gap.least_chance is not None or (span := needed(job, gap)) is None:
        return None
    place, scale = job.place[job.alone[gap.name]], Scale.of(job)
    most = place.most_pieces + 1
    if not place.most_pieces or place.most_pieces == place.fewest_pieces:
        return None
    here = Counter(chosen.stacks.get(place.name, ()))
    lines = [i for i in chosen.screening.suits[place.name] if job.there[i]]
    counts = [max(0, chosen.supply[i] - used.get(i, 0) + here[i]) for i in lines]
    found = _stacks(job, scale, lines, counts, span, (most, most))
    sure = [stack for stack in found if not stands_out(after_with(job, gap, stack), gap.window)]
    return min(sure, key=lambda stack: (_off_target(job, gap, stack), stack), default=None)


def _off_target(job: Job, gap: Gap, stack: Stack) -> Fraction:
    """How far it leaves a gap from what is aimed at; 0 where nothing is."""
    target = gap.window.target
    return Fraction(0) if target is None else abs(after_with(job, gap, stack).best - target)


def _stacks(
    job: Job, scale: Scale, lines: Sequence[int], counts: Sequence[int], span: Span, pieces: tuple[int, int]
) -> list[Stack]:
    """The stacks of these lines of the right thickness, with so many `pieces`; none where they are too many."""
    sizes = [scale.ticks(job.stock[i].part.thickness.best) for i in lines]
    low, high = scale.within(span.least, span.most)
    fewest, most = pieces
    try:
        found = stacks_between(sizes, counts, most, low, high, _MOST_STACKS, fewest=fewest)
    except TooManyError:
        return []
    return [tuple(sorted(lines[k] for k in stack)) for stack in found]


def _lacking(stack: Stack, left: dict[int, int]) -> int | None:
    """The line of which exactly one piece is wanting; None where none is, or more are."""
    lacking = {i: count - left[i] for i, count in Counter(stack).items() if count > left[i]}
    return next(iter(lacking)) if [*lacking.values()] == [1] else None
