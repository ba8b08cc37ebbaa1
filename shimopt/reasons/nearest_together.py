"""Of a gap that several places move and no stacks bring inside: what would come nearest, though it is not fitted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product
from math import prod

from shimopt.arithmetic import off_by
from shimopt.arithmetic.clearance import Stack, stays, thickness_of, unlike
from shimopt.candidates import Scale, TooManyError, Usable
from shimopt.job import Cluster, Gap
from shimopt.reasons.alternatives import Chosen
from shimopt.reasons.shared_reasons import TogetherNearest

# what only a reason asks is not looked for among more
_MOST = 4_000


def nearest_together(chosen: Chosen, cluster: Cluster) -> Iterator[TogetherNearest]:
    """The nearest of a cluster's only gap, where it is nearer than what is in; none where that takes long to find."""
    if len(cluster.gaps) != 1 or chosen.outcome.gaps[cluster.gaps[0]].verdict != "outside":
        return
    gap, best = chosen.job.gap[cluster.gaps[0]], chosen.job.gap[cluster.gaps[0]].reading.bracket.best
    tried = [(off_by(after, gap.window), stacks, after) for stacks, after in _all_of(chosen, cluster, gap)]
    found = min(tried, key=lambda one: (one[0], sum(map(len, one[1].values()))), default=None)
    if found is not None and found[0] < off_by(best, gap.window):
        off, stacks, after = found
        yield TogetherNearest(
            about=gap.name,
            names=cluster.places,
            stacks=tuple(stacks.items()),
            after=after,
            still=off,
            side_after=gap.window.side(after),
        )


def _all_of(chosen: Chosen, cluster: Cluster, gap: Gap) -> Iterator[tuple[Mapping[str, Stack], Fraction]]:
    """Every choice of stacks that the rules allow and there are pieces for, and what the gap comes to by it."""
    job, effects = chosen.job, dict(gap.effects)
    elsewhere = Counter(i for name, stack in chosen.stacks.items() if name not in cluster.places for i in stack)
    left = [chosen.supply[i] - elsewhere[i] for i in range(len(job.stock))]
    options = list[Sequence[Stack]]()
    for name in cluster.places:
        place, suits = job.place[name], chosen.screening.suits[name]
        usable = Usable(suits, left, frozenset(), place.most_pieces, _MOST)
        try:
            others = [] if stays(job, place) else usable.stacks(job, Scale.of(job), place, 0, None)
        except TooManyError:
            return
        options.append([place.installed, *others])
    if prod(map(len, options)) > _MOST:
        return
    best = gap.reading.bracket.best
    moved = [
        [effects.get(name, 0) * (thickness_of(one, job.stock).best - thickness_of(of[0], job.stock).best) for one in of]
        for name, of in zip(cluster.places, options, strict=True)
    ]
    for picked in product(*(range(len(of)) for of in options)):
        stacks = {name: of[at] for name, of, at in zip(cluster.places, options, picked, strict=True)}
        if any(picked) and _allowed(chosen, stacks, left):
            yield stacks, best + sum((of[at] for of, at in zip(moved, picked, strict=True)), Fraction(0))


def _allowed(chosen: Chosen, stacks: Mapping[str, Stack], left: Sequence[int]) -> bool:
    """Whether there are so many pieces, every place has its fewest, and equal packs are equal."""
    job = chosen.job
    used = Counter(i for stack in stacks.values() for i in stack)
    tied = [names for names in job.equal if stacks.keys() >= {*names}]
    return (
        all(count <= left[i] for i, count in used.items())
        and all(len(stack) >= job.place[name].fewest_pieces for name, stack in stacks.items())
        and not any(unlike(job, stacks, names) for names in tied)
    )
