"""Reasons of places that act together: what was done to each gap, what a shift would do, which windows fight."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from itertools import combinations, takewhile

from shimopt.arithmetic import Outcome, off_by
from shimopt.arithmetic.audit import left_short
from shimopt.arithmetic.chance_inside import sure_as_read
from shimopt.arithmetic.clearance import Stack, out_at_ends, stands_out, stays, thickness_of
from shimopt.choose.inside_together import can_all_be_inside
from shimopt.choose.thickness_ranges import Box, apart, stack_box
from shimopt.job import Cluster, Gap, Job
from shimopt.job.gap import Side
from shimopt.job.model import splits_not_stated
from shimopt.reasons import shared_reasons as shared
from shimopt.reasons.alternatives import Chosen
from shimopt.reasons.gap_reasons import (
    LeftTogetherByPriority,
    MayBeTight,
    Reason,
    SetByTorque,
    TooFewForAll,
    TooFewPieces,
    Unproven,
)
from shimopt.reasons.nearest_together import nearest_together
from shimopt.watch import Watch

# a shift of thickness that people can picture, by the job's unit [nm]
_SHIFT = {"mm": 100_000, "um": 100_000, "in": 101_600, "thou": 101_600}
_MOST_PAIRS = 6
# beyond so many gaps the smallest set that cannot be served is not looked for
_MOST_GAPS = 8
# thicker than any pack [mm]
_MOST_MADE = Fraction(1000)


def of_coupling(chosen: Chosen, watch: Watch) -> list[Reason]:
    """All reasons of the clusters in which a place does not move one gap alone, and of gaps that nothing moves."""
    job, stacks, outcome = chosen.job, chosen.stacks, chosen.outcome
    reasons: list[Reason] = []
    left = left_short(job, stacks)
    for cluster in job.clusters:
        if cluster.fixed:
            reasons.append(_fixed(job, job.gap[cluster.gaps[0]]))
        elif not cluster.alone:
            changed = tuple(name for name in cluster.places if stacks.get(name, ()) != job.place[name].installed)
            # what is held stays for another reason, which stands before all others
            held = any(job.place[name].held for name in cluster.places)
            reasons += [_kept(job, name) for name in cluster.places if stays(job, job.place[name]) and not held]
            short = [name for name in left if name in cluster.places]
            too_few = _short(chosen, short) if short else []
            reasons += too_few
            reasons += [reason for name in cluster.gaps for reason in _gap(job, job.gap[name], changed, outcome)]
            outside = [name for name in cluster.gaps if outcome.gaps[name].verdict == "outside"]
            if outside and not too_few and not watch.over():
                reasons += _fight(chosen, cluster, outside)
                reasons += nearest_together(chosen, cluster)
            reasons += [] if held else list(_shifts(job, cluster))[:_MOST_PAIRS]
    return [*reasons, *_splits(job, stacks)]


def _splits(job: Job, stacks: Mapping[str, Stack]) -> list[Reason]:
    """Of totals whose split nothing states, where something is changed."""
    reasons: list[Reason] = []
    for names in splits_not_stated(job):
        if len({source.on for gap in job.moved_by[names[0]] for source in gap.effect_sources if source.on}) > 1:
            continue  # each pack sets a gear of its own: they share no thickness
        if any(stacks.get(name, ()) != job.place[name].installed for name in names):
            kind = shared.SplitNotStated if any(job.place[name].installed for name in names) else shared.SplitByName
            reasons.append(kind(about=job.moved_by[names[0]][0].name, names=names))
    return reasons


def _fixed(job: Job, gap: Gap) -> Reason:
    off = off_by(gap.reading.bracket.best, gap.window)
    return shared.NoPlaceMoves(
        about=gap.name,
        read=gap.reading.bracket.best,
        off=off,
        side=gap.window.side(gap.reading.bracket.best),
        sure=sure_as_read(job, gap),
    )


def _kept(job: Job, place: str) -> Reason:
    gaps = tuple(gap.name for gap in job.moved_by[place])
    return shared.PlaceStays(about=place, names=gaps, stack=job.place[place].installed)


def _short(chosen: Chosen, short: Sequence[str]) -> list[Reason]:
    """Each place that too few pieces suit; where each could have enough but not all of them, that."""
    job, suits, supply = chosen.job, chosen.screening.suits, chosen.supply
    there = {name: sum(supply[i] for i in suits[name]) for name in short}
    lacking = [name for name in short if there[name] < job.place[name].fewest_pieces]
    if lacking:
        return [TooFewPieces(about=n, fewest=job.place[n].fewest_pieces, there=there[n]) for n in lacking]
    elsewhere = Counter(i for name, stack in chosen.stacks.items() if name not in short for i in stack)
    left = sum(max(0, supply[i] - elsewhere[i]) for i in {i for name in short for i in suits[name]})
    fewest = sum(job.place[name].fewest_pieces for name in short)
    if left >= fewest:
        return []  # there are enough, but none that bring a gap inside
    return [TooFewForAll(about=short[0], names=tuple(short), fewest=fewest, there=left)]


def _gap(job: Job, gap: Gap, changed: Sequence[str], outcome: Outcome) -> list[Reason]:
    found, read = outcome.gaps[gap.name], gap.reading.bracket.best
    movers = tuple(place for place, _ in gap.effects if place in changed)
    off = off_by(read, gap.window)
    side = gap.window.side(read)
    after = found.after.best
    reasons: list[Reason] = []
    names = movers or tuple(place for place, _ in gap.effects)
    if movers and found.verdict == "outside":
        side_after = gap.window.side(after)
        pushing = _pushing(job, gap, movers, outcome, side_after)
        reasons.append(
            shared.TogetherOutside(
                about=gap.name,
                names=pushing if pushing and found.off > off else names,
                read=read,
                off=off,
                side=side,
                preload=gap.window.wants_preload,
                after=after,
                still=found.off,
                side_after=side_after,
                doubt=Fraction(0) if off else stands_out(gap.reading.bracket, gap.window),
                served=_served(job, pushing, outcome),
            )
        )
    else:
        kind = shared.TogetherLeft if not movers else shared.TogetherMoved if off else shared.TogetherStillInside
        preload = gap.window.wants_preload
        sure = found.verdict != "unproven"
        reasons.append(
            kind(
                about=gap.name,
                names=names,
                read=read,
                off=off,
                side=side,
                preload=preload,
                after=after,
                sure=sure,
                sure_before=sure_as_read(job, gap),
            )
        )
    if gap.may_be_tight and found.verdict == "unproven":
        reasons.append(MayBeTight(about=gap.name, opens=job.opened_by_more(gap)))
    elif found.verdict == "unproven":
        tight, loose = out_at_ends(found.after, gap.window)
        reasons.append(Unproven(about=gap.name, tight=tight, loose=loose, chance=found.chance))
    return reasons


def _pushing(job: Job, gap: Gap, movers: Sequence[str], outcome: Outcome, side: Side) -> tuple[str, ...]:
    """Of these places those whose change moves a gap to this side."""
    way = 1 if side == "over" else -1
    moved = {place: effect * _thicker(job, place, outcome) for place, effect in gap.effects if place in movers}
    return tuple(place for place, by in moved.items() if way * by > 0)


def _thicker(job: Job, place: str, outcome: Outcome) -> Fraction:
    """By how much a place holds more than it did."""
    return outcome.thickness[place].best - thickness_of(job.place[place].installed, job.stock).best


def _served(job: Job, places: Sequence[str], outcome: Outcome) -> tuple[str, ...]:
    """The gaps that come inside, or nearer, by what is changed at these places."""
    served = []
    for gap in dict.fromkeys(gap for place in places for gap in job.moved_by[place]):
        read = gap.reading.bracket.best
        back: Side = "under" if gap.window.side(read) == "over" else "over"
        if outcome.gaps[gap.name].off < off_by(read, gap.window) and _pushing(job, gap, places, outcome, back):
            served.append(gap.name)
    return tuple(served)


def _fight(chosen: Chosen, cluster: Cluster, outside: Sequence[str]) -> list[Reason]:
    """The smallest set of windows that cannot all be met, by no thickness at all or by none of what there is.

    Where all can be met, what the job puts before that.
    """
    job, screening, supply = chosen.job, chosen.screening, chosen.supply
    usable = {name: [i for i in screening.suits[name] if supply[i] > 0] for name in cluster.places}
    boxes = {name: stack_box(job, name, usable[name]) for name in cluster.places}
    any_thickness = {name: _any_thickness(job, name, box) for name, box in boxes.items()}

    def no_thickness(names: Sequence[str]) -> bool:
        return apart(job, names, any_thickness) > 0

    def out_of_reach(names: Sequence[str]) -> bool:
        return apart(job, names, boxes) > 0

    def no_stacks(names: Sequence[str]) -> bool:
        return can_all_be_inside(job, screening, cluster, names, buy=chosen.buy) is False

    if no_thickness(cluster.gaps):
        names = _smallest(cluster.gaps, no_thickness)
        about = next((name for name in names if name in outside), names[0])
        return [shared.WindowsFight(about=about, names=names, short=apart(job, names, any_thickness))]
    if any(stays(job, job.place[name]) for name in cluster.places):
        # what stays in, being inside, may be all that keeps the others out: it is said so itself
        return []
    if out_of_reach(cluster.gaps):
        names = _smallest(cluster.gaps, out_of_reach)
        return [_no_stacks(job, names, outside)]
    if len(cluster.gaps) > _MOST_GAPS:
        return []
    could = can_all_be_inside(job, screening, cluster, cluster.gaps, buy=chosen.buy)
    if could is False:
        names = _smallest(cluster.gaps, no_stacks)
        return [_no_stacks(job, names, outside)]
    first = _put_first(chosen, cluster) if could else ()
    return [LeftTogetherByPriority(about=name, first=first) for name in outside] if first else []


def windows_apart(job: Job, cluster: Cluster) -> tuple[str, ...]:
    """The smallest set of its gaps whose windows no thickness at all can meet by these readings; else empty."""
    if cluster.alone or cluster.fixed or len(cluster.gaps) > _MOST_GAPS:
        return ()
    boxes = {name: _any_thickness(job, name, stack_box(job, name, ())) for name in cluster.places}

    def no_thickness(names: Sequence[str]) -> bool:
        return apart(job, names, boxes) > 0

    return _smallest(cluster.gaps, no_thickness) if no_thickness(cluster.gaps) else ()


def _no_stacks(job: Job, names: tuple[str, ...], outside: Sequence[str]) -> shared.NoStacksForAll:
    """That no stacks bring these gaps inside, with the places that move them whose packs have to match."""
    about = next((name for name in names if name in outside), names[0])
    moving = {place for name in names for place, _ in job.gap[name].effects}
    return shared.NoStacksForAll(
        about=about, names=names, alike=tuple(place for tied in job.equal if moving >= {*tied} for place in tied)
    )


def _any_thickness(job: Job, place: str, held: Box) -> Box:
    """What a place could hold if every size were made and nothing had to stay [mm]; without shims what it has."""
    return (Fraction(0), _MOST_MADE) if job.place[place].takes_shims else held


def _put_first(chosen: Chosen, cluster: Cluster) -> tuple[str, ...]:
    """The levels that the job puts before gaps outside; empty where the search or another cluster may be the cause."""
    job, levels = chosen.job, chosen.choice.levels
    proven = all(level.proven for level in levels if level.name == "outside")
    others = (place for place in job.places if place.name not in cluster.places)
    if not proven or any(chosen.stacks.get(place.name, ()) != place.installed for place in others):
        return ()
    return tuple(str(level) for level in takewhile(lambda level: level != "outside", job.priority))


def _smallest(names: Sequence[str], fails: Callable[[Sequence[str]], bool]) -> tuple[str, ...]:
    """A set of which none can be left out, found by dropping one at a time."""
    left = list(names)
    for name in names:
        fewer = [other for other in left if other != name]
        if fewer and fails(fewer):
            left = fewer
    return tuple(left)


def _shifts(job: Job, cluster: Cluster) -> list[Reason]:
    """What moving thickness from one place to another does to each gap; at a single place, what more of it does."""
    step = Fraction(_SHIFT[job.unit])
    effects = {name: dict(job.gap[name].effects) for name in cluster.gaps}

    if len(cluster.places) == 1:
        (place,) = cluster.places
        changes = tuple((gap, step * moved[place]) for gap, moved in effects.items() if place in moved)
        return [shared.MoreThickness(about=place, names=(place,), step=step, changes=changes)]
    pairs = [
        (one, two)
        for one, two in combinations(cluster.places, 2)
        if any(one in moved and two in moved for moved in effects.values())
        # what must be alike cannot give way to the other
        and not any({one, two} <= {*names} for names in job.equal)
    ]
    zero = Fraction(0)
    return [
        shared.ShiftThickness(
            about=one,
            names=(one, two),
            step=step,
            changes=tuple(
                (gap, step * (moved.get(two, zero) - moved.get(one, zero)))
                for gap, moved in effects.items()
                if one in moved or two in moved
            ),
        )
        for one, two in pairs
    ]


def settled_otherwise(chosen: Chosen, reasons: Sequence[Reason]) -> list[Reason]:
    """The reasons, where a gap turns too hard or too easily that alone: what it reads in length calls for no shim.

    Nor does what reads as nothing where a preload is wanted: it may stand right as it is.
    """
    job = chosen.job
    turning = {gap.name: way for gap in job.gaps if (way := job.turns_wrong(gap.name))} if job.records else {}
    outside = [gap for gap in job.gaps if chosen.outcome.gaps[gap.name].verdict == "outside"]
    hidden = [gap for gap in outside if job.untold(gap.name)]
    told = {*turning, *(gap.name for gap in hidden)}
    others = [reason for reason in reasons if reason.about not in told]
    others += [SetByTorque(about=name, tight=way == "tight") for name, way in turning.items()]
    return [*others, *(MayBeTight(about=gap.name, opens=job.opened_by_more(gap)) for gap in hidden)]
