"""Gaps that were read while another, which the same packs set, still had more play than it is to have."""

from __future__ import annotations

from fractions import Fraction

from shimopt.job import Gap, Job


def with_play(job: Job, gap: Gap, *, preloads: bool = False) -> list[Gap]:
    """The gaps that still had more play than they are to have when this one was read, which the same packs set.

    Packs on both sides set this one by their difference and those by their sum. Play where play is wanted counts for a
    backlash that hangs free in it, where that moves it by more than a tenth of its window (common practice, no
    source); not among `preloads` alone.
    """
    if gap.reading.calculated and job.before is not None:
        # what it comes to by calculation rests on the reading before
        return with_play(job.before, job.before.gap[gap.name], preloads=preloads)
    ways = {place: effect > 0 for place, effect in gap.effects}
    if len({*ways.values()}) < 2:
        return []
    found = []
    # of many thousands of gaps only those that these places move
    for other in {other.name: other for place in ways for other in job.moved_by[place]}.values():
        both = [ways[place] for place, _ in other.effects if place in ways]
        by_their_sum = len({effect > 0 for _, effect in other.effects}) == 1
        all_of = len(both) == len(other.effects) and len({*both}) == 2
        meant = other.window.wants_preload or not preloads
        if meant and all_of and by_their_sum and _floated(gap, other):
            found.append(other)
    return found


def waiting(job: Job) -> set[str]:
    """The gaps that no order answers yet: one that the same packs set was read while a preload still had play."""
    read_so = {gap.name for gap in job.gaps if any(with_play(job, gap, preloads=True))}
    return {name for cluster in job.clusters if read_so & {*cluster.gaps} for name in cluster.gaps}


def _floated(gap: Gap, other: Gap) -> bool:
    """Whether the other gap had so much play that it does not say where this one stood."""
    play, most = other.reading.bracket, other.window.max
    if other.window.wants_preload:
        return play.high > 0
    # what hangs between teeth is rocked wherever the float has left it
    if not any(source.teeth for source in gap.effect_sources):
        return False
    if most is None or not other.window.off(play.best) or play.best < most:
        return False
    window = None if gap.window.min is None or gap.window.max is None else gap.window.max - gap.window.min
    return window is None or 10 * swing(gap) * play.high > window


def swing(gap: Gap) -> Fraction:
    """How far the gap moves for each mm of play that what hangs free between its packs has."""
    return sum((abs(effect) for _, effect in gap.effects), Fraction(0))
