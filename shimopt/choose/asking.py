"""One level asked of the solvers, and proven without believing them: the way of jobs too large to try everything out.

HiGHS proposes; the proposal is worked out again in whole numbers. Prices of the relaxation give a bound that holds
exactly, and strike options for good. What stays open is searched by branching over halves of a place's options, where
every node's bound is exact again; where that does not come to an end, CP-SAT gives a second opinion.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import gcd
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from shimopt.choose.model import Model
from shimopt.proof.highs import Proposed, Relaxation
from shimopt.proof.proven import Proof, proof_of
from shimopt.proof.rows import Row
from shimopt.proof.search import Closing, closed
from shimopt.proof.second import Opinion, second_opinion
from shimopt.proof.sums import NO_END, Bound, Floats, Range, Sums, Wholes
from shimopt.watch import Watch

__all__ = ["Asking", "Found", "proposal"]

# nodes in which HiGHS is asked for a good choice; the rest of its search is only worth it where ours is not enough
_NODES_TO_PROPOSE = 20
# in turn: nodes of the search whose bounds are exact, and effort of the second opinion, in units of about a second
_ROUNDS = ((1_000, 4.0), (6_000, 40.0))
# a share of a place's options so near to none is none
_TORN = 1e-6


class Found(NamedTuple):
    """A level's value and bound, how far it is proven, the choice, and the columns that are left."""

    value: int
    bound: int
    proof: Proof
    chosen: tuple[int, ...]
    alive: list[list[int]]


class _Nodes:
    """So many nodes at most, and not beyond what the watch allows."""

    def __init__(self, nodes: int, watch: Watch) -> None:
        self.left, self.watch = nodes, watch

    def over(self) -> bool:
        """Whether to stop here."""
        self.left -= 1
        return self.left < 0 or self.watch.over()


@dataclass(frozen=True)
class _Halving(Closing):
    """Branches over a place's options: cheap ones and dear ones apart, then thin and thick ones.

    `rank` is where an option stands from thin to thick.
    """

    rank: Wholes | None = None
    worked_out: Callable[[Sequence[int]], int | None] | None = None

    def split(self, here: Range, values: Floats | None) -> tuple[Range, Range] | None:
        """Two ranges, each with some of the options of the place that the relaxation tears most.

        What costs more at this level is parted from what costs less as long as any place is torn between such: once all
        that is settled the level's value stands, and mostly prices show that there is no such answer.
        """
        sums = self.sums
        left = here.high[: sums.columns] > 0
        counts = np.add.reduceat(left, sums.starts)
        if (counts <= 1).all():
            return None
        shares = left / counts[sums.group_of] if values is None else np.where(left, values[: sums.columns], 0.0)
        columns, at = self._by_cost(left, shares) or self._by_rank(left, counts, shares)
        parts = []
        for out in (columns[at:], columns[:at]):
            high = here.high.copy()
            high[out] = 0
            parts.append(Range(here.low, high))
        first, second = parts
        return (first, second) if shares[columns[:at]].sum() >= 0.5 else (second, first)

    def _by_cost(self, left: npt.NDArray[np.bool_], shares: Floats) -> tuple[Wholes, int] | None:
        """The options of the place whose cost is most torn, cheap ones first, and how many are; None: none is torn."""
        sums, cost = self.sums, self.objective[: self.sums.columns]
        least = np.minimum.reduceat(np.where(left, cost, NO_END), sums.starts)
        cheap = np.add.reduceat(np.where(cost <= least[sums.group_of], shares, 0.0), sums.starts)
        torn = np.where(np.add.reduceat(shares, sums.starts) - cheap > _TORN, np.abs(cheap - 0.5), 1.0)
        torn[cheap < _TORN] = 1.0
        group = int(np.argmin(torn))
        if torn[group] >= 1.0:
            return None
        columns = np.flatnonzero(left & (sums.group_of == group))
        columns = columns[np.argsort(cost[columns], kind="stable")]
        return columns, int((cost[columns] == least[group]).sum())

    def _by_rank(self, left: npt.NDArray[np.bool_], counts: Wholes, shares: Floats) -> tuple[Wholes, int]:
        """The options of the place that is most torn, from thin to thick, and where to part them."""
        sums = self.sums
        most = np.maximum.reduceat(shares, sums.starts)
        group = int(np.argmin(np.where(counts > 1, most, 2.0)))
        columns = np.flatnonzero(left & (sums.group_of == group))
        if self.rank is not None:
            columns = columns[np.argsort(self.rank[columns], kind="stable")]
        weights = np.cumsum(shares[columns])
        at = int(np.searchsorted(weights, weights[-1] / 2)) + 1
        return columns, min(max(at, 1), len(columns) - 1)

    def settled(self, here: Range, least: int) -> int:
        """One option is left of every place: that choice, worked out; `least` where it says nothing."""
        if self.worked_out is None:
            return least
        value = self.worked_out(np.flatnonzero(here.high[: self.sums.columns] > 0).tolist())
        return NO_END if value is None else value


