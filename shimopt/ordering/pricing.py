"""Which covers an order can hold that is good enough: those whose price is within what bound and best order leave.

The prices are those of the linear relaxation over the covers known so far; where an unknown cover is cheaper than every
known one of its gap, it is taken in and the prices are made again. All sums of prices are whole numbers, so that what
is left out is left out rightly, whatever the floats of the relaxation were.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence

from shimopt.arithmetic.clearance import Stack
from shimopt.ordering.cover_program import cover_program
from shimopt.ordering.covers import NO_COVER, Covers, Prices
from shimopt.ordering.program import Program
from shimopt.ordering.purchase import Books
from shimopt.ordering.settled import Settled
from shimopt.ordering.solver import Range, Sums

__all__ = ["FINE", "Pricing"]

# prices are whole numbers of this part of a unit
FINE = 1 << 20

# sets of pieces looked at for one gap at once, and for all gaps together, before the search for covers is given up
_MOST_SETS = 3_000
_MOST_SETS_IN_ALL = 60_000
# what is taken in at once costs so much more than the cheapest (as a part of it), as long as that is not too many
_NEAR = (96, 48, 24, 12, 6, 3, 2, 1)
_MOST_NEAR = 150
_MOST_ROUNDS = 20


class Pricing:
    """The covers of all gaps from what there is and what some suppliers sell."""

    def __init__(self, books: Books, settled: Settled) -> None:
        self.books, self.settled, self.lines = books, settled, settled.lines
        self._covers = [Covers(coverage, settled.most_of) for coverage in books.coverages]
        # by line, what all gaps together could ask for
        self._most = dict.fromkeys(self.lines, 0)
        for line, _ in (unit for covers in self._covers for unit in covers.units):
            self._most[line] += 1
        self._pool: list[set[Stack]] = [set() for _ in self._covers]
        self._prices: list[Prices] = []
        self._cheapest: list[int] = []

    def begin(self, program: Program, prices: Sequence[float]) -> bool:
        """A first pool from the prices of any relaxation; False where there are too many covers."""
        whole = [_whole(price) for price in prices]
        for gap in range(len(self._covers)):
            near = self._near(gap, _prices_of(program, whole, gap, self.lines), None)
            if near is None:
                return False
            self._pool[gap].update(cover for _, cover in near)
        return True

    def _near(self, gap: int, prices: Prices, most: int | None) -> list[tuple[int, Stack]] | None:
        """The cheapest covers of a gap, and others that cost little more, but no more than `most`."""
        covers = self._covers[gap]
        cheapest = covers.cheapest(prices, _MOST_SETS)
        if cheapest is None or cheapest == NO_COVER or self._too_many:
            return None
        found = covers.within(prices, cheapest, _MOST_SETS)
        for part in _NEAR:
            limit = cheapest + cheapest // part
            more = covers.within(prices, limit if most is None else min(limit, most), _MOST_SETS)
            if more is None or len(more) > _MOST_NEAR:
                break
            found = more
        return found

    @property
    def _too_many(self) -> bool:
        return sum(covers.looked_at for covers in self._covers) > _MOST_SETS_IN_ALL

    def program(self) -> Program:
        """The model of the covers known."""
        return cover_program(self.books.coverages, self._pool, self._most, self.books.stock, self.books.market)

    def bound(self, objective: Callable[[Program], Mapping[int, int]], known: int | None) -> int | None:
        """What no order of these suppliers is below [2^-20 of a unit]; None where there are too many covers.

        It ends early where that reaches what is `known`.
        """
        best: int | None = None
        for _ in range(_MOST_ROUNDS):
            program = self.program()
            terms, within = objective(program), self.settled.range(program, program.groups)
            found = Sums(program, program.rows).prices(within, terms)
            if found is None:
                return None
            prices = _lifted(program, terms, [_whole(price) for price in found], within)
            by_gap = [_prices_of(program, prices, gap, self.lines) for gap in range(len(self._covers))]
            missed, cheapest = 0, []
            for gap in range(len(self._covers)):
                least = min(_cost(by_gap[gap], cover) for cover in self._pool[gap])
                cheaper = self._near(gap, by_gap[gap], least)
                if cheaper is None:
                    return None
                lowest = min(cost for cost, _ in cheaper)
                cheapest.append(lowest)
                missed += least - lowest
                self._pool[gap].update(cover for _, cover in cheaper)
            bound = sum(cheapest) + _without_covers(program, terms, prices, within)
            if best is None or bound > best:
                best, self._prices, self._cheapest = bound, by_gap, cheapest
            if missed == 0 or (known is not None and -(-best // FINE) >= known):
                break
        return best

    def complete(self, bound: int, value: int) -> Program | None:
        """The model of all covers that an order of this value or better can hold; None where there are too many."""
        room = value * FINE - bound
        kept: list[set[Stack]] = []
        for gap, covers in enumerate(self._covers):
            found = covers.within(self._prices[gap], self._cheapest[gap] + max(0, room), _MOST_SETS)
            if found is None:
                return None
            kept.append({cover for _, cover in found})
        self._pool = kept
        return self.program()


def _whole(price: float) -> int:
    """A row's price as a whole number; none is above zero."""
    return min(0, round(price * FINE))


def _prices_of(program: Program, prices: Sequence[int], gap: int, lines: Collection[int]) -> Prices:
    """What pieces cost a gap by the prices of the rows: its share of holding a line, and of asking for a pack."""
    holding, firsts = program.holding, program.firsts
    further = {line: -prices[holding[line]] if line in holding else 0 for line in lines}
    return Prices(
        {line: cost - (prices[firsts[gap, line]] if (gap, line) in firsts else 0) for line, cost in further.items()},
        further,
    )


def _cost(prices: Prices, cover: Stack) -> int:
    return sum(prices.further[line] for line in cover) + sum(
        prices.first[line] - prices.further[line] for line in set(cover)
    )


def _priced(program: Program, objective: Mapping[int, int], prices: Sequence[int]) -> dict[int, int]:
    """What every helper costs beside what its rows' prices take off."""
    first = len(program.columns)
    costs = {at: objective.get(at, 0) * FINE for at in range(first, first + len(program.helpers))}
    for row, price in zip(program.rows, prices, strict=True):
        if price:
            for at, factor in row.terms.items():
                if at >= first:
                    costs[at] -= price * factor
    return costs


def _lifted(program: Program, objective: Mapping[int, int], prices: Sequence[int], within: Range) -> list[int]:
    """The prices with what packs leave over laid on the pieces in them: covers not yet known must not look free."""
    spare, lifted = _priced(program, objective, prices), list(prices)
    packs = {at for at in program.packs if within.high[at] > 0}
    for number in program.holding.values():
        row = program.rows[number]
        offers = packs & row.terms.keys()
        if offers and row.limit == 0:
            lifted[number] -= max(0, min(spare[at] // -row.terms[at] for at in offers))
    return lifted


def _without_covers(program: Program, objective: Mapping[int, int], prices: Sequence[int], within: Range) -> int:
    """What a bound owes to all but the covers."""
    limits = sum(price * row.limit for row, price in zip(program.rows, prices, strict=True))
    costs = _priced(program, objective, prices)
    return limits + sum(min(cost * int(within.low[at]), cost * int(within.high[at])) for at, cost in costs.items())
