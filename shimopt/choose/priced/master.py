"""The linear program that mixes what pricing found: whole choices of groups of clusters, within supply and held levels.

A row per cluster would make it the bottleneck. With a row per group of clusters it stays small however many clusters
there are, and all but a few groups still take one of their choices whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from shimopt.choose.priced.tables import Ints
from shimopt.choose.quiet import quiet_stdout

__all__ = ["Master", "Mixed"]

Floats = npt.NDArray[np.float64]

# a level held where the plan stands leaves floats no room: so much more may go into a mix, which is no plan anyway
_ROOM = 1e-5
# weights below are nothing but what floats leave
_NOTHING = 1e-7


@dataclass(frozen=True, slots=True)
class Mixed:
    """The best mix: its value, the prices of the limits (none below 0), and what it mixes: by group, the numbers of
    its choices and their weights. Floats, so all of it is a proposal.
    """

    value: float
    prices: Floats
    taken: tuple[tuple[tuple[int, float], ...], ...]


class Master:
    """Columns are choices of one group each: what they take of every limit, and what they cost."""

    def __init__(self, groups: int, limits: Sequence[int]) -> None:
        from ortools.math_opt.python import mathopt

        self.model = mathopt.Model()
        self.convex = [self.model.add_linear_constraint(lb=1.0, ub=1.0) for _ in range(groups)]
        self.limits = [self.model.add_linear_constraint(ub=float(limit) + _ROOM) for limit in limits]
        self.variables: list[Any] = []
        self.of: list[tuple[int, int]] = []
        self.seen: set[tuple[int, ...]] = set()
        self.solver: Any = None

    def add(self, number: int, takes: Ints, costs: Ints, groups: Sequence[int] | None = None) -> None:
        """Choice `number` of all groups, or of these: by group, what it takes of the limits, and its cost."""
        set_cost = self.model.objective.set_linear_coefficient
        listed, prices = takes.tolist(), costs.tolist()
        for group in range(len(self.convex)) if groups is None else groups:
            key = (group, prices[group], *listed[group])
            if key in self.seen:
                continue
            self.seen.add(key)
            variable = self.model.add_variable(lb=0.0)
            self.convex[group].set_coefficient(variable, 1.0)
            for limit, taken in zip(self.limits, listed[group], strict=True):
                if taken:
                    limit.set_coefficient(variable, float(taken))
            if prices[group]:
                set_cost(variable, float(prices[group]))
            self.variables.append(variable)
            self.of.append((group, number))

    def mixed(self) -> Mixed | None:
        """The best mix of the columns; None where the solver has none to give."""
        from ortools.math_opt.python import mathopt

        result = None
        for solver in (mathopt.SolverType.GLOP, mathopt.SolverType.GLOP, mathopt.SolverType.HIGHS):
            result = self._solved(solver)
            if result is not None:
                break
            # anew: where it went on from may have been what it stumbled over
            self.solver = None
        if result is None:
            return None
        prices = np.maximum(0.0, -np.array(result.dual_values(self.limits)))
        taken: list[list[tuple[int, float]]] = [[] for _ in self.convex]
        for (group, number), weight in zip(self.of, result.variable_values(self.variables), strict=True):
            if weight > _NOTHING:
                taken[group].append((number, weight))
        return Mixed(result.objective_value(), prices, tuple(map(tuple, taken)))

    def _solved(self, kind: Any) -> Any:
        from ortools.math_opt.python import mathopt

        try:
            with quiet_stdout():
                if kind == mathopt.SolverType.HIGHS:
                    result = mathopt.solve(self.model, kind)
                else:
                    if self.solver is None:
                        self.solver = mathopt.IncrementalSolver(self.model, kind)
                    result = self.solver.solve()
        except Exception:  # ortools 9.15 turns what goes wrong inside a solver into errors of no one type
            return None
        good = result.termination.reason == mathopt.TerminationReason.OPTIMAL and result.has_dual_feasible_solution()
        return result if good else None