class Asking:
    """A model's rows as arrays, made once for all its levels."""

    def __init__(self, model: Model, watch: Watch) -> None:
        self.model, self.watch = model, watch
        variables = len(model.columns) + len(model.helpers)
        self.sums = Sums(model.groups, variables, model.rows)
        self.whole = np.array([True] * len(model.columns) + [helper.whole for helper in model.helpers])
        self.low = np.array([0] * len(model.columns) + [helper.low for helper in model.helpers], np.int64)
        self.ends = np.array([1] * len(model.columns) + [helper.high for helper in model.helpers], np.int64)
        # thin and thick options of a place apart
        keys = [(option.best if option.change is None else option.change[1]) for option in model.columns]
        place_in = {key: number for number, key in enumerate(sorted(set(keys)))}
        self.rank = np.array([place_in[key] for key in keys], np.int64)

    def range(self, alive: Sequence[Sequence[int]]) -> Range:
        """The range of all variables with these columns left."""
        high = self.ends.copy()
        high[: len(self.model.columns)] = 0
        high[[c for group in alive for c in group]] = 1
        return Range(self.low, high)

    def least(
        self,
        alive: Sequence[Sequence[int]],
        held: Sequence[Row],
        objective: Mapping[int, int],
        now: tuple[Sequence[int], int, int],
        value_of: Callable[[Sequence[int]], int | None],
    ) -> Found:
        """Bring a level down.

        Parameters: alive, the columns left; held, the rows of the levels above; now, the choice in hand with its value
        and a bound; value_of, a choice's exact value, None where it breaks a rule.
        """
        unit = gcd(*objective.values())
        sums = self.sums.and_held(held, fine=True)
        question = _Question(self, sums, sums.terms({at: f // unit for at, f in objective.items()}), unit, value_of)
        chosen, value, bound = now
        return question.answer(self.range(alive), tuple(chosen), value // unit, bound // unit)


class _Question:
    """One level of one model: `objective` in units, `best` and `chosen` what was found so far."""

    def __init__(
        self,
        asking: Asking,
        sums: Sums,
        objective: Wholes,
        unit: int,
        value_of: Callable[[Sequence[int]], int | None],
    ) -> None:
        self.asking, self.sums, self.objective, self.unit, self.value_of = asking, sums, objective, unit, value_of
        self.chosen: tuple[int, ...] = ()
        self.best = NO_END

    def answer(self, within: Range, chosen: tuple[int, ...], value: int, bound: int) -> Found:
        """The least value that can be found and proven in this range."""
        self.chosen, self.best = chosen, value
        watch, everything = self.asking.watch, within
        task = self._task(within)
        relaxation = Relaxation(self.sums, self.objective, within)
        root, values = task.bound_of(within, relaxation)
        if values is not None:
            self.read(values)
        if root is not None:
            bound = max(bound, min(self.best, root.rounded_up(1)))
        closed_at: int | None = None
        if bound < self.best and not watch.over():
            closed_at = self._searched(relaxation, _NODES_TO_PROPOSE)
        nothing_better = False
        for nodes, effort in _ROUNDS:
            if bound >= self.best or nothing_better or watch.over():
                break
            within = self._left(within, root, self.best)
            bound = max(bound, closed(self._task(within), self.best, _Nodes(nodes, watch)))
            if bound < self.best and closed_at != self.best and not watch.over():
                closed_at = self._searched(relaxation, watch.steps)
            if bound < self.best and closed_at is not None:
                nothing_better = self._nothing_better(within, effort)
        # of a value that is not the one in hand, the first has said nothing
        highs_closed = closed_at == self.best
        proof = proof_of(self.best, bound, closed=highs_closed, nothing_better=nothing_better)
        # what may stand in a choice as good as the one in hand
        kept = self._left(everything, root, self.best + 1)
        return Found(self.best * self.unit, min(bound, self.best) * self.unit, proof, self.chosen, self._lists(kept))

    def _searched(self, relaxation: Relaxation, nodes: int | None) -> int | None:
        """Let HiGHS search for something better; the value of which it says that nothing is better, if of any."""
        watch = self.asking.watch
        most = nodes if watch.steps is None or nodes is None else min(nodes, watch.steps)
        proposed = relaxation.searched(self.asking.whole, self._start(), most, watch.left())
        return None if proposed.values is None else _closed_at(proposed, self.read(proposed.values))

    def _nothing_better(self, within: Range, effort: float) -> bool:
        """Whether the second solver says so; what it finds better is taken, if it is."""
        watch, before = self.asking.watch, NO_END
        while self.best < before and not watch.over():
            before = self.best
            opinion, found = second_opinion(
                self.sums, self.objective, within, before, np.array(self.chosen), effort, watch.left()
            )
            if found is None:
                return opinion is Opinion.NOTHING
            self.read(found.astype(float))
        return False

    def _task(self, within: Range) -> _Halving:
        order = np.zeros(self.sums.variables, np.int64)
        order[: self.sums.columns] = 1
        return _Halving(
            self.sums, self.objective, 1, within, order, self.read, rank=self.asking.rank, worked_out=self._worked_out
        )

    def _left(self, within: Range, bound: Bound | None, best: int) -> Range:
        if bound is None:
            return within
        high = within.high.copy()
        high[: self.sums.columns][bound.too_dear(best)] = 0
        return Range(within.low, high)

    def _lists(self, within: Range) -> list[list[int]]:
        columns = np.flatnonzero(within.high[: self.sums.columns] > 0)
        kept = np.split(columns, np.searchsorted(self.sums.group_of[columns], np.arange(1, len(self.sums.starts))))
        chosen = set(self.chosen)
        return [
            sorted({*part.tolist(), *(chosen & set(group))})
            for part, group in zip(kept, self.asking.model.groups, strict=True)
        ]

    def _start(self) -> Floats:
        start = np.zeros(self.sums.variables)
        start[list(self.chosen)] = 1.0
        return start

    def read(self, values: Floats) -> int | None:
        """The value of the choice that values mean, the largest share of every place; kept where it is better."""
        shares = values[: self.sums.columns]
        chosen = [group.start + int(np.argmax(shares[group.start : group.stop])) for group in self.asking.model.groups]
        return self._worked_out(chosen)

    def _worked_out(self, chosen: Sequence[int]) -> int | None:
        value = self.value_of(chosen)
        if value is None:
            return None
        value = -(-value // self.unit)
        if value < self.best:
            self.best, self.chosen = value, tuple(chosen)
        return value


def _closed_at(proposed: Proposed, worked_out: int | None) -> int | None:
    """The value that HiGHS calls best, where its answer, worked out, is what it says."""
    if not proposed.closed or worked_out is None:
        return None
    right = proposed.value is None or abs(proposed.value - worked_out) < 0.5
    return worked_out if right else None


def proposal(
    model: Model, rows: Sequence[Row], objective: Mapping[int, int], start: Sequence[int], nodes: int, near: int
) -> tuple[int, ...] | None:
    """A choice that HiGHS finds within so many nodes, good enough within `near` of its best; None where it has none."""
    asking = Asking(model, Watch())
    sums = Sums(model.groups, len(asking.whole), rows)
    within, begun = asking.range(model.groups), np.zeros(len(asking.whole))
    begun[list(start)] = 1.0
    relaxation = Relaxation(sums, sums.terms(objective), within)
    values = relaxation.searched(asking.whole, begun, nodes, None, near + 0.999).values
    if values is None:
        return None
    return tuple(group.start + int(np.argmax(values[group.start : group.stop])) for group in model.groups)
