"""A purchase, and what it is worth by plain arithmetic: cards, bills, days, pieces. Knows no solver."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from shimopt.ordering.coverage import Coverage, Segment
from shimopt.ordering.market import Market, as_charged, bills_of, days_of

# what an order is judged by, each level proven best before the next is looked at; lower is better
LEVELS = ("open", "missing", "unpriced", "cost", "arrival", "bought")


@dataclass(frozen=True, slots=True)
class Purchase:
    """What is bought, and what is set aside for each gap's card.

    `packs` counts packs by number of the market's offers, `aside` pieces by (gap, stock line); numbers beyond the gaps
    are of tables, for gaps whose places act together.
    """

    packs: tuple[int, ...]
    aside: Mapping[tuple[int, int], int]

    def pieces_for(self, gap: int) -> dict[int, int]:
        """The scarce pieces that a gap's card may use, by stock line."""
        return {line: count for (at, line), count in self.aside.items() if at == gap}

    @property
    def set_aside(self) -> Counter[int]:
        """All that is set aside, by stock line."""
        total: Counter[int] = Counter()
        for (_, line), count in self.aside.items():
            total[line] += count
        return total


class Books:
    """Works out purchases for these coverages; `stock` counts pieces on hand by line."""

    def __init__(self, coverages: Sequence[Coverage], stock: Sequence[int], market: Market) -> None:
        self.coverages, self.stock, self.market = coverages, stock, market
        self._open = lru_cache(maxsize=4096)(self._left_open)

    def there(self, purchase: Purchase) -> Counter[int]:
        """All pieces that the gaps with a card can have once the parcels are there, by stock line."""
        there = Counter(dict(enumerate(self.stock)))
        there.update(self.market.pieces(purchase.packs))
        return there

    def can_be_done(self, purchase: Purchase) -> bool:
        """Whether so many packs can be bought, and hold with the drawer what is set aside for all gaps at a time."""
        there = self.there(purchase)
        can_be_bought = (
            min(purchase.packs, default=0) >= 0 and as_charged(self.market, purchase.packs) == purchase.packs
        )
        return can_be_bought and all(count <= there[line] for line, count in purchase.set_aside.items())

    def value_of(self, level: str, purchase: Purchase) -> int:
        """A level's exact value [gaps, ticks, coins, days or pieces]; `packs` is what settles ties."""
        bought = [(n, self.market.buys[n].offer, packs) for n, packs in enumerate(purchase.packs) if packs]
        match level:
            case "open":
                return sum(bool(self.left_open(gap, purchase)) for gap in range(len(self.coverages)))
            case "missing":
                return sum(s.length for gap in range(len(self.coverages)) for s in self.left_open(gap, purchase))
            case "unpriced":
                return sum(packs * offer.pack for _, offer, packs in bought if offer.price is None)
            case "cost":
                return sum(total for _, _, total in bills_of(self.market, purchase.packs).values())
            case "arrival":
                return max((days_of(self.market, n) for n, _, _ in bought), default=0)
            case "bought":
                return sum(packs * offer.pack for _, offer, packs in bought)
            case "packs":
                return sum(packs * (n + 1) for n, _, packs in bought)
        raise KeyError(level)

    def left_open(self, gap: int, purchase: Purchase) -> tuple[Segment, ...]:
        """The readings of a gap that its card leaves open."""
        return self._open(gap, tuple(sorted(purchase.pieces_for(gap).items())))

    def _left_open(self, gap: int, pieces: tuple[tuple[int, int], ...]) -> tuple[Segment, ...]:
        coverage = self.coverages[gap]
        return tuple(coverage.left_open(coverage.makeable(dict(pieces))))
