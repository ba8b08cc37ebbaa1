"""Pieces that come out of one place and go into another that acts together with it: the same pieces, that err once.

Where both places move a gap alike, what it brings in is what it took away; counted at each place by itself, its error
would stand in the gap twice.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any

from shimopt.arithmetic.clearance import Stack, after_shimming, turnover
from shimopt.job import Gap, Job, Place
from shimopt.lengths import Bracket


def carried(counts: Sequence[Any]) -> Iterator[tuple[int, int, Any]]:
    """Of pieces that are alike: how many go from which place into which, by their numbers.

    Who comes first takes first, and from who comes first. Parameters: counts, by place, how many go in, below 0 how
    many come out; whole numbers, or arrays of them.
    """
    # most places give and take none of a line
    out = {at: (abs(count) - count) // 2 for at, count in enumerate(counts) if _any(count < 0)}
    for target in [at for at, count in enumerate(counts) if out and _any(count > 0)]:
        wanted = (abs(counts[target]) + counts[target]) // 2
        for source in out:
            moved = (wanted + out[source] - abs(wanted - out[source])) // 2
            wanted, out[source] = wanted - moved, out[source] - moved
            yield source, target, moved


def _any(found: Any) -> bool:
    return found if isinstance(found, bool) else bool(found.any())


def counts_of(place: Place, stack: Stack) -> dict[int, int]:
    """By stock line, how many pieces go into a place, below 0 how many come out.

    What came out of it for the reading lies beside it: as many of these go in first, and are not counted.
    """
    into, out = turnover(place.installed, stack)
    new = {line: into.count(line) - place.came_out.count(line) for line in {*into}}
    return {line: count for line, count in new.items() if count > 0} | {line: -out.count(line) for line in {*out}}


def lines_carried(job: Job, place: Place) -> frozenset[int]:
    """The stock lines of which pieces are in the places that act together with this one; none where none does."""
    cluster = job.acting_with[place.name]
    return frozenset(i for name in cluster for i in job.place[name].installed) if len(cluster) > 1 else frozenset()


def spared_by(gap: Gap) -> Mapping[tuple[str, str], Fraction]:
    """By source and target, what one piece's error, low to high, counts less at each end when it goes from one to the
    other; nothing of a gap of which an effect is not exactly known.
    """
    if any(len({*gap.reach(place)}) > 1 for place, _ in gap.effects):
        return {}
    return {
        (one, two): min(abs(here), abs(there))
        for one, here in gap.effects
        for two, there in gap.effects
        if one != two and here * there > 0
    }


def between_places(job: Job, gap: Gap, stacks: Mapping[str, Stack]) -> Iterator[tuple[int, str, str, int]]:
    """Pieces that go from one place of a gap into another: stock line, from where, to where, how many.

    A place that is not named stays as it was.
    """
    places = dict(gap.effects)
    if len(places) < 2:
        return
    cluster = job.acting_with[gap.effects[0][0]]
    if all(stacks.get(name) in (None, was) for name in cluster if (was := job.place[name].installed)):
        return
    counts = [counts_of(job.place[name], stacks.get(name, job.place[name].installed)) for name in cluster]
    for line in sorted({line for of in counts for line, count in of.items() if count < 0}):
        for source, target, moved in carried([of.get(line, 0) for of in counts]):
            if moved and {cluster[source], cluster[target]} <= places.keys():
                yield line, cluster[source], cluster[target], moved


def after_planned(job: Job, gap: Gap, stacks: Mapping[str, Stack], change: Mapping[str, Bracket]) -> Bracket:
    """A gap after shimming by these changes of thickness; what is carried between its places errs once."""
    after, less = after_shimming(gap, change), narrower(job, gap, stacks)
    return Bracket(after.low + less, after.best, after.high - less)


def narrower(job: Job, gap: Gap, stacks: Mapping[str, Stack]) -> Fraction:
    """By how much nearer each end of a gap is than if pieces erred wherever they come out and go in [nm]."""
    spared, total = spared_by(gap), Fraction(0)
    for line, source, target, moved in between_places(job, gap, stacks) if spared else ():
        thickness = job.stock[line].part.thickness
        total += moved * spared.get((source, target), 0) * (thickness.high - thickness.low)
    return total
