"""What the search asks of a solver: a linear relaxation's prices, and the best order in whole packs. HiGHS, by highspy.

Its answers are only proposals: prices become bounds in whole numbers, and purchases are worked out again. One thread,
and limits in search nodes, not seconds, so that the same job gives the same order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import chain
from typing import Any, NamedTuple, cast

import highspy
import numpy as np
import numpy.typing as npt

from shimopt.choose.model import Row
from shimopt.choose.quiet import quiet_stdout
from shimopt.ordering.program import Program

__all__ = ["Proposal", "Range", "Sums"]

_Floats = npt.NDArray[np.float64]

# a pack is accepted so near to whole; times a price of 1e6 coins that is far below one coin
_TOLERANCE = 1e-9


class Range(NamedTuple):
    """The least and the most of every variable, columns first, then helpers."""

    low: _Floats
    high: _Floats


class Proposal(NamedTuple):
    """A solver's answer: every variable, its own bound (a float: a hint, not a proof), and whether it calls it best.

    `values` None where it found nothing; `impossible` where it says that there is nothing.
    """

    values: _Floats | None
    bound: float | None
    best: bool
    impossible: bool = False


class Sums:
    """A program's rows as arrays: one column of each group, then all the others."""

    def __init__(self, program: Program, rows: Sequence[Row]) -> None:
        ones = [dict.fromkeys(group, 1) for group in program.groups]
        terms = [*ones, *(row.terms for row in rows)]
        lengths = np.fromiter(map(len, terms), np.int64, len(terms))
        many = int(lengths.sum())
        self.at = np.fromiter(chain.from_iterable(terms), np.int64, many)
        self.factors = np.fromiter(chain.from_iterable(t.values() for t in terms), np.float64, many)
        self.row_of = np.repeat(np.arange(len(terms)), lengths)
        self.groups = len(ones)
        self.limits = np.array([1.0] * len(ones) + [float(row.limit) for row in rows])
        self.lows = np.array([1.0] * len(ones) + [-highspy.kHighsInf] * len(rows))

    def prices(self, within: Range, objective: Mapping[int, int]) -> list[float] | None:
        """Prices of the rows in the linear relaxation; None where the solver has none to give."""
        for method in ({"solver": "ipm", "run_crossover": "off"}, {"solver": "simplex"}):
            solved = self._solved(within, objective, None, method)
            if solved is not None and solved.status == highspy.HighsModelStatus.kOptimal:
                prices = np.zeros(len(self.limits))
                prices[solved.rows] = solved.highs.getSolution().row_dual
                return cast(list[float], prices[self.groups :].tolist())
        return None

    def best(
        self,
        within: Range,
        objective: Mapping[int, int],
        unit: int,
        whole: npt.NDArray[np.bool_],
        *,
        nodes: int | None = None,
        below: int | None = None,
        presolve: bool = True,
    ) -> Proposal:
        """The best within these ranges, variables marked in `whole` whole, values multiples of `unit`.

        `below`: only what is better than this is of interest.
        """
        options: dict[str, Any] = {
            # values are whole numbers: what is less than one unit from the bound is at the bound
            "mip_rel_gap": 0.0,
            "mip_abs_gap": 0.5,
            "mip_feasibility_tolerance": _TOLERANCE,
            # the relaxation is nearly whole: heuristics and starting over cost more than they save
            "mip_heuristic_effort": 0.0,
            "mip_allow_restart": False,
            "presolve": "on" if presolve else "off",
        }
        if nodes is not None:
            options["mip_max_nodes"] = nodes
        if below is not None:
            # it need not be a multiple of the unit itself
            options["objective_bound"] = (below - 1) // unit + 0.5
        scaled = {at: factor / unit for at, factor in objective.items()}
        solved = self._solved(within, scaled, whole, options)
        if solved is None:
            return Proposal(None, None, best=False, impossible=True)
        statuses = highspy.HighsModelStatus
        if solved.status in (statuses.kInfeasible, statuses.kUnboundedOrInfeasible, statuses.kObjectiveBound):
            return Proposal(None, None, best=False, impossible=True)
        if solved.status == statuses.kModelEmpty:
            return Proposal(np.zeros(len(within.low)), 0.0, best=True)
        info = solved.highs.getInfo()
        values = None
        if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
            values = np.zeros(len(within.low))
            values[solved.columns] = solved.highs.getSolution().col_value
        return Proposal(values, info.mip_dual_bound * unit, best=solved.status == statuses.kOptimal)

    class _Solved(NamedTuple):
        highs: Any
        status: Any
        columns: npt.NDArray[np.int64]
        rows: npt.NDArray[np.int64]

    def _solved(
        self,
        within: Range,
        objective: Mapping[int, float],
        whole: npt.NDArray[np.bool_] | None,
        options: Mapping[str, Any],
    ) -> _Solved | None:
        """The solver after its work on what may be above zero; None where a group is left without a column."""
        columns = np.flatnonzero(within.high > 0)
        place = np.full(len(within.low), -1)
        place[columns] = np.arange(len(columns))
        there = place[self.at] >= 0
        lengths = np.bincount(self.row_of[there], minlength=len(self.limits))
        if not lengths[: self.groups].all():
            return None
        rows = np.flatnonzero(lengths)
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(columns), len(rows)
        costs = np.zeros(len(within.low))
        costs[list(objective)] = list(objective.values())
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = costs[columns], within.low[columns], within.high[columns]
        lp.row_lower_, lp.row_upper_ = self.lows[rows], self.limits[rows]
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.concatenate([[0], np.cumsum(lengths[rows])])
        lp.a_matrix_.index_, lp.a_matrix_.value_ = place[self.at[there]], self.factors[there]
        if whole is not None:
            kinds = highspy.HighsVarType
            lp.integrality_ = [kinds.kInteger if is_whole else kinds.kContinuous for is_whole in whole[columns]]
        with quiet_stdout():
            highs = highspy.Highs()  # type: ignore[no-untyped-call]  # highspy states no types here
            for name, value in {"output_flag": False, "threads": 1, "parallel": "off", **options}.items():
                highs.setOptionValue(name, value)
            highs.passModel(lp)
            highs.run()
        return self._Solved(highs, highs.getModelStatus(), columns, rows)
