"""Large markets: an order is looked for among few sizes first, then among all that could be part of one as good.

Of 200 sizes three at a time make a million stacks, and hardly any of them is part of a cheap order. So the cheapest
sizes are looked at alone; what that costs is a budget, and stacks are left out that stand in no order as good, by the
prices of relaxations (`large_market_bound.py`). What is left out so is left out rightly, and the order found among the
rest is the best of all. Where the rest is still too much, the order stays the best of the sizes looked at, with a bound
that holds for all (`large_market_search.py`).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import cached_property

import numpy as np
import numpy.typing as npt

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import Scale
from shimopt.ordering.coverage import Sizes
from shimopt.ordering.demand import Demand
from shimopt.ordering.market import Buy, Market
from shimopt.parts import StockLine

# so many sizes are looked at first, and then twice as many as long as it pays
FEW = 30
# fewer sizes on offer than this are looked at all at once
_LARGE = 60
_MOST_PIECES = 3

_Numbers = npt.NDArray[np.int64]
_Bools = npt.NDArray[np.bool_]


def is_large(market: Market, demands: Sequence[Demand]) -> bool:
    """Whether it pays to look at few sizes first: many are on offer, all with a price, for plain places."""
    plain = all(
        demand.place.most_pieces <= _MOST_PIECES
        and not demand.place.installed
        and demand.effect < 0
        and set(demand.moves) == {Fraction(1)}
        for demand in demands
    )
    sold = {buy.line for buy in market.buys}
    return bool(demands) and plain and len(sold) > _LARGE and all(b.offer.price is not None for b in market.buys)


class Narrowed:
    """All stacks of up to three pieces, as arrays.

    Parameters: there, how many pieces of each line cost nothing.
    """

    def __init__(
        self, demands: Sequence[Demand], stock: Sequence[StockLine], there: Sequence[int], market: Market, scale: Scale
    ) -> None:
        self.demands, self.market, self.there, self.scale = demands, market, there, scale
        self.sizes = [Sizes(demand, stock, scale) for demand in demands]
        self.buys: dict[int, list[Buy]] = {}
        for buy in market.buys:
            self.buys.setdefault(buy.line, []).append(buy)
        wanted = {line for demand in demands for line in demand.usable}
        thick = {line: size for sizes in self.sizes for line, size in sizes.thick.items()}
        # what is thicker than any gap takes is in no stack
        thickest = max(scale.ticks(d.high) - s.first for d, s in zip(demands, self.sizes, strict=True))
        wanted = {line for line in wanted if thick[line] <= thickest}
        self.lines = [line for line in sorted(wanted) if there[line] or line in self.buys]
        thin = {line: size for sizes in self.sizes for line, size in sizes.thin.items()}
        self.rows, self.pieces = _multisets(len(self.lines))
        self.thick = self._sum([thick[line] for line in self.lines])
        self.thin = self._sum([thin[line] for line in self.lines])
        self.can_be_had = self._can_be_had()
        self._suiting: dict[tuple[int, ...], _Bools] = {}

    def cheapest(self, count: int) -> frozenset[int]:
        """The lines that are there, and so many of which a piece costs least."""
        bought = [line for line in self.lines if not self.there[line]]
        bought.sort(key=lambda line: (self._cost(line), line))
        return frozenset([line for line in self.lines if self.there[line]] + bought[:count])

    def stacks(self, lines: Collection[int]) -> Sequence[Sequence[Stack]]:
        """By gap, the stacks of these lines that serve any of its readings."""
        kept = self._sum([0 if line in lines else 1 for line in self.lines]) == 0
        return [self._named(rows[kept[rows]]) for rows in self._of_gaps]

    def as_read(self, gap: int) -> tuple[_Numbers, _Numbers, _Numbers]:
        """The stacks that serve any of a gap's readings, and from and to which each does [ticks], in their order.

        A stack is a row of numbers of `lines`, rising, -1 where there is no more.
        """
        demand, sizes, ticks = self.demands[gap], self.sizes[gap], self.scale.ticks
        low, high = ticks(demand.low), ticks(demand.high)
        rows = np.flatnonzero(self._serving(gap, low, high))
        starts, ends = sizes.first + self.thick[rows], sizes.last + self.thin[rows]
        if demand.by_blades:
            shown = np.array([[ticks(end) for end in demand.as_read(x, x) or (x, x)] for x in demand.pairs], np.int64)
            middles = np.array([ticks(x) for x in demand.pairs], np.int64)
            first, last = np.searchsorted(middles, starts, "left"), np.searchsorted(middles, ends, "right") - 1
            starts = shown[np.minimum(first, len(shown) - 1), 0]
            ends = np.where(first <= last, shown[last, 1], starts - 1)
        starts, ends = np.maximum(starts, low), np.minimum(ends, high)
        kept = np.flatnonzero((starts < ends) | ((starts == ends) & (low == high)))
        kept = kept[np.lexsort((ends[kept], starts[kept]))]
        return self.rows[rows[kept]], starts[kept], ends[kept]

    def _named(self, rows: _Numbers) -> list[Stack]:
        return [tuple(self.lines[n] for n in row if n >= 0) for row in self.rows[rows].tolist()]

    @cached_property
    def _of_gaps(self) -> list[_Numbers]:
        """By gap, the stacks that serve any of its readings, by number."""
        found = []
        for gap, demand in enumerate(self.demands):
            low, high = self.scale.ticks(demand.low), self.scale.ticks(demand.high)
            found.append(np.flatnonzero(self._serving(gap, low, high) & (self.pieces > 0)))
        return found

    def _serving(self, gap: int, low: int, high: int) -> _Bools:
        """The stacks that a gap may have and that serve any reading from .. to [ticks]."""
        demand, sizes = self.demands[gap], self.sizes[gap]
        if demand.usable not in self._suiting:
            usable = set(demand.usable)
            self._suiting[demand.usable] = self._sum([line not in usable for line in self.lines]) == 0
        # what needs more of a piece than there is, and that nobody sells, is no stack
        fits = self._suiting[demand.usable] & self.can_be_had & (self.pieces <= demand.place.most_pieces)
        fits &= (self.pieces >= demand.place.fewest_pieces) | (self.pieces == 0)
        begins, ends = sizes.first + self.thick, sizes.last + self.thin
        serving: _Bools = fits & (begins <= high) & (ends >= low) & (begins <= ends)
        return serving

    def _cost(self, line: int) -> int:
        """What a piece of a line costs at least where none is there [coins]."""
        return min(buy.least * self.market.coins(buy.offer.price or Decimal(0)) for buy in self.buys[line])

    def _can_be_had(self) -> _Bools:
        """Whether there are so many pieces of each line as a stack needs; of what is sold there is no end."""
        most = np.array(
            [_MOST_PIECES if line in self.buys else self.there[line] for line in self.lines] + [0], np.int64
        )
        can = np.ones(len(self.rows), np.bool_)
        for here in self.rows.T:
            can &= (here < 0) | ((self.rows == here[:, None]).sum(axis=1) <= most[here])
        return can

    def _sum(self, of_line: Sequence[int]) -> _Numbers:
        """A number of each line, added up over every stack."""
        by_row: _Numbers = np.append(np.array(of_line, np.int64), 0)[self.rows].sum(axis=1)
        return by_row


def _multisets(count: int) -> tuple[_Numbers, _Numbers]:
    """Every multiset of up to three of so many numbers as a rising row, -1 where there is no more; and its size."""
    one = np.arange(count, dtype=np.int64)
    first, second = np.triu_indices(count)
    times = count - second
    before = np.repeat(np.cumsum(times) - times, times)
    third = np.arange(times.sum()) - before + np.repeat(second, times)
    rows = np.full((1 + count + len(first) + len(third), _MOST_PIECES), -1, dtype=np.int64)
    rows[1 : 1 + count, 0] = one
    rows[1 + count : 1 + count + len(first), :2] = np.column_stack([first, second])
    rows[1 + count + len(first) :] = np.column_stack([np.repeat(first, times), np.repeat(second, times), third])
    return rows, (rows >= 0).sum(axis=1)
