"""Bounds that hold exactly, and the options that they strike for good.

For any prices that are not above zero on rows `sum <= limit`, every choice costs at least

    sum of price × limit  +  per place the least priced cost of its options  +  per helper its least priced cost

(weak duality; Lagrange). The prices come from a linear program in floats, rounded to fractions of 2^40; the sum is then
worked out in whole numbers, so the bound is true whatever the floats were.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from shimopt.choose.model import Helper, Row

__all__ = ["Bound", "exact_bound", "left_over"]

# fine enough for prices of rows whose terms are millions of ticks
_FINE = 1 << 40


@dataclass(frozen=True, slots=True)
class Bound:
    """A true lower bound (in 2^-40 of a unit), and each column's priced cost above the least of its place."""

    fine: int
    above: dict[int, int]

    def rounded_up(self, unit: int) -> int:
        """The least multiple of `unit` that is not below the bound."""
        return -(-self.fine // (_FINE * unit)) * unit


class Numbered(Protocol):
    """A model: columns, and helpers numbered after them."""

    @property
    def columns(self) -> Sequence[object]:
        """All columns."""

    @property
    def helpers(self) -> Sequence[Helper]:
        """All helpers."""


def exact_bound(
    model: Numbered,
    alive: Sequence[Sequence[int]],
    rows: Sequence[Row],
    objective: Mapping[int, int],
    prices: Sequence[float],
) -> Bound:
    """The bound that these prices of the rows give; prices above zero are taken as zero."""
    priced: defaultdict[int, int] = defaultdict(int)
    fine = 0
    for row, price in zip(rows, prices, strict=True):
        whole = min(0, round(price * _FINE))
        if whole:
            fine += whole * row.limit
            for at, factor in row.terms.items():
                priced[at] += whole * factor
    above: dict[int, int] = {}
    for group in alive:
        cost = {c: objective.get(c, 0) * _FINE - priced.get(c, 0) for c in group}
        least = min(cost.values())
        fine += least
        above |= {c: value - least for c, value in cost.items()}
    for at, helper in enumerate(model.helpers, start=len(model.columns)):
        cost_of_helper = objective.get(at, 0) * _FINE - priced.get(at, 0)
        fine += min(cost_of_helper * helper.low, cost_of_helper * helper.high)
    return Bound(fine, above)


def left_over(alive: Sequence[Sequence[int]], bound: Bound, value: int) -> list[list[int]]:
    """The options that a choice of this value may still hold: the others cost more than the value allows."""
    room = value * _FINE - bound.fine
    return [[c for c in group if bound.above[c] <= room] for group in alive]
