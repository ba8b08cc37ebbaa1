"""Which covers an order can hold that is good enough: those whose price is within what bound and best order leave.

The first prices are what a piece costs at least; then those of the linear relaxation over the covers known so far.
Where an unknown cover is cheaper than every known one of its gap, it is taken in and the prices are made again. All
sums of prices are whole numbers, so that what is left out is left out rightly, whatever the floats were.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from decimal import Decimal
from typing import NamedTuple, Protocol

import numpy as np

from shimopt.arithmetic.clearance import Stack
from shimopt.ordering.coverage import Segment
from shimopt.ordering.covers import NO_COVER, Prices
from shimopt.ordering.order_model import Program, over_covers
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.suppliers_settled import Settled
from shimopt.proof.exact_bounds import FINE, NO_END, Range, Wholes
from shimopt.proof.highs import Relaxation

# sets of pieces looked at for one gap at once, and for all gaps together, before the search for covers is given up
_MOST_SETS = 3_000
_MOST_SETS_IN_ALL = 60_000
# what is taken in at once costs so much more than the cheapest (as a part of it), as long as that is not too many
_NEAR = (96, 48, 24, 12, 6, 3, 2, 1)
_MOST_NEAR = 150
_MOST_ROUNDS = 20


class Priced(NamedTuple):
    """A bound of the cost [parts of a coin], the prices and cheapest covers by gap that give it, and covers known."""

    bound: int
    prices: list[Prices]
    cheapest: list[int]
    known: list[frozenset[Stack]]


class OfGap(Protocol):
    """The covers of one gap, as `Covers` tells them."""

    units: Sequence[tuple[int, int]]
    looked_at: int
    met: set[Stack]

    def meet(self, covers: Iterable[Stack]) -> None:
        """These covers were of use."""

    def cheapest(self, prices: Prices, cap: int, below: int = NO_COVER) -> tuple[int, list[Stack]]:
        """What no cover costs less than, or `below`, and covers that cost as little as was found."""

    def within(self, prices: Prices, most: int, cap: int) -> list[tuple[int, Stack]] | None:
        """All covers that cost no more than `most`, with their costs; None beyond `cap` sets looked at."""


class CoverPrices:
    """The covers of all gaps from what there is and what some suppliers sell; None is told where there are too many."""

    def __init__(self, books: Books, settled: Settled, covers: Sequence[OfGap]) -> None:
        self.books, self.settled, self.covers = books, settled, covers
        self.lines = [line for line, most in settled.most_of.items() if most]
        # by line, what all gaps together could ask for
        self.most = dict.fromkeys(self.lines, 0)
        for line, k in (unit for gap in covers for unit in gap.units):
            if k < settled.most_of[line]:
                self.most[line] += 1
        self.begun = 0

    def _begin(self) -> None:
        # the covers of a gap are those of all sets of suppliers: what was looked at for others does not count
        self.begun = sum(gap.looked_at for gap in self.covers)

    def at_least(self) -> Priced | None:
        """With what is there free, and every piece at the least that it costs in any pack.

        Of a gap with too many covers none is known.
        """
        self._begin()
        market, senders = self.books.market, self.settled.senders
        sold: dict[int, int] = {}
        for buy in market.buys:
            if (senders is None or buy.supplier in senders) and not self.books.stock[buy.line]:
                price = market.coins(buy.offer.price or Decimal(0)) * FINE // buy.offer.pack
                sold[buy.line] = min(price, sold.get(buy.line, price))
        by_line = {line: sold.get(line, 0) for line in self.lines}
        prices = Prices(by_line, by_line, self.settled.most_of)
        found = [self._cheapest(gap, prices) for gap in range(len(self.covers))]
        cheapest = [least for least, _ in found]
        postage = sum(market.coins(market.suppliers[sender].postage) for sender in senders or ())
        known = [frozenset(covers) for _, covers in found]
        return Priced(sum(cheapest) + postage * FINE, [prices] * len(found), cheapest, known)

    def tightened(
        self, priced: Priced, value: int | None, *, near: bool = True, of_order: Purchase | None = None
    ) -> Priced | None:
        """The same with prices of the relaxation, made again until they are right or the bound reaches `value`.

        Parameters: near, whether covers that cost little more than the cheapest are taken in with it; otherwise those
        that other sets of suppliers met are; of_order, an order of which they are taken in too.
        """
        self._begin()
        known = [set(covers) for covers in priced.known]
        if not near:
            for of_gap, gap_covers in zip(known, self.covers, strict=True):
                of_gap.update(filter(self.settled.can_be_had, gap_covers.met))
        if of_order is not None:
            for gap, of_gap in enumerate(known):
                of_gap.add(tuple(sorted(Counter(of_order.pieces_for(gap)).elements())))
        if not all(known):
            return None
        for _ in range(_MOST_ROUNDS):
            program = self.program(known)
            sums, terms = program.sums, program.sums.terms(program.levels["cost"])
            within = self.settled.range(program)
            relaxed = Relaxation(sums, terms, within).solved(within)
            if relaxed is None:
                break
            if relaxed.values is None:
                # what shows that no order is made of the covers known shows it of all, or asks for others
                terms = np.zeros_like(terms)
            prices = _lifted(program, terms, relaxed.prices, within)
            by_gap = [self._prices_of(program, prices, gap) for gap in range(len(known))]
            missed, cheapest = 0, []
            for gap, covers in enumerate(known):
                least = min(by_gap[gap].of(cover) for cover in covers)
                one, found = self._near(gap, by_gap[gap], least) if near else self._cheapest(gap, by_gap[gap], least)
                if near and not found:
                    return None
                cheapest.append(one)
                missed += least - one if found else 0
                covers.update(found)
            bound = sum(cheapest) + sums.beside(sums.priced(terms, prices), prices, within)
            if relaxed.values is None and bound > 0:
                priced = Priced(NO_END * FINE, by_gap, cheapest, [])
                break
            if relaxed.values is not None and bound > priced.bound:
                priced = Priced(bound, by_gap, cheapest, [])
            if missed == 0 or (value is not None and -(-priced.bound // FINE) >= value):
                break
        for of_gap, gap_covers in zip(known, self.covers, strict=True):
            gap_covers.meet(of_gap)
        return priced._replace(known=[frozenset(covers) for covers in known])

    def complete(self, priced: Priced, value: int) -> Program | None:
        """The model of all covers that an order of this value or better can hold."""
        room = max(0, value * FINE - priced.bound)
        kept = []
        for gap, covers in enumerate(self.covers):
            found = covers.within(priced.prices[gap], priced.cheapest[gap] + room, self._most_sets)
            if found is None:
                return None
            kept.append({cover for _, cover in found})
        return self.program(kept)

    def program(self, known: Sequence[Collection[Stack]]) -> Program:
        """The model of the covers known."""
        ranges = [Segment(coverage.low, coverage.high) for coverage in self.books.coverages]
        return over_covers(known, ranges, self.most, self.books.stock, self.books.market)

    def _cheapest(self, gap: int, prices: Prices, below: int = NO_COVER) -> tuple[int, list[Stack]]:
        """What no cover of a gap costs less than, and those found that cost least of those below so much."""
        return (0, []) if self._too_many else self.covers[gap].cheapest(prices, self._most_sets, below)

    def _near(self, gap: int, prices: Prices, most: int) -> tuple[int, list[Stack]]:
        """The same, and others that cost little more, but no more than `most`."""
        cheapest, covers = self._cheapest(gap, prices)
        if not covers:
            return cheapest, covers
        # where a part is nothing, or more than may be spent, the next asks for nothing new
        *less, dearest = dict.fromkeys(min(cheapest + cheapest // part, most) for part in _NEAR)
        # where all are few there is no need to go up to them step by step
        if all_ := self._few_within(gap, prices, dearest):
            return cheapest, all_
        for limit in less:
            if not (more := self._few_within(gap, prices, limit)):
                break
            covers = more
        return cheapest, covers

    def _few_within(self, gap: int, prices: Prices, limit: int) -> list[Stack]:
        """The covers of a gap that cost no more than a limit; none where they are too many."""
        found = self.covers[gap].within(prices, limit, _MOST_SETS)
        return [] if found is None or len(found) > _MOST_NEAR else [cover for _, cover in found]

    @property
    def _most_sets(self) -> int:
        return max(_MOST_SETS, _MOST_SETS_IN_ALL // len(self.covers))

    @property
    def _too_many(self) -> bool:
        return sum(covers.looked_at for covers in self.covers) - self.begun > 3 * _MOST_SETS_IN_ALL

    def _prices_of(self, program: Program, prices: Wholes, gap: int) -> Prices:
        """What pieces cost a gap by the prices of the rows: its share of holding a line, and of asking for a pack."""
        holding, firsts = program.buying.holding, program.buying.firsts
        further = {line: -int(prices[holding[line]]) if line in holding else 0 for line in self.lines}
        asked = {line: -sum(int(prices[row]) for row in firsts.get((gap, line), ())) for line in self.lines}
        return Prices({line: cost + asked[line] for line, cost in further.items()}, further, self.settled.most_of)


def _lifted(program: Program, terms: Wholes, prices: Wholes, within: Range) -> Wholes:
    """The prices with what packs leave over laid on the pieces in them: covers not yet known must not look free."""
    spare, lifted = program.sums.priced(terms, prices), prices.copy()
    packs = {at for at in program.buying.packs if within.high[at] > 0}
    for number in program.buying.holding.values():
        row = program.rows[number]
        offers = packs & row.terms.keys()
        if offers and row.limit == 0:
            lifted[number] -= max(0, min(int(spare[at]) // -row.terms[at] for at in offers))
    return lifted
