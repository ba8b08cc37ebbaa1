"""What a kit may hold: so many pieces, or what so much money buys beside what is there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import gcd

from shimopt.parts import StockLine
from shimopt.parts.part import Offer


@dataclass(frozen=True, slots=True)
class Budget:
    """`pieces` in the kit, or `money` to spend now; one of the two.

    By part: `on_hand`, and of the offer that costs least a piece, `pack` and `price` (None where nobody says). Of parts
    that are `not_sold`, rows of a drawer, there are never more than are on hand.
    """

    pieces: int | None
    money: Decimal | None
    on_hand: tuple[int, ...]
    pack: tuple[int, ...]
    price: tuple[Decimal | None, ...]
    not_sold: frozenset[int] = frozenset()

    @classmethod
    def of(
        cls, parts: Sequence[StockLine], on_hand: Sequence[int], pieces: int | None, money: Decimal | None
    ) -> Budget:
        """A budget for parts as they are offered."""
        offers = [cheapest(line) for line in parts]
        return cls(
            pieces,
            money,
            tuple(on_hand),
            tuple(offer.pack if offer else 1 for offer in offers),
            tuple(offer.price if offer else None for offer in offers),
            frozenset(part for part, offer in enumerate(offers) if offer is None),
        )

    def times(self, share: float) -> Budget:
        """A budget so many times as large."""
        pieces = None if self.pieces is None else round(self.pieces * share)
        money = None if self.money is None else self.money * Decimal(str(share))
        return replace(self, pieces=pieces, money=money)

    @property
    def coins(self) -> tuple[list[int | None], int]:
        """The price of a pack by part, None where it cannot be bought, and the money, in whole units common to all."""
        money = Decimal(0) if self.money is None else self.money
        digits = min(0, *(int(one.as_tuple().exponent) for one in (money, *self.price) if one is not None))
        whole = [None if one is None else int(one.scaleb(-digits)) for one in (*self.price, money)]
        unit = gcd(*(one for one in whole if one)) or 1
        prices = [None if one is None else one // unit for one in whole[:-1]]
        return prices, (whole[-1] or 0) // unit

    def packs(self, part: int, count: int) -> int:
        """How many packs of a part are bought so that so many pieces are there."""
        return max(0, -(-(count - self.on_hand[part]) // self.pack[part]))

    def spent(self, kit: Sequence[int]) -> int | None:
        """What a kit takes of the budget, in the whole units of it; None where it cannot be had."""
        if any(kit[part] > self.on_hand[part] for part in self.not_sold):
            return None
        if self.pieces is not None:
            return sum(kit)
        prices, total = self.coins[0], 0
        for part, count in enumerate(kit):
            if packs := self.packs(part, count):
                price = prices[part]
                if price is None:
                    return None
                total += packs * price
        return total

    @property
    def whole(self) -> int:
        """All of it, in the same units."""
        return self.coins[1] if self.pieces is None else self.pieces

    def allows(self, kit: Sequence[int]) -> bool:
        """Whether it is enough for a kit."""
        spent = self.spent(kit)
        return spent is not None and spent <= self.whole

    def filled(self, kit: Sequence[int]) -> tuple[int, ...]:
        """A kit with all that its whole packs bring and all that lies there, where only money is limited."""
        if self.pieces is not None:
            return tuple(kit)
        packs = [self.packs(part, count) for part, count in enumerate(kit)]
        return tuple(there + n * pack for there, n, pack in zip(self.on_hand, packs, self.pack, strict=True))

    def step(self, part: int) -> int:
        """How many more pieces of a part come at a time."""
        return 1 if self.pieces is not None else self.pack[part]

    @property
    def first(self) -> tuple[int, ...]:
        """What is there before anything is chosen: all that lies in the drawer where only money is limited."""
        return tuple(0 for _ in self.on_hand) if self.pieces is not None else self.on_hand


def cheapest(line: StockLine) -> Offer | None:
    """The offer of a part that costs least a piece; one without a price only where there is no other."""
    priced = [offer for offer in line.offers if offer.price is not None]
    if priced:
        return min(priced, key=lambda offer: ((offer.price or Decimal(0)) / offer.pack, offer.pack, offer.supplier))
    return line.offers[0] if line.offers else None
