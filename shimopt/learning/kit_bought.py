"""What is to be bought now, so that a drawer becomes a kit: packs, prices, postage."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from shimopt.errors import InputError
from shimopt.learning.assortment import Assortment
from shimopt.learning.kit_budget import cheapest
from shimopt.parts import StockLine
from shimopt.parts.part import Offer


@dataclass(frozen=True, slots=True)
class KitLine:
    """One part of a kit: `pieces` to keep of it, `on_hand` now, and the packs that are bought for it.

    `rows`: what is kept from each row of the drawer and of the tables, beside what of that row is on hand. `cost` is
    None where nobody states a price, and 0 where nothing is bought.
    """

    line: StockLine
    pieces: int
    on_hand: int
    packs: int
    offer: Offer | None
    cost: Decimal | None
    rows: tuple[tuple[StockLine, int, int], ...]

    @property
    def brought(self) -> int:
        """How many pieces these packs bring."""
        return self.packs * (self.offer.pack if self.offer else 1)


def kit_lines(found: Assortment, parts: Sequence[StockLine]) -> list[KitLine]:
    """What to keep, part by part, and what to buy for it."""
    lines = []
    for part, rows in _by_part(parts).items():
        kept = tuple((parts[row], found.kit[row], found.budget.on_hand[row]) for row in rows)
        pieces, packs = sum(count for _, count, _ in kept), found.budget.packs(part, found.kit[part])
        offer = cheapest(parts[part])
        price = None if offer is None else price_of(offer, packs)
        if pieces:
            cost = Decimal(0) if not packs else None if price is None else price * packs
            lines.append(KitLine(parts[part], pieces, sum(there for *_, there in kept), packs, offer, cost, kept))
    return lines


def _by_part(parts: Sequence[StockLine]) -> dict[int, list[int]]:
    """The rows of each part: those of the drawer stand with the row by which it is bought, if there is one."""
    bought = {line.part.name: row for row, line in reversed([*enumerate(parts)]) if line.offers}
    found: dict[int, list[int]] = {}
    first: dict[str, int] = {}
    for row, line in enumerate(parts):
        name = line.part.name
        found.setdefault(row if line.offers else bought.get(name, first.setdefault(name, row)), []).append(row)
    return found


def price_of(offer: Offer, packs: int) -> Decimal | None:
    """What one of so many packs costs."""
    return next((price for least, price in reversed(offer.price_from) if packs >= least), offer.price)


def goods_of(lines: Sequence[KitLine]) -> Decimal | None:
    """What all of it costs without postage; None where a price is missing."""
    costs = [line.cost for line in lines]
    return (
        None if any(cost is None for cost in costs) else sum((cost for cost in costs if cost is not None), Decimal(0))
    )


def suppliers_of(lines: Sequence[KitLine]) -> Mapping[str, Decimal]:
    """By supplier, what is bought there."""
    found: dict[str, Decimal] = {}
    for line in lines:
        if line.packs and line.offer is not None:
            found[line.offer.supplier] = found.get(line.offer.supplier, Decimal(0)) + (line.cost or Decimal(0))
    return found


def one_currency(parts: Sequence[StockLine]) -> str:
    """The currency of all prices, empty where nobody names one. Raises InputError where there are several."""
    found = sorted({offer.currency for line in parts for offer in line.offers if offer.price is not None})
    if len(found) > 1:
        rule = f"a budget is in one currency, and prices are in {', '.join(name or 'none named' for name in found)}"
        raise InputError.at("", rule, "leave the others out of the table", where="--parts", value="")
    return found[0] if found else ""
