"""What no order of a large market costs less than, over all stacks: relaxations over whole covers.

Which suppliers send settles postage and smallest orders. What all goods cost at least, whoever sends them, rules most
sets of suppliers out; of each that is left a relaxation of what they sell is a bound. A relaxation knows few covers of
each gap; by its prices the cheapest cover of all is looked for, and of a million stacks only those matter that alone
cost less than the cheapest cover known.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import combinations

import numpy as np
import numpy.typing as npt

from shimopt.arithmetic.clearance import Stack
from shimopt.ordering.cheapest_order import MOST_SUPPLIERS
from shimopt.ordering.cover_prices import CoverPrices, Priced
from shimopt.ordering.coverage import Segment
from shimopt.ordering.covers import NO_COVER, Covers, Prices
from shimopt.ordering.large_market_stacks import Narrowed
from shimopt.ordering.market import Market, least_charge
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.suppliers_settled import Settled
from shimopt.proof.exact_bounds import FINE
from shimopt.watch import Watch

# of more stacks than this that are cheap enough nothing is known of a gap
_MOST_STACKS = 12_000
# of more gaps it takes long to look at every set of suppliers
_MANY_GAPS = 20
# what is there counts as so much dearer than anything on offer where little of it is wanted
_DEARER = 8
# of so many suppliers at once it is soon known
_FEW = 2
# dearer than any stack; three of them can be added up
_NEVER = 1 << 60

_Numbers = npt.NDArray[np.int64]


class EveryCover:
    """The covers of one gap that all stacks of a large market make; `met` are those known.

    Prices as in `Covers`, which looks among the stacks that are cheap enough.
    """

    def __init__(self, narrowed: Narrowed, gap: int) -> None:
        demand = narrowed.demands[gap]
        self.lines, self.buys, self.looked_at = narrowed.lines, narrowed.buys, 0
        self.met: set[Stack] = set()
        self.rows, self.starts, self.ends = narrowed.as_read(gap)
        self.kept = np.zeros(len(self.rows), np.bool_)
        self.free = np.array([*(narrowed.there[line] > 0 for line in self.lines), False])
        self.readings = Segment(narrowed.scale.ticks(demand.low), narrowed.scale.ticks(demand.high))
        used = np.unique(self.rows)
        self.most = demand.place.most_pieces
        self.units: Sequence[tuple[int, int]] = [
            (self.lines[n], k) for n in used[used >= 0].tolist() for k in range(self.most)
        ]
        # which piece of its line each is, counted from 0
        self.piece = np.zeros_like(self.rows)
        for at in range(1, self.rows.shape[1]):
            alike = (self.rows[:, at] == self.rows[:, at - 1]) & (self.rows[:, at] >= 0)
            self.piece[:, at] = np.where(alike, self.piece[:, at - 1] + 1, 0)

    def meet(self, covers: Iterable[Stack]) -> None:
        """These covers are known."""
        self.met.update(covers)

    def meet_bought(self, senders: Collection[int], market: Market) -> None:
        """Covers of what these suppliers sell are known, of few of the pieces that are there: an order can be made."""
        each = np.full(len(self.lines) + 1, _NEVER, np.int64)
        each[-1] = 0
        for n, line in enumerate(self.lines):
            offers = [buy.offer for buy in self.buys.get(line, ()) if buy.supplier in senders]
            each[n] = min((market.coins(o.price or Decimal(0)) * FINE // o.pack for o in offers), default=_NEVER)
        dearest = int(each[each < _NEVER].max())
        for free in (0, dearest, _DEARER * dearest):
            costs = np.where(self.free, free, each)
            soon = self._soon_found(costs[self.rows].sum(axis=1))
            self.met.update([] if soon is None else [soon])

    def cheapest(self, prices: Prices, cap: int, below: int = NO_COVER) -> tuple[int, list[Stack]]:
        """What no cover costs less than, or `below`, and covers that cost as little as was found."""
        known = [cover for cover in self.met if all(prices.had.get(i, n) >= n for i, n in Counter(cover).items())]
        below = min([below, *(prices.of(cover) for cover in known)])
        costs = self._costs(prices)
        if not known and below == NO_COVER:
            soon = self._soon_found(costs)
            if soon is None:
                return NO_COVER, []
            below = prices.of(soon) + 1
        cheap = np.flatnonzero(costs < below)
        if len(cheap) > _MOST_STACKS:
            return 0, []
        covers = self._of(cheap)
        found = covers.cheapest(prices, cap, below)
        self.looked_at += covers.looked_at
        return found

    def within(self, prices: Prices, most: int, cap: int) -> list[tuple[int, Stack]] | None:
        """All covers that cost no more than `most`, with their costs; None where there is too much to look at."""
        cheap = np.flatnonzero(self._costs(prices) <= min(most, _NEVER - 1))
        return self._of(cheap).within(prices, most, cap) if len(cheap) <= _MOST_STACKS else None

    def keep(self, prices: Prices, most: int) -> None:
        """The stacks that cost no more than this belong to those that are kept."""
        self.kept |= self._costs(prices) <= min(most, _NEVER - 1)

    def kept_stacks(self) -> list[Stack]:
        """All that are kept."""
        return [tuple(self.lines[n] for n in row if n >= 0) for row in self.rows[self.kept].tolist()]

    def _costs(self, prices: Prices) -> _Numbers:
        """What each stack costs."""
        each = np.full((len(self.lines) + 1, self.most), _NEVER, np.int64)
        # the last is no piece
        each[-1] = 0
        for n, line in enumerate(self.lines):
            if line in prices.first:
                told = [prices.of_unit(line, k) for k in range(self.most)]
                each[n] = [_NEVER if price is None else price for price in told]
        costs: _Numbers = each[self.rows, self.piece].sum(axis=1)
        return costs

    def _soon_found(self, costs: _Numbers) -> Stack | None:
        """A cover of which each stack is the one that costs least for what it serves; None where there is none."""
        at, pieces = self.readings.start, Counter[int]()
        while True:
            goes_on = (self.starts <= at) & ((self.ends > at) | ((self.ends == at) & (at == self.readings.end)))
            on = np.flatnonzero(goes_on & (costs < _NEVER))
            if not len(on):
                return None
            best = on[(costs[on] / np.maximum(1, self.ends[on] - at)).argmin()]
            pieces |= Counter(self.lines[n] for n in self.rows[best].tolist() if n >= 0)
            if self.ends[best] >= self.readings.end:
                return tuple(sorted(pieces.elements()))
            at = int(self.ends[best])

    def _of(self, cheap: _Numbers) -> Covers:
        rows, piece = self.rows[cheap], self.piece[cheap]
        named, at = np.unique(rows * self.most + piece, return_inverse=True)
        holds = np.zeros((len(cheap), len(named)))
        holds[np.arange(len(cheap))[:, None], at.reshape(rows.shape)] = 1
        is_piece = named >= 0
        units = [(self.lines[unit // self.most], unit % self.most) for unit in named[is_piece].tolist()]
        return Covers.of(units, holds[:, is_piece], self.starts[cheap], self.ends[cheap], self.readings)


class MarketBound:
    """What no order that serves all gaps costs less than, of all on offer: `least` [coins], no more than `order` costs.

    `stacks` are by gap all that an order as good can hold; None where they are more than `most`, or not all was looked
    at.
    """

    def __init__(self, narrowed: Narrowed, books: Books, order: Purchase, most: int, watch: Watch) -> None:
        self.books, self.market, self.watch = books, books.market, watch
        self.least = self.cost = books.value_of("cost", order)
        self.covers = [EveryCover(narrowed, gap) for gap in range(len(books.coverages))]
        for gap, covers in enumerate(self.covers):
            covers.meet([tuple(sorted(Counter(order.pieces_for(gap)).elements()))])
        self.all_looked_at = True
        self._look_at_sets(sorted({buy.supplier for buy in self.market.buys}))
        kept = sum(int(covers.kept.sum()) for covers in self.covers)
        whole = self.all_looked_at and kept <= most
        self.stacks = [covers.kept_stacks() for covers in self.covers] if whole else None

    def _look_at_sets(self, every: Sequence[int]) -> None:
        if len(every) > MOST_SUPPLIERS or len(self.covers) > _MANY_GAPS:
            goods, self.all_looked_at = self._goods(every, None if len(self.covers) > _MANY_GAPS else self.cost), False
            self.least = min([self.cost, *(least_charge(self.market, [one], goods) for one in every)])
            return
        sets, goods = [frozenset(some) for n in range(len(every) + 1) for some in combinations(every, n)], 0
        # of two suppliers it is soon known
        for few in (True, False):
            left = [s for s in sets if (len(s) <= _FEW) == few and least_charge(self.market, s) <= self.cost]
            if left and not few:
                posted = min(sum(self.market.coins(self.market.suppliers[n].postage) for n in some) for some in left)
                goods = self._goods(every, self.cost + 1 - posted)
            for some in left:
                charge = least_charge(self.market, some, goods)
                if charge <= self.cost and self.watch.over():
                    self.least, self.all_looked_at = min(self.least, charge), False
                elif charge <= self.cost:
                    self._look_at(some, charge)

    def _look_at(self, senders: frozenset[int], charge: int) -> None:
        priced = self._priced(self.market, senders, self.cost + 1)
        if priced is None or -(-priced.bound // FINE) > self.cost:
            return
        self.least = min(self.least, max(charge, -(-priced.bound // FINE)))
        room = self.cost * FINE - priced.bound
        for gap, covers in enumerate(self.covers):
            covers.keep(priced.prices[gap], priced.cheapest[gap] + room)

    def _goods(self, every: Collection[int], enough: int | None) -> int:
        """What all goods cost at least, whoever sends them [coins]; `enough` is as good as any more, None: what is soon
        known.
        """
        free = [replace(terms, postage=Decimal(0), smallest_order=Decimal(0)) for terms in self.market.suppliers]
        market = replace(self.market, suppliers=tuple(free))
        # without postage coins may be larger ones
        larger = self.market.price_unit // market.price_unit
        priced = self._priced(market, frozenset(every), None if enough is None else -(-enough // larger))
        most = self.cost if enough is None else enough
        return most if priced is None else min(most, -(-priced.bound // FINE) * larger)

    def _priced(self, market: Market, senders: frozenset[int], enough: int | None) -> Priced | None:
        """A bound of all orders from these suppliers, and its prices; None where there are none."""
        books = Books(self.books.coverages, self.books.stock, market)
        for covers in self.covers:
            covers.meet_bought(senders, market)
        prices = CoverPrices(books, Settled(market, books.stock, senders), self.covers)
        first = prices.at_least()
        if first is None or max(first.cheapest) >= NO_COVER:
            return None
        return first if enough is None else prices.tightened(first, enough, near=False) or first
