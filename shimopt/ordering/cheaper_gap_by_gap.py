"""An order made cheaper gap by gap, where there are many: each chooses anew from what the others' packs leave over.

Tried for few sets of suppliers: alone, then with one more as long as that is cheaper. Nothing is proven; it is an order
to start from, near enough to the bound that few sets of suppliers are left to look at.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal

import numpy as np
import numpy.typing as npt

from shimopt.ordering.coverage import Coverage
from shimopt.ordering.market import as_charged
from shimopt.ordering.purchase import Books, Purchase

_ROUNDS = 8
# dearer than any order: pieces that cannot be had
_NEVER = 1 << 60

_Numbers = npt.NDArray[np.int64]


def cheaper(books: Books, known: Purchase) -> Purchase:
    """The cheapest order found, the known one where none is better. Every gap can be served, and nothing is in."""
    suppliers = sorted({buy.supplier for buy in books.market.buys if buy.offer.price is not None})
    best, senders = (_judged(books, known), known), frozenset[int]()
    if best[0] == (0, 0):
        return known
    exchange = Exchange(books)
    while len(senders) < len(suppliers):
        ways = []
        for one in suppliers:
            if one not in senders and (found := exchange.of(senders | {one})) is not None:
                ways.append((_judged(books, found), one, found))
        if not ways:
            # these few cannot serve all: more of them may
            senders |= {next(one for one in suppliers if one not in senders)}
            continue
        judged, one, found = min(ways, key=lambda way: way[:2])
        if judged >= best[0] and senders:
            break
        best = min(best, (judged, found), key=lambda pair: pair[0])
        senders |= {one}
    return best[1]


def _judged(books: Books, purchase: Purchase) -> tuple[int, int]:
    """Gaps left open, then the cost."""
    return books.value_of("open", purchase), books.value_of("cost", purchase)


class _Stacks:
    """The stacks of a gap as arrays: from and to which reading each serves, of which lines, how many of each."""

    def __init__(self, coverage: Coverage, lines: int) -> None:
        self.coverage = coverage
        counted = [Counter(one.scarce) for one in coverage.candidates]
        width = max(map(len, counted), default=0)
        self.starts = np.array([one.start for one in coverage.candidates], np.int64)
        self.ends = np.array([one.end for one in coverage.candidates], np.int64)
        # a line that costs nothing fills the rows up
        filled = [([*c, *[lines] * (width - len(c))], [*c.values(), *[0] * (width - len(c))]) for c in counted]
        self.lines = np.array([of for of, _ in filled], np.int64).reshape(len(counted), width)
        self.counts = np.array([many for _, many in filled], np.int64).reshape(len(counted), width)
        self.most = int(self.counts.max(initial=0))


class Exchange:
    """Makes orders of some suppliers, each gap in its turn chosen anew until nothing gets cheaper."""

    def __init__(self, books: Books) -> None:
        self.books = books
        self.gaps = [_Stacks(coverage, len(books.stock)) for coverage in books.coverages]

    def of(self, senders: Collection[int], leaning: Mapping[tuple[int, int], int] | None = None) -> Purchase | None:
        """An order from these suppliers alone, the cheaper of two orders of gaps; None where they cannot serve all.

        Parameter: leaning, what is set aside by gap and line to begin with; it need not serve anything.
        """
        most = max(1, max((gap.most for gap in self.gaps), default=1), *(leaning or {}).values())
        offers = _Offers(self.books, senders, most * len(self.gaps))
        turns = range(len(self.gaps)), range(len(self.gaps))[::-1]
        ways = (self._in_turn(offers, turn, leaning or {}) for turn in turns)
        found = [one for one in ways if one is not None]
        return min(found, key=lambda one: self.books.value_of("cost", one), default=None)

    def _in_turn(self, offers: _Offers, turn: Sequence[int], leaning: Mapping[tuple[int, int], int]) -> Purchase | None:
        aside = {gap: np.zeros(len(self.books.stock) + 1, np.int64) for gap in turn}
        for (gap, line), count in leaning.items():
            aside[gap][line] = count
        needed, best = sum(aside.values(), np.zeros(len(self.books.stock) + 1, np.int64)), None
        for _ in range(_ROUNDS):
            for gap in turn:
                needed -= aside[gap]
                own = _chosen(self.gaps[gap], offers, needed)
                if own is None:
                    return None
                aside[gap] = own
                needed += own
            taken = {(gap, int(line)): int(own[line]) for gap, own in aside.items() for line in np.flatnonzero(own)}
            found = Purchase(offers.packs(needed.tolist()), taken)
            cost = self.books.value_of("cost", found)
            if best is not None and cost >= best[0]:
                break
            best = cost, found
        return None if best is None else best[1]


class _Offers:
    """What pieces of a line cost from these suppliers beside what is there: `costs` by line and number, up to `most`.

    The last line costs nothing.
    """

    def __init__(self, books: Books, senders: Collection[int], most: int) -> None:
        self.books, self.market = books, books.market
        self.of: dict[int, list[int]] = {}
        self.costs = np.full((len(books.stock) + 1, most + 1), _NEVER, np.int64)
        self.costs[-1] = 0
        short = np.arange(most + 1)[None, :] - np.array(books.stock, np.int64)[:, None]
        self.costs[:-1][short <= 0] = 0
        for n, buy in enumerate(self.market.buys):
            if buy.supplier in senders and buy.offer.price is not None:
                self.of.setdefault(buy.line, []).append(n)
                many = np.maximum(-(-short[buy.line] // buy.offer.pack), buy.least)
                price = many * self.market.coins(buy.offer.price)
                if buy.most is not None:
                    price[many > buy.most] = _NEVER
                here = self.costs[buy.line]
                here[:] = np.where(short[buy.line] > 0, np.minimum(here, price), here)

    def packs(self, needed: Sequence[int]) -> tuple[int, ...]:
        """The packs that hold all that is needed."""
        packs = [0] * len(self.market.buys)
        for line, there in enumerate(self.books.stock):
            if (more := needed[line] - there) > 0:
                number, many = self._bought(line, more)
                packs[number] = many
        return as_charged(self.market, packs)

    def _bought(self, line: int, count: int) -> tuple[int, int]:
        """By which offer so many pieces cost least, and in how many packs."""
        ways = []
        for n in self.of[line]:
            buy = self.market.buys[n]
            many = max(-(-count // buy.offer.pack), buy.least)
            if buy.takes(many):
                ways.append((self.market.coins((buy.offer.price or Decimal(0)) * many), n, many))
        _, number, many = min(ways)
        return number, many


def _chosen(gap: _Stacks, offers: _Offers, others: _Numbers) -> _Numbers | None:
    """The pieces that serve a gap from end to end, each stack the one that adds least; None where none can."""
    own, at, high = np.zeros_like(others), gap.coverage.low, gap.coverage.high
    candidates = gap.coverage.candidates
    while True:
        wanted = np.maximum(gap.counts, own[gap.lines])
        taken = others[gap.lines]
        after, before = offers.costs[gap.lines, taken + wanted], offers.costs[gap.lines, taken + own[gap.lines]]
        had = ((after < _NEVER) | (gap.counts <= own[gap.lines])).all(axis=1)
        goes_on = (gap.starts <= at) & ((gap.ends > at) | ((gap.ends == at) & (at == high)))
        ways = np.flatnonzero(had & goes_on)
        if not len(ways):
            return None
        cost = np.where(gap.counts[ways] > own[gap.lines[ways]], after[ways] - before[ways], 0).sum(axis=1)
        # by what it adds for each reading that it serves
        rate = cost / np.maximum(1, np.minimum(gap.ends[ways], high) - at)
        alike = ways[rate == rate.min()]
        furthest = alike[gap.ends[alike] == gap.ends[alike].max()]
        one = min(furthest.tolist(), key=lambda number: candidates[number].stack)
        np.maximum.at(own, gap.lines[one], gap.counts[one])
        if candidates[one].end >= high:
            return own
        at = candidates[one].end
