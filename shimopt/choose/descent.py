"""Level after level: prove a level best, hold it, strike what can no longer be chosen, go on to the next."""

from __future__ import annotations

from collections.abc import Sequence
from math import gcd, isfinite
from time import monotonic
from typing import NamedTuple

from shimopt.choose.bounds import exact_bound, left_over
from shimopt.choose.model import Model, Row
from shimopt.choose.solver import Answer, Solver, propose, relaxed_prices
from shimopt.watch import Watch

__all__ = ["Descent", "Step"]


class Step(NamedTuple):
    """A level's value and bound in whole numbers, and whether they meet under proven levels."""

    level: str
    value: int
    bound: int | None
    proven: bool
    seconds: float


class Descent:
    """A choice that gets better level by level.

    `chosen` is one column per place, at first `start`, or nothing anywhere.
    """

    def __init__(
        self,
        model: Model,
        watch: Watch | None = None,
        start: Sequence[int] | None = None,
    ) -> None:
        self.model, self.watch = model, watch or Watch()
        self.alive: list[list[int]] = [list(group) for group in model.groups]
        self.rows: list[Row] = list(model.rows)
        self.chosen: tuple[int, ...] = tuple(group[0] for group in model.groups) if start is None else tuple(start)
        self.held: list[tuple[str, int]] = []
        self.all_proven = True

    def level(self, name: str) -> Step:
        """Bring one level to its least value and hold it there."""
        start = monotonic()
        self.watch.begins(name)
        objective = {at: f for at, f in self.model.levels[name].items() if f}
        value, least = self._least(name, objective)
        # a bound means nothing below a level that is itself not proven
        bound = least if self.all_proven else None
        self.all_proven = bound == value
        self.hold(name, value)
        return Step(name, value, bound, self.all_proven, monotonic() - start)

    def hold(self, name: str, value: int) -> None:
        """From now on a level may not be above this value; the present choice must keep to it."""
        self.held.append((name, value))
        if objective := {at: f for at, f in self.model.levels[name].items() if f}:
            self.rows.append(Row(objective, value))

    def _least(self, name: str, objective: dict[int, int]) -> tuple[int, int]:
        """The level's value and a bound; `chosen` and `alive` are brought down with it."""
        model = self.model
        value = model.value_of(name, self.chosen)
        if not objective:
            return value, value
        unit = gcd(*objective.values())
        over = self.watch.over()
        # without prices: every place at its own least
        bound = exact_bound(model, self.alive, [], objective, [])
        if bound.rounded_up(unit) < value and not over:
            prices = relaxed_prices(model, self.alive, self.rows, objective)
            if prices is not None:
                bound = max(bound, exact_bound(model, self.alive, self.rows, objective, prices), key=lambda b: b.fine)
        proven_at = bound.rounded_up(unit)
        if proven_at < value and not over:
            value, proven_at = self._searched(name, objective, unit, value, proven_at)
        # the present choice costs no more than its own value, so none of its options is struck
        self.alive = left_over(self.alive, bound, value)
        return value, proven_at

    def _searched(self, name: str, objective: dict[int, int], unit: int, value: int, bound: int) -> tuple[int, int]:
        """Value and bound after asking the solvers in turn.

        A solver is not believed whose choice is not allowed, whose bound is above a choice that there is, or that calls
        best what its own bound does not say to be best.
        """
        for solver in Solver:
            found = propose(self.model, self.alive, self.rows, objective, unit, self.chosen, self.watch, solver)
            if found.answer is Answer.NONE or not self._holds(found.chosen):
                continue
            new = self.model.value_of(name, found.chosen)
            if new <= value:
                value, self.chosen = new, found.chosen
            whole_bound = _rounded_up(found.bound, unit)
            if whole_bound is None or whole_bound > value:
                continue
            if found.answer is Answer.BEST and whole_bound < value:
                continue
            return value, min(value, max(bound, whole_bound))
        return value, bound

    def _holds(self, chosen: Sequence[int]) -> bool:
        """Whether a proposal keeps within the stock, the ties and every level held so far, in exact numbers."""
        return (
            not self.model.short_of(chosen)
            and self.model.ties.hold(self.model, chosen)
            and all(self.model.value_of(level, chosen) <= value for level, value in self.held)
        )

    def settle_ties(self, order: Sequence[int]) -> None:
        """Among equals, place by place in job order, the stack whose parts come first in natural order."""
        for at in order:
            if self.watch.over():
                return
            group = self.alive[at]
            ranked = sorted(group, key=lambda c: self.model.columns[c].stack)
            rank = {c: r for r, c in enumerate(ranked)}
            if rank[self.chosen[at]] > 0:
                earlier = [c for c in ranked if rank[c] <= rank[self.chosen[at]]]
                self.alive[at] = earlier
                self._earliest(at, rank)
            self.alive[at] = [self.chosen[at]]

    def _earliest(self, at: int, rank: dict[int, int]) -> None:
        objective = {c: rank[c] for c in self.alive[at] if rank[c]}
        for solver in Solver:
            found = propose(self.model, self.alive, self.rows, objective, 1, self.chosen, self.watch, solver)
            if found.answer is not Answer.BEST or not self._holds(found.chosen):
                continue
            now = rank[found.chosen[at]]
            if now <= rank[self.chosen[at]] and _rounded_up(found.bound, 1) == now:
                self.chosen = found.chosen
                return


def _rounded_up(bound: float | None, unit: int) -> int | None:
    """The least multiple of `unit` that a solver's bound allows, its float taken with a pinch of salt."""
    if bound is None or not isfinite(bound):
        return None
    return -int((unit * 1e-4 + abs(bound) * 1e-9 - bound) // unit) * unit
