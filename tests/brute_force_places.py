"""The slow obvious answer where places act together, hold pieces already, or must be equal: every combination, judged.

Exact fractions, straight from the written rules; it shares no code with `shimopt.choose`, `stacks`, `check` or `fit`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from fractions import Fraction
from functools import cache
from typing import NamedTuple

from shimopt.job import Gap, Job, Place
from tests.brute_force import Answer, Stack, all_stacks, grade, in_reach, price_of_packs

__all__ = ["best_plan_of_places", "clearance"]


class _Pieces(NamedTuple):
    """Which pieces are in each place, before and after: every piece with a number of its own, and its stock line."""

    before: Mapping[str, list[int]]
    after: Mapping[str, list[int]]
    line: Mapping[int, int]


def _pieces(job: Job, stacks: Mapping[str, Stack]) -> _Pieces:
    """Carry the pieces by hand. What is in stays where it can, what lies beside its own place goes in there, then what
    comes out where places act together goes over, first come first served; the rest is another piece.
    """
    line, before, after = dict[int, int](), dict[str, list[int]](), dict[str, list[int]]()
    loose, wants = dict[str, list[int]](), dict[str, list[int]]()

    def new(i: int) -> int:
        line[len(line)] = i
        return len(line) - 1

    for place in job.places:
        before[place.name] = [new(i) for i in place.installed]
        wanted, beside = list(stacks.get(place.name, place.installed)), list(place.came_out)
        after[place.name], loose[place.name], wants[place.name] = [], [], []
        for piece in before[place.name]:
            if line[piece] in wanted:
                wanted.remove(line[piece])
                after[place.name].append(piece)
            else:
                loose[place.name].append(piece)
        for i in wanted:
            if i in beside:
                beside.remove(i)
                after[place.name].append(new(i))
            else:
                wants[place.name].append(i)
    for names in _clusters(job):
        together = [place.name for place in job.places if place.name in names]
        for name in together:
            for i in wants[name]:
                like = [(at, piece) for at in together for piece in loose[at] if line[piece] == i]
                for at, piece in like[:1]:
                    loose[at].remove(piece)
                after[name].append(like[0][1] if like else new(i))
    return _Pieces(before, after, line)


def clearance(job: Job, gap: Gap, stacks: Mapping[str, Stack]) -> tuple[Fraction, Fraction, Fraction]:
    """Low, best and high of a gap after shimming, over true sizes: each piece as thin or as thick as it can be, the
    same wherever it was and wherever it goes. Where a place is not named nothing is changed.
    """
    pieces = _pieces(job, stacks)
    low, best, high = gap.reading.bracket.low, gap.reading.bracket.best, gap.reading.bracket.high
    for piece, i in pieces.line.items():
        there = {name: (piece in pieces.after[name]) - (piece in pieces.before[name]) for name, _ in gap.effects}
        counts = sum((effect * there[name] for name, effect in gap.effects), Fraction(0))
        size = job.stock[i].part.thickness
        ends = sorted((counts * size.low, counts * size.high))
        low, best, high = low + ends[0], best + counts * size.best, high + ends[1]
    return low, best, high


def _thicker(job: Job, place: Place, stack: Stack) -> Fraction:
    """How much thicker a place becomes."""
    now, was = ([job.stock[i].part.thickness.best for i in of] for of in (stack, place.installed))
    return sum(now, Fraction(0)) - sum(was, Fraction(0))


def _off(gap: Gap, best: Fraction) -> Fraction:
    below = 0 if gap.window.min is None else gap.window.min - best
    above = 0 if gap.window.max is None else best - gap.window.max
    return Fraction(max(below, above, 0))


def _kept(job: Job, place: Place) -> bool:
    """A place with pieces in it stays as it is while all is well."""
    if not place.installed or not place.keep:
        return False
    for gap in job.gaps:
        if place.name in [name for name, _ in gap.effects]:
            best, target = gap.reading.bracket.best, gap.window.target
            if _off(gap, best):
                return False
            if place.keep_within is not None and target is not None and abs(best - target) > place.keep_within:
                return False
    return True


def _clusters(job: Job) -> list[set[str]]:
    groups = [{place.name} for place in job.places]
    for names in [[name for name, _ in gap.effects] for gap in job.gaps] + [list(names) for names in job.equal]:
        joined = [group for group in groups if group & set(names)]
        groups = [group for group in groups if not group & set(names)]
        if joined:
            groups.append(set().union(*joined))
    return groups


def _alone(job: Job, place: Place) -> Gap | None:
    """The gap that belongs to a place alone, where there is one and neither is tied to anything else."""
    moved = [gap for gap in job.gaps if place.name in [name for name, _ in gap.effects]]
    tied = any(place.name in names for names in job.equal)
    return moved[0] if len(moved) == 1 and len(moved[0].effects) == 1 and not tied else None


def _choices(job: Job, place: Place, buy: bool) -> list[Stack]:
    if _kept(job, place):
        return [place.installed]
    stacks = [stack for stack in all_stacks(job, place, buy) if len(stack) >= place.fewest_pieces]
    if not place.installed:
        stacks = [stack for stack in stacks if stack]
    gap = _alone(job, place)
    if gap is not None:
        stacks = [stack for stack in stacks if not _off(gap, clearance(job, gap, {place.name: stack})[1])]
    return [place.installed, *(stack for stack in stacks if stack != place.installed)]


def _allowed(job: Job, stacks: Mapping[str, Stack], may_be_short: Collection[str]) -> int | None:
    """How many places are short of their least number; None where the combination is against the rules."""
    stayed = {place.name for place in job.places if stacks[place.name] == place.installed}
    for names in job.equal:
        packs = {tuple(sorted(job.stock[i].part.name for i in stacks[name])) for name in names}
        if len(packs) > 1 and not set(names) <= stayed:
            return None
    short = stayed & {*may_be_short}
    if short and any(group & short and not group <= stayed for group in _clusters(job)):
        return None
    return len(short)


def _in_vain(job: Job, judge: _Judge, stacks: Mapping[str, Stack]) -> bool:
    """Whether something is changed and no fewer gaps are outside, or one is made too tight, or tighter than it was."""
    after = {gap.name: judge.seen(gap.name, *(stacks[name] for name in judge.movers[gap.name])) for gap in job.gaps}
    for gap in job.gaps:
        least, read = gap.window.min, gap.reading.bracket.best
        if least is not None and after[gap.name].best < least and after[gap.name].best < read:
            return True
    for names in _clusters(job):
        gaps = [gap for gap in job.gaps if names & {*dict(gap.effects)}]
        before = sum(_off(gap, gap.reading.bracket.best) > 0 for gap in gaps)
        outside = sum(after[gap.name].off > 0 for gap in gaps)
        changed = any(stacks[name] != job.place[name].installed for name in names)
        if changed and outside and outside >= before:
            return True
    return False


def _may_be_short(job: Job) -> list[str]:
    """Places that hold too few pieces, and may stay so with all that hang on them."""
    few = [place for place in job.places if len(place.installed) < place.fewest_pieces]
    return [place.name for place in few if not _kept(job, place) and _alone(job, place) is None]


def _may_be_tight(gap: Gap) -> bool:
    """Whether it reads as nothing where preload is wanted: nobody knows how much there is, whatever goes in."""
    wanted = gap.window.max is not None and gap.window.max <= 0
    return wanted and gap.reading.no_preload_assumed and not gap.reading.opens


class _Seen(NamedTuple):
    """A gap after shimming: its best estimate, how far that is off the window and off the target, and the doubt."""

    best: Fraction
    off: Fraction
    target: Fraction
    doubt: Fraction


class _Judge:
    """The levels of plans of one job; what a gap comes to is worked out once for like stacks of its places."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.seen = cache(self._seen)
        # what is carried over is known of all places that act together
        self.movers = {
            gap.name: [name for names in _clusters(job) if names & {*dict(gap.effects)} for name in sorted(names)]
            for gap in job.gaps
        }
        self.cautions = cache(self._cautions)
        # packs that are compared are set aside with the gaps that they move
        self.moved = [
            [gap.name for gap in job.gaps if {name for name, _ in gap.effects} & set(balance.places)]
            for balance in job.balances
        ]

    def _seen(self, name: str, *stacks: Stack) -> _Seen:
        gap = self.job.gap[name]
        low, best, high = clearance(self.job, gap, dict(zip(self.movers[name], stacks, strict=True)))
        doubt = max(0, (gap.window.min if gap.window.min is not None else low) - low)
        doubt += max(0, high - (gap.window.max if gap.window.max is not None else high))
        target = Fraction(0) if gap.window.target is None else abs(best - gap.window.target)
        return _Seen(best, _off(gap, best), target, Fraction(doubt))

    def _cautions(self, name: str, stack: Stack) -> int:
        return sum(grade(self.job, self.job.place[name], i) == "caution" for i in stack)


