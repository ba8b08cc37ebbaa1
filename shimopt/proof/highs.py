"""What HiGHS is asked (by highspy): the linear relaxation of a model, its own search for a good answer, and prices.

All of it is a proposal, in floats. One thread, and nothing printed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite
from typing import NamedTuple

import highspy
import numpy as np
import numpy.typing as npt

from shimopt.proof.exact_bounds import Floats, Range, Sums, Wholes

# a pack is accepted so near to whole; times a price of 1e6 coins that is far below one coin
_TOLERANCE = 1e-9
# beyond so many variables and rows
_LARGE, _MANY_ROWS = 2_000, 600
# as many pivots of the simplex method as a search step of ours takes
_PIVOTS = 100
# no price of a model is steeper
_STEEPEST = 1e60


class Relaxed(NamedTuple):
    """Prices of the rows [whole parts of a unit], and every variable's value; None where there is no answer."""

    prices: Wholes
    values: Floats | None


class Proposed(NamedTuple):
    """Values that the solver's own search found, if any, whether it says that nothing is better, what it says that they
    come to, and how many steps it took. Without values, `closed` says that it found nothing to be there at all.
    """

    values: Floats | None
    closed: bool
    value: float | None = None
    nodes: int = 0


class Relaxation:
    """The linear relaxation of a model within a range; it goes on from where it was when the range gets narrower."""

    def __init__(self, sums: Sums, objective: Wholes, within: Range) -> None:
        self.sums, self.kept = sums, np.flatnonzero(within.high > 0)
        place = np.full(sums.variables, -1)
        place[self.kept] = np.arange(len(self.kept))
        first, groups = len(sums.starts), np.flatnonzero(self.kept < sums.columns)
        rows = np.concatenate([sums.group_of[self.kept[groups]], sums.row_of + first])
        at = np.concatenate([groups, place[sums.at]])
        factors = np.concatenate([np.ones(len(groups)), sums.factors.astype(float)])
        there = at >= 0
        rows, at, factors = rows[there], at[there], factors[there]
        lengths = np.bincount(rows, minlength=first + len(sums.limits))
        self.lp = lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.kept), len(lengths)
        lp.col_cost_ = objective[self.kept].astype(float)
        lp.col_lower_, lp.col_upper_ = within.low[self.kept].astype(float), within.high[self.kept].astype(float)
        lp.row_lower_ = np.concatenate([np.ones(first), np.full(len(sums.limits), -highspy.kHighsInf)])
        lp.row_upper_ = np.concatenate([np.ones(first), sums.limits.astype(float)])
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.concatenate([[0], np.cumsum(lengths)])
        lp.a_matrix_.index_, lp.a_matrix_.value_ = at, factors
        self.begun = False
        self.highs = _quiet_highs()
        # to make such a model smaller takes longer than to solve it
        self.highs.setOptionValue("presolve", "off")
        self.highs.passModel(lp)

    def proposed(self, whole: npt.NDArray[np.bool_], nodes: int, seconds: float | None) -> Floats | None:
        """Values that HiGHS's own search calls good, these `whole`: a proposal; None where it has none.

        It stops after so many nodes or seconds.
        """
        # the relaxation is nearly whole: heuristics and starting over cost more than they save
        options = {"mip_abs_gap": 0.5, "mip_heuristic_effort": 0.0, "mip_allow_restart": False}
        return self._searched(whole, nodes, seconds, options).values

    def searched(
        self, whole: npt.NDArray[np.bool_], start: Floats, nodes: int | None, seconds: float | None, near: float = 0.999
    ) -> Proposed:
        """The best values that HiGHS's own search finds, these `whole`, from a start; within `near` is good enough."""
        options = {"mip_abs_gap": near, "primal_feasibility_tolerance": _TOLERANCE}
        return self._searched(whole, nodes, seconds, options, start)

    def _searched(
        self,
        whole: npt.NDArray[np.bool_],
        nodes: int | None,
        seconds: float | None,
        options: Mapping[str, float | bool],
        start: Floats | None = None,
    ) -> Proposed:
        kinds, highs = highspy.HighsVarType, _quiet_highs()
        if nodes is not None:
            highs.setOptionValue("mip_max_nodes", nodes)
        if seconds is not None:
            highs.setOptionValue("time_limit", seconds)
        highs.setOptionValue("mip_rel_gap", 0.0)
        highs.setOptionValue("mip_feasibility_tolerance", _TOLERANCE)
        for name, value in options.items():
            highs.setOptionValue(name, value)
        # a model of HiGHS is told by its fields; this one serves the next question without them
        self.lp.integrality_ = [kinds.kInteger if must else kinds.kContinuous for must in whole[self.kept]]
        highs.passModel(self.lp)
        self.lp.integrality_ = []  # see above
        if start is not None:
            # of helpers nothing is said: what they come to follows
            told = np.flatnonzero(self.kept < self.sums.columns).astype(np.int32)
            highs.setSolution(len(told), told, start[self.kept[told]])
        highs.run()
        status = highs.getModelStatus()
        closed = status in (highspy.HighsModelStatus.kOptimal, highspy.HighsModelStatus.kInfeasible)
        info = highs.getInfo()
        # a node may take many pivots, the first above all
        spent = max(1, info.mip_node_count, info.simplex_iteration_count // _PIVOTS)
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return Proposed(None, status == highspy.HighsModelStatus.kInfeasible, None, spent)
        return Proposed(self._spread(highs.getSolution().col_value), closed, info.objective_function_value, spent)

    def _begun_by_interior_point(self) -> bool:
        """Prices of a large model are there sooner without a vertex; whether there are any."""
        self.highs.setOptionValue("solver", "ipm")
        self.highs.setOptionValue("run_crossover", "off")
        self.highs.setOptionValue("presolve", "on")
        self.highs.run()
        self.highs.setOptionValue("solver", "choose")
        self.highs.setOptionValue("run_crossover", "on")
        self.highs.setOptionValue("presolve", "off")
        return self.highs.getModelStatus() == highspy.HighsModelStatus.kOptimal

    def _spread(self, kept: Sequence[float]) -> Floats:
        values = np.zeros(self.sums.variables)
        # what is no number, or without end, is nothing
        values[self.kept] = np.nan_to_num(kept, posinf=0.0, neginf=0.0)
        return values

    def solved(self, within: Range) -> Relaxed | None:
        """Prices, and values where there are any; None where the solver has nothing to tell."""
        low, high = within.low[self.kept].astype(float), within.high[self.kept].astype(float)
        self.highs.changeColsBounds(len(self.kept), np.arange(len(self.kept), dtype=np.int32), low, high)
        large = len(self.kept) >= _LARGE and self.lp.num_row_ >= _MANY_ROWS
        if self.begun or not large or not self._begun_by_interior_point():
            self.highs.run()
        self.begun = True
        status, first = self.highs.getModelStatus(), len(self.sums.starts)
        if status == highspy.HighsModelStatus.kOptimal:
            solution = self.highs.getSolution()
            return Relaxed(
                _whole(np.array(solution.row_dual)[first:], self.sums.parts), self._spread(solution.col_value)
            )
        if status == highspy.HighsModelStatus.kInfeasible:
            # highspy's stubs leave it out
            _, has_ray, ray = self.highs.getDualRay()  # type: ignore[attr-defined]
            if has_ray:
                return Relaxed(_whole(np.array(ray)[first:], self.sums.parts), None)
        return None


def _quiet_highs() -> highspy._core._Highs:
    # not highspy.Highs(): that prints a line before it can be told not to
    highs = highspy._core._Highs()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    highs.setOptionValue("parallel", "off")
    return highs


def _whole(prices: Floats, parts: int) -> Wholes:
    """Prices in whole parts of a unit, none above zero; as whole numbers of any size where 64 bits are too few."""
    # any price not above zero makes a true bound: one without end is cut off
    fine = np.rint(np.clip(np.nan_to_num(prices, posinf=0.0, neginf=0.0), -_STEEPEST, 0.0) * parts)
    if fine.min(initial=0.0) > -float(1 << 60):
        return fine.astype(np.int64)
    return np.array([int(price) for price in fine.tolist()], dtype=object)


def _numbers(values: Sequence[float]) -> list[float]:
    """What a solver says, nothing where that is no number."""
    return [value if isfinite(value) else 0.0 for value in values]


class Least(NamedTuple):
    """The least cost of a linear program, the prices of its rows and the values of its columns (floats: proposals)."""

    cost: float
    prices: list[float]
    values: list[float]


class LinearProgram:
    """Rows `sum of terms <= limit`, the first few with = in place of <=; columns from 0 up, added as they are found."""

    def __init__(self, limits: Sequence[float], *, equal: int) -> None:
        self.rows = [(limit if at < equal else -highspy.kHighsInf, limit) for at, limit in enumerate(limits)]
        self.columns: list[tuple[Mapping[int, int], int]] = []
        self.highs = self._begun()
        self.handed_over = 0

    def _begun(self) -> highspy._core._Highs:
        highs = _quiet_highs()
        for low, high in self.rows:
            highs.addRow(low, high, 0, np.zeros(0, np.int32), np.zeros(0))
        return highs

    def add_column(self, terms: Mapping[int, int], cost: int) -> None:
        """One more column: its terms by row, and its cost."""
        self.columns.append((terms, cost))

    def least(self) -> Least | None:
        """The least cost; the solver goes on from where it was. None where it has no answer, even begun anew."""
        for again in (True, False):
            if not again:
                # where it went on from may have been what it stumbled over
                self.highs, self.handed_over = self._begun(), 0
            self._hand_over()
            self.highs.run()
            if self.highs.getModelStatus() == highspy.HighsModelStatus.kOptimal:
                solution = self.highs.getSolution()
                cost = self.highs.getInfo().objective_function_value
                return Least(cost, _numbers(solution.row_dual), _numbers(solution.col_value))
        return None

    def _hand_over(self) -> None:
        new = self.columns[self.handed_over :]
        if not new:
            return
        starts = np.cumsum([0, *(len(terms) for terms, _ in new[:-1])]).astype(np.int32)
        rows = np.array([row for terms, _ in new for row in terms], np.int32)
        factors = np.array([float(factor) for terms, _ in new for factor in terms.values()])
        costs = np.array([float(cost) for _, cost in new])
        ends = np.zeros(len(new)), np.full(len(new), highspy.kHighsInf)
        self.highs.addCols(len(new), costs, *ends, len(rows), starts, rows, factors)
        self.handed_over = len(self.columns)


class RowPrices:
    """Rows `sum of terms <= limit` over variables between their ends, asked for prices of one cost after another."""

    def __init__(self, rows: Sequence[tuple[Mapping[int, float], float]], ends: Sequence[tuple[float, float]]) -> None:
        self.highs, self.costly = _quiet_highs(), list[int]()
        for low, high in ends:
            self.highs.addVar(low, high)
        for terms, limit in rows:
            of, factors = np.array(list(terms), np.int32), np.array(list(terms.values()), float)
            self.highs.addRow(-highspy.kHighsInf, limit, len(terms), of, factors)
        # it goes on from where it was
        self.highs.setOptionValue("presolve", "off")

    def at_least(self, cost: Mapping[int, float]) -> list[float]:
        """The prices of the rows at the least cost; none where the solver has none to tell."""
        for at in self.costly:
            self.highs.changeColCost(at, 0.0)
        self.costly = list(cost)
        for at, factor in cost.items():
            self.highs.changeColCost(at, factor)
        self.highs.run()
        if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return []
        return _numbers(self.highs.getSolution().row_dual)
