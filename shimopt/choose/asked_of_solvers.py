"""One level asked of the solvers, and proven without believing them: the way of jobs too large to try everything out.

HiGHS proposes; the proposal is worked out again in whole numbers. Prices of the relaxation give a bound that holds
exactly, and strike options for good. What stays open is searched by branching over halves of a place's options, where
every node's bound is exact again; where that does not come to an end, CP-SAT gives a second opinion.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import ceil, gcd
from typing import Literal, NamedTuple, Protocol

import numpy as np

from shimopt.choose.branching import Halving
from shimopt.choose.building import first_choice
from shimopt.choose.whole_model import Helper
from shimopt.proof.branch_and_bound import bound_of, closed
from shimopt.proof.exact_bounds import NO_END, Bound, Floats, Range, Sums, Wholes
from shimopt.proof.highs import Proposed, Relaxation
from shimopt.proof.layers import TooManyLeftError
from shimopt.proof.proven import Proof, proof_of
from shimopt.proof.room_in_rows import RoomInRows
from shimopt.proof.rows import Row
from shimopt.proof.second_solver import Opinion, second_opinion
from shimopt.watch import Watch

# as many search steps as the second solver takes in a unit of its effort, about a second
_STEPS_OF_EFFORT = 200
HowLong = Literal["to the end", "a look", "briefly"]
# in turn: nodes of the search whose bounds are exact, nodes of HiGHS (0: none), and units of the second's effort
_ROUNDS: dict[HowLong, Sequence[tuple[int, int, float]]] = {
    "to the end": ((100, 20, 1.0), (1_000, 200, 4.0), (4_000, 1_000, 20.0)),
    # of ties bounds say little, solvers tell sooner; and below a level that is not proven nothing is
    "a look": ((10, 20, 1.0),),
    # where another question can be put instead, if this one does not come to an end soon
    "briefly": ((25, 0, 0.0),),
}
# relaxations without helpers are tight: so many times as many nodes before a solver is asked
_TIGHT = 4
# nodes in which an answer as good as the bound is looked for, while most places are settled and then among all
_NODES_AT_FIRST, _NODES_AT_THE_BOUND = 60, 100
# first with so many places open, those that the relaxation tears and others; what it gives by so much it gives whole
_FREE, _WHOLE = (12, 36), 1 - 1e-6


class Space(Protocol):
    """What is asked about: groups of columns, one to be picked of each, helpers, rows, and how thick a column is."""

    @property
    def groups(self) -> Sequence[range]:
        """The columns of each group."""

    @property
    def helpers(self) -> Sequence[Helper]:
        """What follows from the columns."""

    @property
    def rows(self) -> Sequence[Row]:
        """What all of it keeps to."""

    @property
    def sizes(self) -> Sequence[int]:
        """By column, how thick it is."""


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
        if self.left < 0 or self.watch.over():
            return True
        self.watch.spend(1)
        return False


class Asking:
    """A model's rows as arrays, made once for all its levels."""

    def __init__(self, space: Space, watch: Watch) -> None:
        self.groups, self.watch = space.groups, watch
        self.columns = space.groups[-1].stop if space.groups else 0
        variables = self.columns + len(space.helpers)
        self.sums = Sums(space.groups, variables, space.rows)
        self.whole = np.array([True] * self.columns + [helper.whole for helper in space.helpers])
        self.low = np.array([0] * self.columns + [helper.low for helper in space.helpers], np.int64)
        self.ends = np.array([1] * self.columns + [helper.high for helper in space.helpers], np.int64)
        # thin and thick options of a place apart
        keys = space.sizes
        place_in = {key: number for number, key in enumerate(sorted(set(keys)))}
        self.rank = np.array([place_in[key] for key in keys], np.int64)

    def range(self, alive: Sequence[Sequence[int]]) -> Range:
        """The range of all variables with these columns left."""
        high = self.ends.copy()
        high[: self.columns] = 0
        high[[c for group in alive for c in group]] = 1
        return Range(self.low, high)

    def least(
        self,
        alive: Sequence[Sequence[int]],
        held: Sequence[Row],
        objective: Mapping[int, int],
        now: tuple[Sequence[int], int, int],
        value_of: Callable[[Sequence[int]], int | None],
        how_long: HowLong = "to the end",
    ) -> Found:
        """Bring a level down.

        Parameters: alive, the columns left; held, the rows of the levels above; now, the choice in hand with its value
        and a bound; value_of, a choice's exact value, None where it breaks a rule; how_long, of `_ROUNDS`.
        """
        unit, sums = gcd(*objective.values()), self.sums.and_held(held)
        terms = sums.terms({at: f // unit for at, f in objective.items()})
        chosen, value, bound = now
        with self.watch.half() as watch:
            question = _Question(self, watch, sums, terms, unit, value_of, held)
            within, rounds = self.range(alive), _ROUNDS[how_long]
            # the value in hand is never told lower than it is
            return question.answer(within, tuple(chosen), -(-value // unit), bound // unit, rounds)

    def bound(self, alive: Sequence[Sequence[int]], held: Sequence[Row], objective: Mapping[int, int]) -> Bound | None:
        """What nothing that keeps to the levels held is below, by the prices of the relaxation; None: nothing keeps."""
        sums, within = self.sums.and_held(held), self.range(alive)
        terms = sums.terms(objective)
        return bound_of(sums, terms, within, Relaxation(sums, terms, within))[0]


class _Question:
    """One level of one model: `objective` in units, `best` and `chosen` what was found so far."""

    # what is asked, of what, for how long, and how an answer is worked out: it is put in one place only
    def __init__(
        self,
        asking: Asking,
        watch: Watch,
        sums: Sums,
        objective: Wholes,
        unit: int,
        value_of: Callable[[Sequence[int]], int | None],
        held: Sequence[Row],
    ) -> None:
        self.asking, self.watch = asking, watch
        self.sums, self.objective, self.unit, self.value_of = sums, objective, unit, value_of
        self.held = held
        self.rooms = RoomInRows(sums, objective)
        self.chosen: tuple[int, ...] = ()
        self.best = NO_END

    def answer(
        self,
        within: Range,
        chosen: tuple[int, ...],
        value: int,
        bound: int,
        rounds: Sequence[tuple[int, int, float]],
    ) -> Found:
        """The least value that can be found and proven in this range."""
        self.chosen, self.best, watch = chosen, value, self.watch
        within = everything = self._left(within, None, value + 1)
        task = self._task(within)
        relaxation = Relaxation(self.sums, self.objective, within)
        root, values = task.bound_of(within, relaxation)
        if values is not None:
            self.read(values)
        if root is not None:
            bound = max(bound, min(self.best, root.rounded_up(1)))
            if rounds[0][0] >= _NODES_AT_THE_BOUND:
                bound = self._at_the_bound(within, root, bound, values)
        closed_at: int | None = None
        nothing_better = False
        for turn, (nodes, asks, effort) in enumerate(rounds):
            if bound >= self.best or nothing_better or watch.over():
                break
            within = self._left(within, root, self.best)
            if turn == 0 and self.sums.variables == self.sums.columns:
                nodes *= _TIGHT
            bound = max(bound, closed(self._task(within), self.best, _Nodes(nodes, watch)))
            if bound < self.best and turn == 0 and self._built_up(within):
                bound = self.best
            if bound < self.best and asks != 0 and closed_at != self.best and not watch.over():
                closed_at = self._searched(within, asks)
            if bound < self.best and closed_at is not None:
                nothing_better = self._nothing_better(within, effort)
        # of a value that is not the one in hand, the first has said nothing
        highs_closed = closed_at == self.best
        proof = proof_of(self.best, bound, closed=highs_closed, nothing_better=nothing_better)
        # what may stand in a choice as good as the one in hand
        kept = self._left(everything, root, self.best + 1)
        return Found(self.best * self.unit, min(bound, self.best) * self.unit, proof, self.chosen, self._lists(kept))

    def _at_the_bound(self, within: Range, root: Bound, bound: int, values: Floats | None) -> int:
        """Look for an answer that the bound just allows: little can stand in one. The bound, or the next above it."""
        # with helpers the bound is mostly far from what can be had
        if bound >= self.best or self.sums.variables > self.sums.columns:
            return bound
        near = self._left(within, root, bound + 1)
        for free in _FREE:
            if values is None or len(self.sums.starts) <= free:
                break
            part = self._mostly_settled(near, values, free)
            closed(self._task(part), bound + 1, _Nodes(_NODES_AT_FIRST, self.watch))
            if self.best <= bound:
                return bound
        if bound + 1 >= self.best:
            return bound
        return max(bound, closed(self._task(near), bound + 1, _Nodes(_NODES_AT_THE_BOUND, self.watch)))

    def _mostly_settled(self, near: Range, values: Floats, free: int) -> Range:
        """The range where most groups that the relaxation does not tear have what it gives them."""
        sums, high = self.sums, near.high.copy()
        whole = values[: sums.columns] > _WHOLE
        settled = np.flatnonzero(np.logical_or.reduceat(whole, sums.starts))
        others = max(0, free - len(sums.starts) + len(settled))
        settled = np.setdiff1d(settled, settled[:: max(1, len(settled) // others)][:others] if others else settled[:0])
        high[: sums.columns][np.isin(sums.group_of, settled) & ~whole] = 0
        return Range(near.low, high)

    def _built_up(self, within: Range) -> bool:
        """Whether all that is left was looked at: then the choice in hand is the best."""
        levels = [(self.sums.terms(row.terms), row.limit) for row in self.held] + [(self.objective, self.best - 1)]
        try:
            found = first_choice(self.sums, within, levels, self.objective[None])
        except TooManyLeftError:
            return False
        return found is None or self._worked_out(found) == int(self.objective[list(found)].sum())

    def _searched(self, within: Range, nodes: int) -> int | None:
        """Let HiGHS search for something better; the value of which it says that nothing is better, if of any."""
        watch = self.watch
        most = nodes if (left := watch.steps_left()) is None else min(nodes, left)
        relaxation = Relaxation(self.sums, self.objective, within)
        proposed = relaxation.searched(self.asking.whole, self._start(), most, watch.left())
        watch.spend(proposed.nodes)
        if proposed.values is not None:
            return _closed_at(proposed, self.read(proposed.values))
        # what is in hand was struck before; where it was not, to say that nothing is there contradicts it
        struck = bool((within.high[list(self.chosen)] == 0).any())
        return self.best if proposed.closed and struck else None

    def _nothing_better(self, within: Range, effort: float) -> bool:
        """Whether the second solver says so; what it finds better is taken, if it is."""
        watch, before = self.watch, NO_END
        while self.best < before and not watch.over():
            before, left = self.best, watch.steps_left()
            most = effort if left is None else min(effort, left / _STEPS_OF_EFFORT)
            opinion, found, spent = second_opinion(
                self.sums, self.objective, within, before, np.array(self.chosen), most, watch.left()
            )
            watch.spend(ceil(spent * _STEPS_OF_EFFORT))
            if found is None:
                return opinion is Opinion.NOTHING
            self.read(found.astype(float))
        return False

    def _task(self, within: Range) -> Halving:
        order = np.zeros(self.sums.variables, np.int64)
        order[: self.sums.columns] = 1
        return Halving(
            self.sums,
            self.objective,
            1,
            within,
            order,
            self.read,
            rank=self.asking.rank,
            rooms=self.rooms,
            worked_out=self._worked_out,
        )

    def _left(self, within: Range, bound: Bound | None, best: int) -> Range:
        """The range without columns that stand in no answer better than `best`: no column where there is none."""
        high = within.high.copy()
        if bound is not None:
            high[: self.sums.columns][bound.too_dear(best)] = 0
        left = self.rooms.left(Range(within.low, high), best - 1)
        if left is None:
            high[: self.sums.columns] = 0
        return left or Range(within.low, high)

    def _lists(self, within: Range) -> list[list[int]]:
        columns = np.flatnonzero(within.high[: self.sums.columns] > 0)
        kept = np.split(columns, np.searchsorted(self.sums.group_of[columns], np.arange(1, len(self.sums.starts))))
        chosen = set(self.chosen)
        return [
            sorted({*part.tolist(), *(chosen & set(group))})
            for part, group in zip(kept, self.asking.groups, strict=True)
        ]

    def _start(self) -> Floats:
        start = np.zeros(self.sums.variables)
        start[list(self.chosen)] = 1.0
        return start

    def read(self, values: Floats) -> int | None:
        """The value of the choice that values mean, the largest share of every place; kept where it is better."""
        shares = values[: self.sums.columns]
        chosen = [group.start + int(np.argmax(shares[group.start : group.stop])) for group in self.asking.groups]
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


# what a search is: a question in three parts, where it begins, and when it ends
def proposal(
    space: Space, rows: Sequence[Row], objective: Mapping[int, int], start: Sequence[int], near: int, limit: Watch
) -> tuple[int, ...] | None:
    """A choice that HiGHS finds within a limit, good enough within `near` of its best; None where it has none."""
    asking = Asking(space, limit)
    sums = Sums(space.groups, len(asking.whole), rows)
    within, begun = asking.range(space.groups), np.zeros(len(asking.whole))
    begun[list(start)] = 1.0
    relaxation = Relaxation(sums, sums.terms(objective), within)
    found = relaxation.searched(asking.whole, begun, limit.steps_left(), limit.left(), near + 0.999)
    limit.spend(found.nodes)
    if found.values is None:
        return None
    return tuple(group.start + int(np.argmax(found.values[group.start : group.stop])) for group in space.groups)
