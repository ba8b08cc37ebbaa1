"""An order made cheaper gap by gap, where there are many: each chooses anew from what the others' packs leave over.

Tried for few sets of suppliers: alone, then with one more as long as that is cheaper. Nothing is proven; it is an order
to start from, near enough to the bound that few sets of suppliers are left to look at.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal

from shimopt.ordering.coverage import Candidate, Coverage
from shimopt.ordering.market import as_charged
from shimopt.ordering.purchase import Books, Purchase

_ROUNDS = 8


def cheaper(books: Books, known: Purchase) -> Purchase:
    """The cheapest order found, the known one where none is cheaper. Every gap can be served, and nothing is in."""
    suppliers = sorted({buy.supplier for buy in books.market.buys if buy.offer.price is not None})
    best, senders = (books.value_of("cost", known), known), frozenset[int]()
    while len(senders) < len(suppliers):
        ways = []
        for one in suppliers:
            if one not in senders and (found := _of(books, senders | {one})) is not None:
                ways.append((books.value_of("cost", found), one, found))
        if not ways:
            # these few cannot serve all: more of them may
            senders |= {next(one for one in suppliers if one not in senders)}
            continue
        cost, one, found = min(ways, key=lambda way: way[:2])
        if cost >= best[0] and senders:
            break
        best = min(best, (cost, found), key=lambda pair: pair[0])
        senders |= {one}
    return best[1]


def _of(books: Books, senders: Collection[int]) -> Purchase | None:
    """An order from these suppliers alone, the cheaper of two orders of gaps; None where they cannot serve all."""
    gaps, offers = range(len(books.coverages)), _Offers(books, senders)
    found = [one for one in (_in_turn(books, offers, gaps), _in_turn(books, offers, gaps[::-1])) if one is not None]
    return min(found, key=lambda one: books.value_of("cost", one), default=None)


def _in_turn(books: Books, offers: _Offers, gaps: Sequence[int]) -> Purchase | None:
    """Each gap in its turn chosen anew, until nothing gets cheaper."""
    aside: dict[int, Counter[int]] = {}
    needed, best = Counter[int](), None
    for _ in range(_ROUNDS):
        for gap in gaps:
            needed.subtract(aside.get(gap, Counter()))
            own = _chosen(books.coverages[gap], offers, needed)
            if own is None:
                return None
            aside[gap] = own
            needed.update(own)
        found = Purchase(offers.packs(needed), {(g, i): n for g, own in aside.items() for i, n in own.items() if n})
        cost = books.value_of("cost", found)
        if best is not None and cost >= best[0]:
            break
        best = cost, found
    return None if best is None else best[1]


class _Offers:
    """What pieces of a line cost from these suppliers, and what is there without them."""

    def __init__(self, books: Books, senders: Collection[int]) -> None:
        self.books, self.market = books, books.market
        self.of: dict[int, list[int]] = {}
        for n, buy in enumerate(self.market.buys):
            if buy.supplier in senders and buy.offer.price is not None:
                self.of.setdefault(buy.line, []).append(n)
        self._cheapest: dict[tuple[int, int], tuple[int, int, int]] = {}

    def bought(self, line: int, count: int) -> tuple[int, int, int]:
        """What so many pieces cost at least [coins], by which offer, in how many packs."""
        if (line, count) not in self._cheapest:
            ways = []
            for n in self.of[line]:
                buy = self.market.buys[n]
                many = max(-(-count // buy.offer.pack), buy.least)
                if buy.takes(many):
                    ways.append((self.market.coins((buy.offer.price or Decimal(0)) * many), n, many))
            self._cheapest[line, count] = min(ways)
        return self._cheapest[line, count]

    def cost(self, line: int, count: int) -> int | None:
        """What so many pieces cost beside what is there; None where they cannot be had."""
        more = count - self.books.stock[line]
        if more <= 0:
            return 0
        return self.bought(line, more)[0] if line in self.of else None

    def packs(self, needed: Mapping[int, int]) -> tuple[int, ...]:
        """The packs that hold all that is needed."""
        packs = [0] * len(self.market.buys)
        for line, count in needed.items():
            if (more := count - self.books.stock[line]) > 0:
                _, n, many = self.bought(line, more)
                packs[n] = many
        return as_charged(self.market, packs)


def _chosen(coverage: Coverage, offers: _Offers, others: Mapping[int, int]) -> Counter[int] | None:
    """The pieces that serve a gap from end to end, each stack the one that adds least; None where none can."""
    own, at = Counter[int](), coverage.low
    counted = [(c, Counter(c.scarce)) for c in coverage.candidates]
    while True:
        ways: list[tuple[float, int, Candidate, Counter[int]]] = []
        for one, pieces in counted:
            if one.start > at or (one.end <= at and not at == coverage.high == one.end):
                continue
            cost = 0
            for line, count in pieces.items():
                if count <= own[line]:
                    continue
                taken = others.get(line, 0)
                before, after = offers.cost(line, taken + own[line]), offers.cost(line, taken + count)
                if before is None or after is None:
                    break
                cost += after - before
            else:
                # by what it adds for each reading that it serves
                reach = min(one.end, coverage.high) - at
                ways.append((cost / max(1, reach) if reach else cost, -one.end, one, pieces))
        if not ways:
            return None
        _, _, one, pieces = min(ways, key=lambda way: (way[0], way[1], way[2].stack))
        own |= pieces
        if one.end >= coverage.high:
            return own
        at = one.end
