"""A whole-number model as arrays, and bounds that hold exactly.

Rows read `sum of factor × variable <= limit`; columns stand in groups, and exactly one column of each group is 1. For
any prices that are not above zero on the rows, every answer costs at least

    sum of price × limit  +  per group the least priced cost of its columns  +  per helper its least priced cost

(weak duality; Lagrange). The prices come from the relaxation in floats and are rounded to whole parts of a unit; the
sum is worked out in whole numbers, so that the bound is true whatever the floats were. The same sum without any costs
shows that a model has no answer, where it comes out above zero.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import chain
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from shimopt.proof.rows import Row

# prices are whole numbers of this part of a unit
FINE = 1 << 20
# above every value
NO_END = 1 << 62

# above all whole numbers of any size that come up
_BEYOND = 1 << 400

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
    parts: int = FINE

    def too_dear(self, best: int) -> npt.NDArray[np.bool_]:
        """Which columns stand in no answer better than `best`."""
        room = (best - 1) * self.parts - self.fine
        return (self.above > (room if self.above.dtype == object else min(room, NO_END))).astype(bool)

    def rounded_up(self, unit: int) -> int:
        """The least multiple of `unit` that is not below the bound."""
        return min(NO_END, -(-self.fine // (self.parts * unit)) * unit)


class Sums:
    """Rows as arrays; `starts` is the first column of each group, `columns` how many columns there are.

    `parts` is how many parts of a unit a price is rounded to.
    """

    def __init__(self, groups: Sequence[Sequence[int]], variables: int, rows: Sequence[Row], parts: int = FINE) -> None:
        self.parts = parts
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
        """The same model with more rows, and prices as fine as its numbers ask for."""
        more = Sums([], self.variables, rows)
        both = Sums.__new__(Sums)
        both.parts = self.parts
        both.columns, both.variables = self.columns, self.variables
        both.starts, both.group_of = self.starts, self.group_of
        both.at = np.concatenate([self.at, more.at])
        both.factors = np.concatenate([self.factors, more.factors])
        both.row_of = np.concatenate([self.row_of, more.row_of + len(self.limits)])
        both.limits = np.concatenate([self.limits, more.limits])
        both.parts = both.parts_needed()
        return both

    def of_columns(self) -> Wholes:
        """By row and column, the factor."""
        table = np.zeros((len(self.limits), self.columns), np.int64)
        here = self.at < self.columns
        np.add.at(table, (self.row_of[here], self.at[here]), self.factors[here])
        return table

    def parts_needed(self) -> int:
        """How fine prices must be rounded, so that all roundings together stay far below one unit."""
        largest = max(np.abs(self.factors).max(initial=1), np.abs(self.limits).max(initial=1))
        return max(FINE, 1 << int(64 * (len(self.limits) + 1) * int(largest)).bit_length())

    def terms(self, objective: Mapping[int, int]) -> Wholes:
        """A level's terms as an array."""
        found = np.zeros(self.variables, np.int64)
        found[list(objective)] = list(objective.values())
        return found

    def priced(self, objective: Wholes, prices: Wholes) -> Wholes:
        """What every variable costs beside what its rows' prices take off; whole numbers of any size."""
        size = np.bincount(self.at, np.abs(self.factors * prices.astype(float)[self.row_of]), self.variables)
        # below half the end, differences of two costs stay below it too
        largest = (size + np.abs(objective) * float(self.parts)).max(initial=0.0)
        small = prices.dtype != object and self.parts < NO_END and largest < NO_END >> 1
        kind = np.int64 if small else object
        costs = objective.astype(kind) * self.parts
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
        costs, left = self.priced(objective, prices), within.high[: self.columns] > 0
        if len(self.starts) and not np.logical_or.reduceat(left, self.starts).all():
            return None
        above = np.where(left, costs[: self.columns], NO_END if costs.dtype != object else _BEYOND)
        least = np.minimum.reduceat(above, self.starts) if len(self.starts) else above
        fine = sum(map(int, least.tolist())) + self.beside(costs, prices, within)
        return Bound(fine, above - least[self.group_of] if len(self.starts) else above, self.parts)
