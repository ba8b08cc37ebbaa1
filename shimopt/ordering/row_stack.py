"""Which stack a row of a card fits, of those that serve its reading: the one that `plan` gives, other gaps as today.

All of them bring the gap surely inside, so the levels that are left decide: opened, pieces, cautions, spread, target
and so on in the job's order, then natural order. Between readings at which some gap or balance passes a limit these are
straight lines, so where one stack takes over from another is worked out exactly.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from shimopt.arithmetic import Outcome
from shimopt.arithmetic.clearance import Stack, change_of, opened, thickness_of
from shimopt.job import Balance, Job
from shimopt.ordering.coverage import Candidate
from shimopt.ordering.demand import Demand

Values = tuple[Fraction, ...]

# the levels that tell apart plans whose gaps are all surely inside with what is on hand
_LEFT = ("excess", "opened", "pieces", "cautions", "spread", "target")


@dataclass(frozen=True, slots=True)
class _Compared:
    """A balance as this gap meets it: the least and the most of its other members [nm], None where there are none."""

    balance: Balance
    others: tuple[Fraction, Fraction] | None

    def spread(self, own: Sequence[Fraction]) -> Fraction:
        """How uneven it is with the members that the gap or its place are [nm]."""
        values: list[Fraction] = [*own, *(self.others or ())]
        return max(values) - min(values)


class Preference:
    """Ranks the stacks of one demand by what a plan is judged by, at any final reading [nm].

    Parameters: job, the demand's; cautions, the stock lines that its place takes only with care; today, what the plan
    of today's readings does to the other gaps and places; None where there is none: then balances are not looked at.
    """

    def __init__(self, job: Job, demand: Demand, cautions: frozenset[int], today: Outcome | None) -> None:
        self.job, self.demand, self.cautions = job, demand, cautions
        kept = [] if today is None else [b for b in job.balances if _kept(job, demand, b, today)]
        self.balances = [_compared(demand, balance, today) for balance in kept if today is not None]
        self.moved, self.thick, self.still = cache(self._moved), cache(self._thick), cache(self._still)
        self.target = demand.gap.window.target
        bending = {"excess": any(c.balance.within is not None for c in self.balances), "spread": bool(self.balances)}
        bending["target"] = self.target is not None
        levels = [level for level in job.levels if level in _LEFT and bending.get(level, True)]
        first = next((n for n, level in enumerate(levels) if level in bending), len(levels))
        self.levels, self.fixed = tuple(levels), first

    def best(self, candidates: Sequence[Candidate], reading: Fraction) -> Candidate:
        """The stack that a plan would give at this reading, of some that serve it."""
        return min(candidates, key=lambda c: (self.values(c.stack, reading), c.stack))

    def stretches(
        self, candidates: Sequence[Candidate], start: Fraction, end: Fraction
    ) -> Iterator[tuple[Fraction, Fraction, Candidate]]:
        """The readings from .. to, cut where another stack is preferred; all of these serve all of them."""
        if len(candidates) == 1:
            yield start, end, candidates[0]
            return
        kinks = {start, end} | {at for c in candidates for at in self._kinks(c.stack) if start < at < end}
        ends = sorted(kinks)
        for low, high in zip(ends, ends[1:] or ends, strict=False):
            yield from self._between(candidates, low, high)

    def rank(self, stack: Stack) -> Values:
        """The levels at which it counts the same at every reading, before the first at which it does not."""
        return self.values(stack, self.demand.low)[: self.fixed]

    def values(self, stack: Stack, reading: Fraction) -> Values:
        """What the stack adds to each level that is not settled by being inside, in the job's order."""
        after, still = reading + self.moved(stack), self.still(stack)
        spreads = [(c.balance.within, c.spread(self._own(c.balance, stack, after))) for c in self.balances]
        return tuple(still[level] if level in still else self._bent(level, after, spreads) for level in self.levels)

    def _still(self, stack: Stack) -> dict[str, Fraction]:
        """The levels at which it counts the same at every reading."""
        taken = sum(i in self.cautions for i in stack)
        counts = {"opened": opened(self.demand.place, stack), "pieces": len(stack), "cautions": taken}
        return {level: Fraction(count) for level, count in counts.items()}

    def _bent(self, level: str, after: Fraction, spreads: Sequence[tuple[int | None, Fraction]]) -> Fraction:
        if level == "target":
            return abs(after - (self.target or 0))
        if level == "spread":
            return sum((spread for _, spread in spreads), Fraction(0))
        return sum((max(s - within, Fraction(0)) for within, s in spreads if within is not None), Fraction(0))

    def _between(
        self, candidates: Sequence[Candidate], low: Fraction, high: Fraction
    ) -> Iterator[tuple[Fraction, Fraction, Candidate]]:
        """The same where every value is a straight line."""
        middle = (low + high) / 2
        ranked = [(self.values(c.stack, middle), c) for c in candidates]
        here, best = min(ranked, key=lambda one: (one[0], one[1].stack))
        values = {at: self.values(best.stack, at) for at in (low, high)}
        for there, other in ranked:
            for at in (low, high):
                # who leads at the middle is behind at the end: the first level that tells them apart crosses between
                beyond = self.values(other.stack, at)
                for ours, theirs, ours_there, theirs_there in zip(here, there, values[at], beyond, strict=True):
                    ahead, behind = theirs - ours, ours_there - theirs_there
                    if ahead == behind == 0:
                        continue
                    if behind > 0:
                        cut = middle + (at - middle) * ahead / (ahead + behind)
                        if low < cut < high:
                            yield from self._between(candidates, low, cut)
                            yield from self._between(candidates, cut, high)
                            return
                    break
        yield low, high, best

    def _kinks(self, stack: Stack) -> Iterator[Fraction]:
        """The readings at which the stack's share of a level bends."""
        gap, moved = self.demand.gap, self.moved(stack)
        if self.target is not None:
            yield self.target - moved
        for compared in self.balances:
            if gap.name not in compared.balance.gaps or compared.others is None:
                continue
            (low, high), within = compared.others, compared.balance.within
            ends = [low, high] if within is None else [low, high, low + within, high - within]
            yield from (end + compared.balance.offset.get(gap.name, 0) - moved for end in ends)

    def _own(self, balance: Balance, stack: Stack, after: Fraction) -> list[Fraction]:
        """What the gap or its place put into a balance."""
        gap, place = self.demand.gap.name, self.demand.place.name
        own = [after - balance.offset.get(gap, 0)] if gap in balance.gaps else []
        return own + ([self.thick(stack) - balance.offset.get(place, 0)] if place in balance.places else [])

    def _moved(self, stack: Stack) -> Fraction:
        return self.demand.effect * change_of(self.demand.place, stack, self.job.stock).best

    def _thick(self, stack: Stack) -> Fraction:
        return thickness_of(stack, self.job.stock).best


def _kept(job: Job, demand: Demand, balance: Balance, today: Outcome) -> bool:
    """Whether a balance looks at this gap or its place, and no other gap behind it is outside."""
    behind = job.gaps_behind(balance)
    if demand.gap.name not in behind:
        return False
    return all(name == demand.gap.name or today.gaps[name].verdict != "outside" for name in behind)


def _compared(demand: Demand, balance: Balance, today: Outcome) -> _Compared:
    values = [today.gaps[n].after.best - balance.offset.get(n, 0) for n in balance.gaps if n != demand.gap.name]
    values += [
        today.thickness[name].best - balance.offset.get(name, 0) for name in balance.places if name != demand.place.name
    ]
    return _Compared(balance, (min(values), max(values)) if values else None)
