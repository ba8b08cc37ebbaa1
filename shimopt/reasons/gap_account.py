"""Everything that decided about one gap, as data: what could have been fitted, and why it was not."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass, replace
from fractions import Fraction
from itertools import chain
from math import ceil, floor

from shimopt.arithmetic import Outcome, off_by, thickness_of, verdict_of
from shimopt.arithmetic.chance_inside import chance_inside
from shimopt.arithmetic.clearance import Stack, Verdict, after_with, enough_of
from shimopt.arithmetic.needed import Span, aimed, needed, wanted
from shimopt.arithmetic.outcome import levels_with
from shimopt.candidates import Scale, TooManyError, stacks_between
from shimopt.job import Gap, Job, Place
from shimopt.lengths import Bracket
from shimopt.seats import Finding, Screening

_MOST_SERVING = 4
_MOST_LISTED = 2_000


@dataclass(frozen=True, slots=True)
class Rival:
    """A stack that the place could take.

    `used_by` names the places that hold pieces which it would need. `level` is the first level at which the plan, all
    else unchanged, would be worse with it, `value` what that level would be and `planned` what it is; None where it is
    as good (then names decide) or cannot be had. `too_few`: the seat takes more
    pieces than these. `chance` that it would be inside, where that is not sure.
    """

    stack: Stack
    thickness: Bracket
    after: Bracket
    verdict: Verdict
    off: Fraction
    _: KW_ONLY
    used_by: tuple[str, ...] = ()
    level: str | None = None
    value: Fraction = Fraction(0)
    planned: Fraction = Fraction(0)
    too_few: bool = False
    chance: Fraction | float | None = None


@dataclass(frozen=True, slots=True)
class Unsuited:
    """A part that alone would serve by its thickness, and the finding that forbids it on this seat."""

    line: int
    finding: Finding


@dataclass(frozen=True, slots=True)
class Account:
    """One gap's account. `rivals` stand from thin to thick, the plan's own stack among them.

    `place` is None where several places move the gap, or where something was in its own; then the rivals are whole
    stacks, what was in among them, and nothing is said of what is needed.

    `serves` holds the best estimates of a reading for which the plan's stack would do too; `thinner` and `thicker` are
    the rivals next to the plan's stack.
    """

    gap: Gap
    place: Place | None
    stack: Stack
    needed: Span | None
    aim: Span | None
    serves: Span | None
    rivals: tuple[Rival, ...]
    unsuited: tuple[Unsuited, ...]

    @property
    def fewest(self) -> int:
        """How many pieces its place takes at least."""
        return 0 if self.place is None else self.place.fewest_pieces

    @property
    def planned(self) -> Rival | None:
        """The plan's own stack among the rivals."""
        return next((rival for rival in self.rivals if rival.stack == self.stack), None)

    @property
    def thinner(self) -> Rival | None:
        """The next thinner stack that suits."""
        return self._beside(-1)

    @property
    def thicker(self) -> Rival | None:
        """The next thicker stack that suits."""
        return self._beside(1)

    def _beside(self, step: int) -> Rival | None:
        at = next((k for k, rival in enumerate(self.rivals) if rival.stack == self.stack), None)
        if at is None:
            return None
        here = self.rivals[at].thickness.best
        others = self.rivals[at + 1 :] if step > 0 else self.rivals[:at][::-1]
        beside = next((rival.thickness.best for rival in others if rival.thickness.best != here), None)
        # of those as thick the one of fewest pieces, which stands first
        return next((rival for rival in self.rivals if rival.thickness.best == beside), None)


def account_of(
    gap: Gap,
    job: Job,
    screening: Screening,
    stacks: Mapping[str, Stack],
    outcome: Outcome,
    supply: Mapping[int, int],
) -> Account:
    """The account of a gap; without rivals where places act together."""
    unsuited = unsuited_parts(gap, job, screening, supply)
    if gap.name not in job.alone:
        return Account(gap, None, (), None, None, None, (), unsuited)
    place = job.place[gap.effects[0][0]]
    stack = stacks.get(place.name, ())
    aim = aimed(job, gap) if place.takes_shims else None
    # what turns too hard or too easily is not weighed by its length
    rivals = (
        () if job.turns_wrong(gap.name) else tuple(_Rivals(gap, job, screening, stacks, outcome, supply).ladder(aim))
    )
    if place.installed:
        return Account(gap, None, stack, None, None, None, rivals, unsuited)
    return Account(
        gap,
        place,
        stack,
        needed(job, gap) if place.takes_shims else None,
        aim,
        _serves(gap, stack, job),
        rivals,
        unsuited,
    )


def told_by_places(job: Job) -> set[str]:
    """The gaps whose account has no place: several move them, or something was in their own."""
    return {gap.name for gap in job.gaps if gap.name not in job.alone or job.place[gap.effects[0][0]].installed}