def _levels(judge: _Judge, stacks: Mapping[str, Stack]) -> dict[str, Fraction]:
    job = judge.job
    after = {gap.name: judge.seen(gap.name, *(stacks[name] for name in judge.movers[gap.name])) for gap in job.gaps}
    zero = Fraction(0)
    levels = dict.fromkeys(("outside", "miss", "unproven", "doubt", "excess", "spread", "target"), zero)
    for name, one in after.items():
        if one.off:
            levels["outside"] += 1
            levels["miss"] += one.off
        elif one.doubt or _may_be_tight(job.gap[name]):
            levels["unproven"] += 1
            levels["doubt"] += one.doubt
        levels["target"] += one.target
    for balance, moved in zip(job.balances, judge.moved, strict=True):
        if any(after[name].off for name in [*balance.gaps, *moved]):
            continue
        even = [after[name].best - balance.offset.get(name, 0) for name in balance.gaps]
        for name in balance.places:
            thick = sum((job.stock[i].part.thickness.best for i in stacks[name]), zero)
            even.append(thick - balance.offset.get(name, 0))
        levels["spread"] += max(even) - min(even)
        if balance.within is not None:
            levels["excess"] += max(0, max(even) - min(even) - balance.within)
    used = Counter(i for stack in stacks.values() for i in stack)
    there = {i: job.stock[i].on_hand + sum(p.installed.count(i) for p in job.places) for i in used}
    bought = {i: n - there[i] for i, n in used.items() if n > there[i]}
    prices = {i: price_of_packs(job.stock[i].offers, n) for i, n in bought.items()}
    levels["bought"] = Fraction(sum(bought.values()))
    levels["unpriced"] = Fraction(sum(n for i, n in bought.items() if prices[i] is None))
    levels["cost"] = sum((price for price in prices.values() if price is not None), zero)
    levels["opened"] = Fraction(sum(bool(p.installed) and stacks[p.name] != p.installed for p in job.places))
    levels["pieces"] = Fraction(sum(map(len, stacks.values())))
    levels["cautions"] = Fraction(sum(judge.cautions(name, stack) for name, stack in stacks.items()))
    return levels


