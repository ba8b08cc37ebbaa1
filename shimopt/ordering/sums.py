"""A whole-number model as arrays, its linear relaxation (HiGHS, by highspy), and bounds that hold exactly.

Rows read `sum of factor × variable <= limit`; columns stand in groups, and exactly one column of each group is 1. For
any prices that are not above zero on the rows, every answer costs at least

    sum of price × limit  +  per group the least priced cost of its columns  +  per helper its least priced cost

(weak duality; Lagrange). The prices come from the relaxation in floats and are rounded to whole parts of a unit; the
sum is worked out in whole numbers, so that the bound is true whatever the floats were. The same sum without any costs
shows that a model has no answer, where it comes out above zero. One thread, so that the same job gets the same order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import chain
from typing import NamedTuple

import highspy
import numpy as np
import numpy.typing as npt

from shimopt.choose.model import Row

__all__ = ["FINE", "NO_END", "Bound", "Range", "Relaxation", "Relaxed", "Sums"]

# prices are whole numbers of this part of a unit
FINE = 1 << 20
# a pack is accepted so near to whole; times a price of 1e6 coins that is far below one coin
_TOLERANCE = 1e-9
# beyond so many variables
_LARGE = 2_000
# above every value
NO_END = 1 << 62

Floats = npt.NDArray[np.float64]
Wholes = npt.NDArray[np.int64]


class Range(NamedTuple):
    """The least and the most of every variable, columns first, then helpers."""

    low: Wholes
    high: Wholes


class Bound(NamedTuple):
    """What no answer is below [parts of a unit], and each column's priced cost above the least of its group."""

    fine: int
    above: Wholes

    def rounded_up(self, unit: int) -> int:
        """The least multiple of `unit` that is not below the bound."""
        return min(NO_END, -(-self.fine // (FINE * unit)) * unit)


class Sums:
    """Rows as arrays; `starts` is the first column of each group, `columns` how many columns there are."""

    def __init__(self, groups: Sequence[Sequence[int]], variables: int, rows: Sequence[Row]) -> None:
        lengths = [len(group) for group in groups]
        self.columns, self.variables = sum(lengths), variables
        self.starts = np.cumsum([0, *lengths[:-1]]) if lengths else np.zeros(0, np.int64)
        self.group_of = np.repeat(np.arange(len(groups)), lengths)
        sizes = np.fromiter((len(row.terms) for row in rows), np.int64, len(rows))
        many = int(sizes.sum())
        self.at = np.fromiter(chain.from_iterable(row.terms for row in rows), np.int64, many)
        self.factors = np.fromiter(chain.from_iterable(row.terms.values() for row in rows), np.int64, many)
        self.row_of = np.repeat(np.arange(len(rows)), sizes)
        self.limits = np.array([row.limit for row in rows], np.int64)

    def and_held(self, rows: Sequence[Row]) -> Sums:
        """The same model with more rows."""
        more = Sums([], self.variables, rows)
        both = Sums.__new__(Sums)
        both.columns, both.variables = self.columns, self.variables
        both.starts, both.group_of = self.starts, self.group_of
        both.at = np.concatenate([self.at, more.at])
        both.factors = np.concatenate([self.factors, more.factors])
        both.row_of = np.concatenate([self.row_of, more.row_of + len(self.limits)])
        both.limits = np.concatenate([self.limits, more.limits])
        return both

    def terms(self, objective: Mapping[int, int]) -> Wholes:
        """A level's terms as an array."""
        found = np.zeros(self.variables, np.int64)
        found[list(objective)] = list(objective.values())
        return found

    def priced(self, objective: Wholes, prices: Wholes) -> Wholes:
        """What every variable costs beside what its rows' prices take off; whole numbers of any size."""
        size = np.bincount(self.at, np.abs(self.factors * prices[self.row_of].astype(float)), self.variables)
        kind = np.int64 if (size + np.abs(objective) * float(FINE)).max(initial=0.0) < NO_END else object
        costs = objective.astype(kind) * FINE
        np.subtract.at(costs, self.at, self.factors.astype(kind) * prices.astype(kind)[self.row_of])
        return costs

    def beside(self, costs: Wholes, prices: Wholes, within: Range) -> int:
        """What a bound owes to the limits of the rows and to the helpers at these priced costs [parts of a unit]."""
        # whole numbers of any size: there are few of them
        used, helpers = np.flatnonzero(prices), slice(self.columns, None)
        fine: int = sum(p * r for p, r in zip(prices[used].tolist(), self.limits[used].tolist(), strict=True))
        ends = zip(costs[helpers].tolist(), within.low[helpers].tolist(), within.high[helpers].tolist(), strict=True)
        fine += sum(cost * (low if cost > 0 else high) for cost, low, high in ends if cost)
        return fine

    def bound(self, objective: Wholes, prices: Wholes, within: Range) -> Bound | None:
        """The bound of these prices, none above zero; None where a group has no column left."""
        costs = self.priced(objective, prices)
        above = np.where(within.high[: self.columns] > 0, costs[: self.columns], NO_END)
        least = np.minimum.reduceat(above, self.starts) if len(self.starts) else above
        if (least == NO_END).any():
            return None
        fine = sum(map(int, least.tolist())) + self.beside(costs, prices, within)
        return Bound(fine, above - least[self.group_of] if len(self.starts) else above)


class Relaxed(NamedTuple):
    """Prices of the rows [whole parts of a unit], and every variable's value; None where there is no answer."""

    prices: Wholes
    values: Floats | None


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
        self.highs.passModel(lp)

    def proposed(self, whole: npt.NDArray[np.bool_], nodes: int, seconds: float | None) -> Floats | None:
        """Values that HiGHS's own search calls good, these `whole`: a proposal; None where it has none.

        It stops after so many nodes or seconds.
        """
        kinds, highs = highspy.HighsVarType, _quiet_highs()
        self.lp.integrality_ = [kinds.kInteger if must else kinds.kContinuous for must in whole[self.kept]]
        highs.setOptionValue("mip_max_nodes", nodes)
        highs.setOptionValue("mip_rel_gap", 0.0)
        highs.setOptionValue("mip_abs_gap", 0.5)
        # the relaxation is nearly whole: heuristics and starting over cost more than they save
        highs.setOptionValue("mip_heuristic_effort", 0.0)
        highs.setOptionValue("mip_allow_restart", False)
        highs.setOptionValue("mip_feasibility_tolerance", _TOLERANCE)
        if seconds is not None:
            highs.setOptionValue("time_limit", seconds)
        highs.passModel(self.lp)
        self.lp.integrality_ = []
        highs.run()
        if highs.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return None
        return self._spread(highs.getSolution().col_value)

    def _begun_by_interior_point(self) -> bool:
        """Prices of a large model are there sooner without a vertex; whether there are any."""
        self.highs.setOptionValue("solver", "ipm")
        self.highs.setOptionValue("run_crossover", "off")
        self.highs.run()
        self.highs.setOptionValue("solver", "choose")
        self.highs.setOptionValue("run_crossover", "on")
        return self.highs.getModelStatus() == highspy.HighsModelStatus.kOptimal

    def _spread(self, kept: Sequence[float]) -> Floats:
        values = np.zeros(self.sums.variables)
        values[self.kept] = kept
        return values

    def solved(self, within: Range) -> Relaxed | None:
        """Prices, and values where there are any; None where the solver has nothing to tell."""
        low, high = within.low[self.kept].astype(float), within.high[self.kept].astype(float)
        self.highs.changeColsBounds(len(self.kept), np.arange(len(self.kept), dtype=np.int32), low, high)
        if self.begun or len(self.kept) < _LARGE or not self._begun_by_interior_point():
            self.highs.run()
        self.begun = True
        status, first = self.highs.getModelStatus(), len(self.sums.starts)
        if status == highspy.HighsModelStatus.kOptimal:
            solution = self.highs.getSolution()
            return Relaxed(_whole(np.array(solution.row_dual)[first:]), self._spread(solution.col_value))
        if status == highspy.HighsModelStatus.kInfeasible:
            # highspy's stubs leave it out
            _, has_ray, ray = self.highs.getDualRay()  # type: ignore[attr-defined]
            if has_ray:
                return Relaxed(_whole(np.array(ray)[first:]), None)
        return None


def _quiet_highs() -> highspy._core._Highs:
    # not highspy.Highs(): that prints a line before it can be told not to
    highs = highspy._core._Highs()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    highs.setOptionValue("parallel", "off")
    return highs


def _whole(prices: Floats) -> Wholes:
    """Prices in whole parts of a unit; none is above zero, none so large that sums could leave 64 bits."""
    return np.clip(np.rint(prices * FINE), -float(1 << 60), 0).astype(np.int64)
