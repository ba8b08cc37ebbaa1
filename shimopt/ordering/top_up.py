"""What a smallest order leaves over is filled with sizes that may serve: it costs no more than the order alone.

A supplier whose goods stay below its smallest order charges the rest anyway. For as much of it as packs on offer fit
into, the pack is taken that a final reading of the job's gaps asks for most likely: first where a card leaves readings
open, then at readings that no other size taken so serves. The drawer's later jobs are not looked at.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from shimopt.candidates import Scale
from shimopt.ordering.coverage import Coverage
from shimopt.ordering.market import bills_of
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.worth import chance_within

__all__ = ["Extra", "topped_up"]

Stretch = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Extra:
    """Packs of one of the market's buys (by number) beside the order, and the gaps that they may serve."""

    buy: int
    packs: int
    gaps: tuple[int, ...]


def topped_up(books: Books, purchase: Purchase, scale: Scale) -> tuple[Extra, ...]:
    """What fills the smallest orders of a purchase, in the market's order."""
    market, taken = books.market, Counter[int]()
    short = {supplier: top_up for supplier, (_, top_up, _) in bills_of(market, purchase.packs).items() if top_up}
    if not short:
        return ()

    def charged_so(n: int) -> bool:
        """Whether one more of its packs is charged at this price, and no other pack at another."""
        first = market.buys[n].first
        packs = sum(purchase.packs[k] + taken[k] for k, buy in enumerate(market.buys) if buy.first == first)
        return market.buys[n].takes(packs + 1) and packs == purchase.packs[n] + taken[n]

    gaps = [_Gap(c, purchase.pieces_for(n), books.left_open(n, purchase), scale) for n, c in enumerate(books.coverages)]
    for supplier, left in short.items():
        prices = {
            n: market.coins(buy.offer.price)
            for n, buy in enumerate(market.buys)
            if buy.supplier == supplier and buy.offer.price
        }
        while fitting := {n: price for n, price in prices.items() if price <= left and charged_so(n)}:
            worth = {n: _sum(gap.gain(market.buys[n].line) for gap in gaps) for n in fitting}
            best = min(fitting, key=lambda n: (*(-gain for gain in worth[n]), fitting[n], n))
            if not any(worth[best]):
                break
            taken[best] += 1
            left -= fitting[best]
            for gap in gaps:
                gap.take(market.buys[best].line)
    return tuple(
        Extra(n, packs, tuple(k for k, gap in enumerate(gaps) if gap.may_use(market.buys[n].line)))
        for n, packs in sorted(taken.items())
    )


def _sum(gains: Iterable[tuple[Fraction | float, Fraction | float]]) -> tuple[Fraction | float, Fraction | float]:
    told = list(gains)
    return sum((opened for opened, _ in told), Fraction(0)), sum((more for _, more in told), Fraction(0))


class _Gap:
    """The readings of a gap that one more line would serve, with the pieces set aside for it."""

    def __init__(
        self, coverage: Coverage, own: dict[int, int], left_open: Sequence[tuple[int, int]], scale: Scale
    ) -> None:
        self.demand, self.scale, self.open = coverage.demand, scale, [(start, end) for start, end in left_open]
        self.by_line: dict[int, list[Stretch]] = {}
        for candidate in coverage.candidates:
            more = {line: n for line, n in Counter(candidate.scarce).items() if n > own.get(line, 0)}
            if len(more) == 1:
                self.by_line.setdefault(next(iter(more)), []).append((candidate.start, candidate.end))
        self.served: list[Stretch] = []

    def may_use(self, line: int) -> bool:
        """Whether a stack with one more piece of the line serves any reading."""
        return line in self.by_line

    def gain(self, line: int) -> tuple[Fraction | float, Fraction | float]:
        """The chance of a reading that it serves: of those left open, and of all that nothing taken so serves yet."""
        stretches = self.by_line.get(line, [])
        if not stretches:
            return Fraction(0), Fraction(0)
        opened = self._chance(_shared(stretches, self.open))
        return opened, self._chance([*stretches, *self.served]) - self._chance(self.served)

    def take(self, line: int) -> None:
        """It is taken: what it serves counts no second time."""
        stretches = self.by_line.get(line, [])
        self.served += stretches
        self.open = _less(self.open, stretches)

    def _chance(self, stretches: Sequence[Stretch]) -> Fraction | float:
        return chance_within(self.demand, stretches, self.scale)


def _shared(some: Sequence[Stretch], others: Sequence[Stretch]) -> list[Stretch]:
    both = [(max(a, c), min(b, d)) for a, b in some for c, d in others]
    return [(start, end) for start, end in both if start <= end]


def _less(some: Sequence[Stretch], gone: Sequence[Stretch]) -> list[Stretch]:
    """What is left of some stretches."""
    left = list(some)
    for start, end in gone:
        left = [
            part
            for a, b in left
            for part in ((a, min(b, start)), (max(a, end), b))
            if part[0] < part[1] or (a == b == part[0] == part[1] and not start <= a <= end)
        ]
    return left
