"""A plan at once, place by place: what there is to give when the time is over before anything better was found.

It starts from what is in the places, gives each the stack near the thickness that its gaps ask for, as the others
stand, and goes round until nothing gets better; places with equal packs all get the same. Proven is at most that a gap
which no stack can reach stays outside.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from shimopt.arithmetic.audit import left_short, short_places
from shimopt.arithmetic.chance_inside import chance_inside
from shimopt.arithmetic.clearance import Stack, stays
from shimopt.arithmetic.in_vain import changed_in_vain
from shimopt.arithmetic.needed import wanted
from shimopt.arithmetic.outcome import outcome_of
from shimopt.candidates import Changes, Ends, Judge, NearSums, Scale, moved_by
from shimopt.choose.chosen import Choice, LevelResult
from shimopt.choose.whole_model import Model
from shimopt.job import Cluster, Gap, Job, Place
from shimopt.job.levels import LENGTH_LEVELS
from shimopt.proof.proven import Proof, proof_of
from shimopt.seats import Screening
from shimopt.watch import Limit

_MOST_ROUNDS = 4
# by which one stack is better than another, before its pieces
_LEVELS = ("outside", "miss", "unproven", "doubt")


def plan_at_once(job: Job, screening: Screening, supply: Mapping[int, int], limit: Limit) -> Choice | None:
    """A plan that keeps to all rules, found within a limit that is asked before every look at a place.

    None where places that act together would be left with fewer pieces than they ask for, or what is in some of them
    and has to stay was given to others. Parameters: supply, what can
    be had of each stock line.
    """
    stacks = _AtOnce(job, screening, supply).stacks(limit)
    short = short_places(job, screening.suits, supply)
    outcome = outcome_of(job, stacks, screening.cautions, short)
    if in_vain := [cluster for cluster in job.clusters if changed_in_vain(job, cluster, stacks, outcome)]:
        stacks |= {name: job.place[name].installed for cluster in in_vain for name in cluster.places}
        outcome = outcome_of(job, stacks, screening.cautions, short)
    used = Counter(i for stack in stacks.values() for i in stack)
    if left_short(job, stacks) or any(count > supply[i] for i, count in used.items()):
        return None
    values, floor = outcome.levels, _floor(job, screening, supply)
    sure = True
    levels = []
    for level in job.levels:
        size = job.tick if level in LENGTH_LEVELS else Fraction(1)
        value, bound = values[level], floor[level] * size
        # a bound means nothing below a level that is not proven
        proof = proof_of(int(value / size), floor[level]) if sure and level != "cost" else Proof.NONE
        levels.append(LevelResult(level, value, bound if sure else None, proof, 0.0))
        sure = proof.proven
    return Choice(stacks, tuple(levels))


def _floor(job: Job, screening: Screening, supply: Mapping[int, int]) -> Counter[str]:
    """What the gaps that stay as they are in every plan add to each level: nothing moves them, or no stack can."""
    scale, floor = Scale.of(job), Counter[str]()
    for cluster in job.clusters:
        gap = job.gap[cluster.gaps[0]] if cluster.gaps else None
        if gap is not None and (cluster.fixed or (cluster.alone and not _reachable(job, gap, screening, supply))):
            judge = Judge(scale, gap)
            enough = None if gap.least_chance is None else chance_inside(job, gap, {}) >= gap.least_chance
            floor.update(judge.shares(judge.read, enough=enough))
    return floor


def _reachable(job: Job, gap: Gap, screening: Screening, supply: Mapping[int, int]) -> bool:
    """Whether a stack at its own place, of any thickness that suiting pieces may make, could bring a gap inside."""
    place, (low, high) = job.place[gap.effects[0][0]], wanted(job, gap)
    if not place.takes_shims or stays(job, place):
        return False
    sizes = [job.stock[i].part.thickness.best for i in screening.suits[place.name] if supply[i] > 0]
    least = max(place.fewest_pieces, 1) * min(sizes, default=Fraction(0))
    ends = [(Fraction(0), Fraction(0))] if not place.fewest_pieces else []
    ends += [(least, place.most_pieces * max(sizes))] if sizes else []
    return any((low is None or most >= low) and (high is None or least <= high) for least, most in ends)


@dataclass(frozen=True, slots=True)
class _Moved:
    """A gap that a place moves: how it is judged, by how much it moves, and what else moves it."""

    judge: Judge
    effect: Fraction
    reach: tuple[Fraction, Fraction]
    others: tuple[tuple[str, Fraction, tuple[Fraction, Fraction]], ...]


@dataclass(frozen=True, slots=True)
class _Emptied:
    """A place that is looked at, and the gaps that it moves as they are with nothing in it [ticks].

    Places with equal packs are emptied together, and none of their gaps is moved by two of them.
    """

    place: Place
    changes: Changes
    gaps: tuple[tuple[_Moved, Ends], ...]
    empty: Ends

    def shares(self, stack: Stack) -> Counter[str]:
        """What its gaps add to the levels with this stack in it."""
        shares: Counter[str] = Counter()
        for gap, now in self.gaps:
            low, best, high = moved_by(self.changes.by(stack), gap.effect, gap.reach)
            shares.update(gap.judge.shares((now[0] + low, now[1] + best, now[2] + high)))
        return shares

    def aims(self) -> set[int]:
        """The thickness that brings each gap to its target, or to a limit."""
        found = set()
        for gap, now in self.gaps:
            bare = now[1] + moved_by(self.empty, gap.effect, gap.reach)[1]
            ends = (gap.judge.target, gap.judge.min, gap.judge.max)
            found |= {round((to - bare) / gap.effect) for to in ends if to is not None}
        return {aim for aim in found if aim > 0}


class _AtOnce:
    """Stacks by place as they stand, and what is left of the stock beside them."""

    def __init__(self, job: Job, screening: Screening, supply: Mapping[int, int]) -> None:
        self.job, self.screening, self.scale = job, screening, Scale.of(job)
        self.held: dict[str, Stack] = {place.name: place.installed for place in job.places}
        self.left = Counter(supply)
        self.left.subtract(i for place in job.places for i in place.installed)
        self.to_buy = {i: count - job.there[i] for i, count in supply.items()}
        self.changes = {place.name: Changes(job, self.scale, place, Fraction(1)) for place in job.places}
        self.moved: dict[str, list[_Moved]] = {place.name: [] for place in job.places}
        for gap in job.gaps:
            movers, judge = [(name, effect, gap.reach(name)) for name, effect in gap.effects], Judge(self.scale, gap)
            for name, effect, reach in movers:
                others = tuple(mover for mover in movers if mover[0] != name)
                self.moved[name].append(_Moved(judge, effect, reach, others))
        self.equal = {name: names for names in job.equal for name in names}
        self.sums: dict[tuple[int, ...], NearSums] = {}

    def stacks(self, limit: Limit) -> dict[str, Stack]:
        """The stacks after some rounds."""
        waiting = [c for c in self.job.clusters if not c.fixed and self._can_be_asked(c) and self._filled(c)]
        for turn in range(_MOST_ROUNDS):
            # there and back: a place may undo what the one before it did, and leaves its own pieces to others
            way = -1 if turn % 2 else 1
            waiting = [c for c in waiting[::way] if self._better(c, way, limit)][::way]
        return self.held

    def _can_be_asked(self, cluster: Cluster) -> bool:
        """Whether its equal packs, if any, are all open, may be empty, and move gaps of their own."""
        for names in {self.equal[name] for name in cluster.places if name in self.equal}:
            places = [place for place in self._open(cluster) if place.name in names]
            moved = [gap.name for place in places for gap in self.job.moved_by[place.name]]
            if len(places) < len(names) or len(moved) > len(set(moved)) or any(p.fewest_pieces for p in places):
                return False
        return True

    def _packs(self, cluster: Cluster) -> list[list[Place]]:
        """Its open places: those with equal packs together, every other by itself."""
        packs: dict[tuple[str, ...], list[Place]] = {}
        for place in self._open(cluster):
            packs.setdefault(self.equal.get(place.name, (place.name,)), []).append(place)
        return [*packs.values()]

    def _filled(self, cluster: Cluster) -> bool:
        """Whether each place that acts together with others has its least number of pieces: else none gets any."""
        before = {name: self.held[name] for name in cluster.places}
        for place in [] if cluster.alone else self._open(cluster):
            if len(self.held[place.name]) < place.fewest_pieces:
                stacks = self._stacks([self._emptied(place)])
                if not stacks:
                    for name, stack in before.items():
                        self._put(name, stack)
                    return False
                self._put(place.name, stacks[0])
        return True

    def _better(self, cluster: Cluster, way: int, limit: Limit) -> bool:
        """Whether some place of a cluster got a stack that is better, all others as they stand."""
        found = False
        for places in self._packs(cluster)[::way]:
            if limit.over():
                break
            best = was = [self.held[place.name] for place in places]
            here = [self._emptied(place) for place in places]
            merit = self._merit(here, was)
            if any(merit[: len(_LEVELS)]):
                for stack in self._stacks(here):
                    other = self._merit(here, [stack] * len(here))
                    # a place that moves one gap alone gets a stack only if that brings the gap inside
                    if other < merit and not (cluster.alone and other[0]):
                        best, merit = [stack] * len(here), other
            for place, stack in zip(places, best, strict=True):
                self._put(place.name, stack)
            found = found or best != was
        return found

    def _open(self, cluster: Cluster) -> list[Place]:
        places = (self.job.place[name] for name in cluster.places)
        return [place for place in places if place.takes_shims and not stays(self.job, place)]

    def _emptied(self, place: Place) -> _Emptied:
        """The place with its pieces put back into the drawer: whoever asks puts some in again."""
        self._put(place.name, ())
        changes = self.changes[place.name]
        gaps = tuple((gap, self._without(gap)) for gap in self.moved[place.name])
        return _Emptied(place, changes, gaps, changes.by(()))

    def _without(self, gap: _Moved) -> Ends:
        """A gap as read, moved by what the other places hold."""
        low, best, high = gap.judge.read
        for name, effect, reach in gap.others:
            moved = moved_by(self.changes[name].by(self.held[name]), effect, reach)
            low, best, high = low + moved[0], best + moved[1], high + moved[2]
        return low, best, high

    def _stacks(self, here: Sequence[_Emptied]) -> list[Stack]:
        """Stacks that may go into each of these places, near what each gap asks for."""
        first, *others = (self.screening.suits[one.place.name] for one in here)
        suits = tuple(i for i in first if all(i in other for other in others)) if others else first
        left = {i: self.left[i] // len(here) for i in suits} if others else self.left
        if suits not in self.sums:
            self.sums[suits] = NearSums({i: self.scale.ticks(self.job.stock[i].part.thickness.best) for i in suits})
        fewest, most = here[0].place.fewest_pieces, min(one.place.most_pieces for one in here)
        found: list[Stack] = [] if fewest else [()]
        for aim in sorted(set[int]().union(*(one.aims() for one in here)) or {1}):
            found += self.sums[suits].stacks(aim, left, fewest, most)
        return list(dict.fromkeys(found))

    def _merit(self, here: Sequence[_Emptied], stacks: Sequence[Stack]) -> tuple[int, ...]:
        shares, pieces = Counter[str](), Counter(i for stack in stacks for i in stack)
        for one, stack in zip(here, stacks, strict=True):
            shares.update(one.shares(stack))
        bought = sum(max(0, n - max(0, self.left[i] - self.to_buy[i])) for i, n in pieces.items())
        return (*(shares[level] for level in _LEVELS), bought, pieces.total())

    def _put(self, place: str, stack: Stack) -> None:
        self.left.update(self.held[place])
        self.left.subtract(stack)
        self.held[place] = stack


def greedy_start(model: Model, levels: Sequence[str]) -> tuple[int, ...]:
    """A choice to start from, one column per place: few options first, each its best that supply allows."""
    left = dict(model.supply)
    chosen = {}

    def merit(column: int) -> tuple[object, ...]:
        option = model.columns[column]
        return (*(option.share.get(level, 0) for level in levels), option.stack)

    for at, group in sorted(enumerate(model.groups), key=lambda numbered: (len(numbered[1]), numbered[0])):
        for column in sorted(group, key=merit):
            stack = model.columns[column].stack
            if all(left[i] >= stack.count(i) for i in stack):
                break
        for i in stack:
            left[i] -= 1
        chosen[at] = column
    return tuple(chosen[at] for at in range(len(model.groups)))