def _totals(job: Job) -> list[set[str]]:
    """Places of which one can take over from another without any gap noticing, where nothing states their split."""

    def alike(one: str, two: str) -> bool:
        pairs = [(dict(gap.effects).get(one, 0), dict(gap.effects).get(two, 0)) for gap in job.gaps]
        pairs = [pair for pair in pairs if pair != (0, 0)]
        ratios = {Fraction(a) / b for a, b in pairs if b}
        return bool(pairs) and all(a and b for a, b in pairs) and len(ratios) == 1 and min(ratios) > 0

    groups: list[set[str]] = []
    for place in job.places:
        group = {other.name for other in job.places if other.name == place.name or alike(place.name, other.name)}
        if len(group) > 1 and group not in groups:
            groups.append(group)
    stated = [set(names) for names in job.equal] + [set(balance.places) for balance in job.balances]
    return [
        group
        for group in groups
        if not any(group <= names for names in stated)
        and any(place.installed for place in job.places if place.name in group)
    ]


def _moved_from(job: Job, stacks: Mapping[str, Stack], totals: Collection[set[str]]) -> Fraction:
    """How far the places of totals are from what was in: the sum of squares."""
    return sum((_thicker(job, job.place[name], stacks[name]) ** 2 for group in totals for name in group), Fraction(0))


def best_plan_of_places(job: Job, buy: bool = False) -> Answer:
    """Best by the levels in the job's order; among equals what leaves a split that nothing states nearest to what was
    in, then, place by place, the first parts in natural order.
    """
    order = [name for level in job.levels for name in (("unpriced", "cost") if level == "cost" else (level,))]
    names = [place.name for place in job.places]
    best: tuple[list[Fraction], Fraction, tuple[Stack, ...]] | None = None
    found: dict[str, Fraction] = {}
    choices = [_choices(job, place, buy) for place in job.places]
    totals, may_be_short, judge = _totals(job), _may_be_short(job), _Judge(job)
    for plan in in_reach(job, buy, choices, lambda stack: stack):
        stacks = dict(zip(names, plan, strict=True))
        short = _allowed(job, stacks, may_be_short)
        if short is None or _in_vain(job, judge, stacks):
            continue
        levels = _levels(judge, stacks)
        told = [Fraction(short), *(levels[name] for name in order)]
        if best is not None and told > best[0]:
            continue
        judged = (told, _moved_from(job, stacks, totals), tuple(plan))
        if best is None or judged < best:
            best, found = judged, levels
    assert best is not None
    return Answer(dict(zip(names, best[2], strict=True)), {name: found[name] for name in job.levels})