class _Rivals:
    """Finds the stacks around what a gap needs, and compares each with the plan."""

    def __init__(
        self,
        gap: Gap,
        job: Job,
        screening: Screening,
        stacks: Mapping[str, Stack],
        outcome: Outcome,
        supply: Mapping[int, int],
    ) -> None:
        self.gap, self.place, self.job, self.screening = gap, job.place[gap.effects[0][0]], job, screening
        self.stacks, self.outcome, self.supply = stacks, outcome, supply
        self.scale = Scale.of(job)
        self.usable = [i for i in screening.suits[self.place.name] if supply[i] > 0]
        self.sizes = [self.scale.ticks(job.stock[i].part.thickness.best) for i in self.usable]
        self.counts = [supply[i] for i in self.usable]

    def ladder(self, aim: Span | None) -> list[Rival]:
        """Nothing, what was in, the plan's stack, its neighbours, the best few that serve, the nearest that do not."""
        plan = self.stacks.get(self.place.name, ())
        wanted = {(), plan, self.place.installed}
        here = sum((self._ticks(i) for i in plan), 0)
        wanted |= {self._next_below(here), self._next_above(here)}
        if aim is not None:
            low = ceil(aim.least / self.scale.tick)
            high = None if aim.most is None else floor(aim.most / self.scale.tick)
            wanted |= set(self._serving(low, high))
            wanted |= {self._next_below(low), () if high is None else self._next_above(high)}
        if self.place.installed and self.place.fewest_pieces and plan:
            # a place that always holds one is never left empty
            wanted.discard(())
        rivals = [self._rival(stack, plan) for stack in wanted]
        return sorted(rivals, key=lambda rival: (rival.thickness.best, len(rival.stack), rival.stack))

    def _ticks(self, line: int) -> int:
        return self.scale.ticks(self.job.stock[line].part.thickness.best)

    def _between(self, low: int, high: int | None) -> list[Stack]:
        for most in range(self.place.most_pieces, 0, -1):
            try:
                found = stacks_between(self.sizes, self.counts, most, low, high, _MOST_LISTED)
            except TooManyError:
                continue
            return [tuple(self.usable[k] for k in stack) for stack in found]
        return []

    def _serving(self, low: int, high: int | None) -> list[Stack]:
        target = self.gap.window.target

        def merit(stack: Stack) -> tuple[int, Fraction, Stack]:
            after = after_with(self.job, self.gap, stack).best
            return len(stack), Fraction(0) if target is None else abs(after - target), stack

        return sorted(self._between(max(1, low), high), key=merit)[:_MOST_SERVING]

    def _next_above(self, ticks: int) -> Stack:
        """The thinnest stack thicker than this, () where there is none."""
        reach, top = max(1, min(self.sizes, default=1) // 4), max(self.sizes, default=0) * self.place.most_pieces
        while self.sizes and ticks < top:
            if found := self._between(ticks + 1, ticks + reach):
                return min(found, key=lambda s: (sum(map(self._ticks, s)), len(s), s))
            if ticks + reach > top:
                break
            reach *= 2
        return ()

    def _next_below(self, ticks: int) -> Stack:
        """The thickest stack thinner than this, () where there is none."""
        reach = max(1, min(self.sizes, default=1) // 4)
        while self.sizes and ticks > 0:
            if found := self._between(max(1, ticks - reach), ticks - 1):
                return min(found, key=lambda s: (-sum(map(self._ticks, s)), len(s), s))
            if reach > ticks:
                break
            reach *= 2
        return ()

    def _verdict(self, stack: Stack, after: Bracket) -> Verdict:
        gap = self.gap
        chance = None if gap.least_chance is None else chance_inside(self.job, gap, {self.place.name: stack})
        return verdict_of(after, gap.window, enough=enough_of(gap, chance))

    def _rival(self, stack: Stack, plan: Stack) -> Rival:
        thickness = thickness_of(stack, self.job.stock)
        after = after_with(self.job, self.gap, stack)
        found = Rival(stack, thickness, after, self._verdict(stack, after), off_by(after.best, self.gap.window))
        if found.verdict == "unproven":
            found = replace(found, chance=chance_inside(self.job, self.gap, {self.place.name: stack}))
        if stack == plan:
            return found
        if stack and len(stack) < self.place.fewest_pieces:
            return replace(found, too_few=True)
        used, back = Counter(chain.from_iterable(self.stacks.values())), Counter(plan)
        short = {i for i, n in Counter(stack).items() if n > self.supply[i] - used[i] + back[i]}
        if short:
            others = (name for name, other in self.stacks.items() if name != self.place.name and short & set(other))
            return replace(found, used_by=tuple(others))
        levels = levels_with(self.job, self.outcome, self.stacks, self.screening.cautions, self.place, stack)
        level = next((name for name in self.job.levels if levels[name] != self.outcome.levels[name]), None)
        if level is None:
            return found
        return replace(found, level=level, value=levels[level], planned=self.outcome.levels[level])


def _serves(gap: Gap, stack: Stack, job: Job) -> Span | None:
    """The best estimates of the reading for which this stack brings the gap inside."""
    window, moved = gap.window, gap.effects[0][1] * thickness_of(stack, job.stock).best
    low = Fraction(0) if window.min is None else window.min - moved
    return Span(low, None if window.max is None else window.max - moved)


def unsuited_parts(gap: Gap, job: Job, screening: Screening, supply: Mapping[int, int]) -> tuple[Unsuited, ...]:
    """The parts that alone would bring a gap inside by their thickness, but must not be fitted on its seat."""
    if len(gap.effects) != 1 or not off_by(gap.reading.bracket.best, gap.window):
        return ()
    return refused_parts(gap, job, screening, supply)


def refused_parts(gap: Gap, job: Job, screening: Screening, supply: Mapping[int, int]) -> tuple[Unsuited, ...]:
    """The same of a gap that one place moves, whatever it reads; in the order of the stock."""
    stopped = screening.stopped.get(gap.effects[0][0], {})
    thin_first, (least, most) = list(stopped), wanted(job, gap)

    def thick(line: int) -> Fraction:
        return job.stock[line].part.thickness.best

    start = 0 if least is None else bisect_left(thin_first, least, key=thick)
    end = len(thin_first) if most is None else bisect_right(thin_first, most, key=thick)
    return tuple(Unsuited(i, stopped[i]) for i in sorted(thin_first[start:end]) if supply[i] > 0)
