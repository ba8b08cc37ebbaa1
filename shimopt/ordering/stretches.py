"""Which stretches of readings the model looks at; and the first order of all, built up stack by stack.

A model that looks at fewer stretches is never worse than the whole, so its bounds hold. Where a card of the best order
found leaves readings open at which it has not looked, it looks there too.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from decimal import Decimal
from functools import lru_cache
from typing import NamedTuple, Protocol

from shimopt.ordering.coverage import Candidate, Coverage, Segment
from shimopt.ordering.market import as_charged
from shimopt.ordering.order_model import Program, Stretch, over_stretches
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.suppliers_settled import Settled
from shimopt.proof.branch_and_bound import bound_of
from shimopt.proof.exact_bounds import Bound, Sums
from shimopt.proof.highs import Relaxation
from shimopt.proof.rows import Row

_STRETCHES_A_ROUND = 12


class Goods(NamedTuple):
    """A bound of what all goods of an order cost, and the model that gives it; None where that says nothing."""

    program: Program
    bound: Bound | None


class Asking(Protocol):
    """What is asked of a purchase beside the levels: rows that all purchases keep to of which it is true."""

    def rows(self, program: Program) -> Iterable[Row]:
        """These rows over the stretches of a model."""

    def is_true_of(self, purchase: Purchase) -> bool:
        """Whether it is true of a purchase."""

    def rules_out(self, purchase: Purchase) -> bool:
        """Ask for one more row, that a purchase does not keep to; False where it is true of it or no row tells."""


class Looking:
    """The stretches looked at; `giving_up`: readings may be left open. `telling`: whether a few are enough at first."""

    def __init__(self, books: Books, *, giving_up: bool, telling: bool, asking: Asking | None = None) -> None:
        self.books, self.giving_up, self.asking = books, giving_up, asking
        self.seen: list[list[Segment]] = [
            _telling(coverage) if telling else _servable(coverage) for coverage in books.coverages
        ]
        self._program: Program | None = None
        self._kits_at = lru_cache(maxsize=None)(lambda gap, segment: books.coverages[gap].kits_at(segment))
        self._held: tuple[Program, Mapping[str, int], Sums] | None = None

    @property
    def program(self) -> Program:
        """The model of what is looked at."""
        if self._program is None:
            stretches = []
            for gap, segments in enumerate(self.seen):
                for segment in segments:
                    kits = self._kits_at(gap, segment)
                    stretches.append(Stretch(gap, segment, [*kits, None] if self.giving_up else kits))
            self._program = over_stretches(self.books.coverages, stretches, self.books.stock, self.books.market)
            if self.asking is not None:
                self._program.rows.extend(self.asking.rows(self._program))
        return self._program

    def asks_anew(self) -> None:
        """What is asked is no longer as it was: make the model anew."""
        self._program = None

    def holding(self, held: Mapping[str, int]) -> Sums:
        """The model's rows with what is held; all suppliers share them."""
        program = self.program
        if self._held is None or self._held[0] is not program or self._held[1] != held:
            self._held = (program, dict(held), program.holding(held))
        return self._held[2]

    def goods(self, held: Mapping[str, int]) -> Goods:
        """What the goods of any order come to at least, whoever sends them."""
        program, sums, packs = self.program, self.holding(held), set(self.program.buying.packs)
        priced = sums.terms({at: price for at, price in program.levels["cost"].items() if at in packs})
        within = Settled(self.books.market, self.books.stock, None).range(program)
        return Goods(program, bound_of(sums, priced, within, Relaxation(sums, priced, within))[0])

    def overlooked(self, purchase: Purchase) -> dict[int, list[Segment]]:
        """By gap, what this purchase leaves open, could be served, and was not looked at."""
        found = {}
        for gap, coverage in enumerate(self.books.coverages):
            open_ = self.books.left_open(gap, purchase)
            seen = set(self.seen[gap]) if open_ else ()
            new = [s for s in _servable(coverage) if s not in seen and s.lies_in(open_)] if open_ else []
            if new:
                found[gap] = new
        return found

    def looks_further(self, purchase: Purchase) -> bool:
        """Look where this purchase leaves open what could be served, or ask for more; False where it does."""
        found = self.overlooked(purchase)
        for gap, new in found.items():
            # the ends of what is open tell most
            self.seen[gap] += sorted({*new[:: -(-len(new) // _STRETCHES_A_ROUND)], new[-1]})
        if not found and (self.asking is None or not self.asking.rules_out(purchase)):
            return False
        self._program = None
        return True


def _servable(coverage: Coverage) -> list[Segment]:
    """The stretches that some stack serves."""
    return [segment for segment in coverage.segments if not segment.lies_in(coverage.hopeless)]


def _telling(coverage: Coverage) -> list[Segment]:
    """Stretches to look at first: both ends and the middle of what can be served."""
    can = _servable(coverage)
    return sorted({can[0], can[len(can) // 2], can[-1]}) if can else []


def first_purchase(books: Books, *, buying: bool) -> Purchase:
    """An order to start from: for each gap the cheapest stack that goes on where the one before stops.

    `buying`: whether anything may be bought.
    """
    market, left = books.market, list(books.stock)
    price = {
        buy.line: min(
            market.coins(b.offer.price or Decimal(0)) / b.offer.pack for b in market.buys if b.line == buy.line
        )
        for buy in market.buys
        if buying
    }
    aside: dict[tuple[int, int], int] = {}
    short: Counter[int] = Counter()
    # what is in a machine is kept for it: where readings are given up it stays in
    for coverage in books.coverages:
        for line in coverage.stays:
            left[line] -= 1
    for gap, coverage in enumerate(books.coverages):
        own = Counter(coverage.stays)

        def extra(candidate: Candidate, own: Counter[int] = own) -> tuple[float, int] | None:
            """What a stack costs beside what the gap has, and where it ends; None where it cannot be had."""
            more = Counter(candidate.scarce) - own
            lacking = {line: max(0, count - left[line]) for line, count in more.items()}
            if any(count and line not in price for line, count in lacking.items()):
                return None
            return sum(count * price[line] for line, count in lacking.items() if count), -candidate.end

        at = coverage.low
        while True:
            here = [c for c in coverage.candidates if c.start <= at and (c.end > at or at == coverage.high == c.end)]
            can = [(cost, c) for c in here if (cost := extra(c)) is not None]
            if can:
                best = min(can, key=lambda pair: pair[0])[1]
                for line, count in (Counter(best.scarce) - own).items():
                    short[line] += max(0, count - left[line])
                    left[line] = max(0, left[line] - count)
                    own[line] += count
            later = [c.start for c in coverage.candidates if c.start > at]
            if (can and best.end >= coverage.high) or (not can and not later):
                break
            at = best.end if can else min(later)
        aside |= {(gap, line): count for line, count in own.items()}
    packs = [0] * len(market.buys)
    for line, count in (+short).items():
        offers = [
            (n, max(-(-count // buy.offer.pack), buy.least), buy)
            for n, buy in enumerate(market.buys)
            if buy.line == line
        ]
        number, many, _ = min(offers, key=lambda o: (o[2].offer.price is None, (o[2].offer.price or 0) * o[1], o[0]))
        packs[number] = many
    return Purchase(as_charged(market, packs), aside)
