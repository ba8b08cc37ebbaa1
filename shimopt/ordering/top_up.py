"""What a smallest order leaves over is filled with sizes that may serve: it costs no more than the order alone.

A supplier whose goods stay below its smallest order charges the rest anyway. For as much of it as packs on offer fit
into, the pack is taken that a final reading of the job's gaps asks for most likely: first where a card leaves readings
open, then at readings that no other size taken so serves. The drawer's later jobs are not looked at.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from shimopt.candidates import Scale
from shimopt.ordering.coverage import Coverage
from shimopt.ordering.market import Market, as_charged, bills_of
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
    """What fills the smallest orders of a purchase, in the market's order: offers of which nothing is bought yet."""
    market, found = books.market, list[Extra]()
    short = {supplier: top_up for supplier, (_, top_up, _) in bills_of(market, purchase.packs).items() if top_up}
    if not short:
        return ()
    gaps = [_Gap(c, purchase.pieces_for(n), books.left_open(n, purchase), scale) for n, c in enumerate(books.coverages)]
    bought = {market.buys[n].first for n, packs in enumerate(purchase.packs) if packs}
    for supplier, left in short.items():
        offers = {b.first for b in market.buys if b.supplier == supplier and b.offer.price} - bought
        taken = dict.fromkeys(sorted(offers), 0)
        while more := {n: cost for n in taken if (cost := _cost(market, {**taken, n: taken[n] + 1})) <= left}:
            worth = {n: _sum(gap.gain(market.buys[n].line) for gap in gaps) for n in more}
            best = min(more, key=lambda n: (*(-gain for gain in worth[n]), more[n], n))
            if not any(worth[best]):
                break
            taken[best] += 1
            for gap in gaps:
                gap.take(market.buys[best].line)
        for n, packs in enumerate(_charged(market, taken)):
            if packs:
                uses = tuple(k for k, gap in enumerate(gaps) if gap.may_use(market.buys[n].line))
                found.append(Extra(n, packs, uses))
    return tuple(found)


def _charged(market: Market, taken: Mapping[int, int]) -> tuple[int, ...]:
    return as_charged(market, [taken.get(n, 0) for n in range(len(market.buys))])


def _cost(market: Market, taken: Mapping[int, int]) -> int:
    """What so many packs cost as goods [coins]."""
    packs = _charged(market, taken)
    return sum(n * market.coins(b.offer.price or Decimal(0)) for b, n in zip(market.buys, packs, strict=True) if n)


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
