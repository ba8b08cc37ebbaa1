"""What can be bought, from whom and on what terms; whatever cannot be compared is refused."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from shimopt.errors import InputError, Problem, nearest_name
from shimopt.job import Supplier
from shimopt.parts import Offer, StockLine

__all__ = ["Buy", "Market", "arrival_of", "arrival_steps", "bills_of", "days_of", "least_charge", "market_of"]


@dataclass(frozen=True, slots=True)
class Buy:
    """A pack that can be bought: of which stock line, from which supplier (by number), and on what terms."""

    line: int
    supplier: int
    offer: Offer


@dataclass(frozen=True)
class Market:
    """All packs on offer in natural order of parts, then of suppliers; `currency` is the one that all prices are in.

    `late` counts the offers left out because they come too late, or because nobody says when.
    """

    buys: tuple[Buy, ...]
    suppliers: tuple[Supplier, ...]
    currency: str
    late: int = 0

    @cached_property
    def price_unit(self) -> int:
        """How many of the smallest coin that any price uses make one unit of money."""
        prices = [buy.offer.price for buy in self.buys if buy.offer.price is not None]
        prices += [money for s in self.suppliers for money in (s.postage, s.smallest_order)]
        return int(10 ** max((max(0, -int(price.normalize().as_tuple().exponent)) for price in prices), default=0))

    def coins(self, money: Decimal) -> int:
        """Money in whole smallest coins."""
        return int(money * self.price_unit)

    def without(self, unpriced: bool) -> Market:
        """The same market without the offers that name no price, where `unpriced` is false."""
        kept = self.buys if unpriced else tuple(buy for buy in self.buys if buy.offer.price is not None)
        return Market(kept, self.suppliers, self.currency, self.late)


def market_of(
    stock: Sequence[StockLine], suppliers: Sequence[Supplier], files: str, within_days: int | None = None
) -> Market:
    """Everything that the stock's catalogues offer, within so many days where that is asked for.

    `files` names the job files for messages. An offer that names no supplier is taken as free of postage. Raises
    InputError where conditions or currencies are missing or do not agree.
    """
    offered = [(i, offer) for i, line in enumerate(stock) for offer in dict.fromkeys(line.offers)]
    problems = [*_unknown_suppliers(stock, offered, suppliers, files), *_mixed_money(stock, offered, suppliers, files)]
    if problems:
        raise InputError(problems)
    named = {s.name: s for s in suppliers}
    used = sorted({offer.supplier for _, offer in offered})
    known = tuple(named.get(name, Supplier(name, Decimal(0))) for name in used)
    buys, late = [], 0
    for i, offer in sorted(offered, key=_by_terms):
        if within_days is not None and (offer.lead_days is None or offer.lead_days > within_days):
            late += 1
        else:
            buys.append(Buy(i, used.index(offer.supplier), offer))
    return Market(tuple(buys), known, min(_currencies(offered, named), default=""), late)


def _by_terms(found: tuple[int, Offer]) -> tuple[object, ...]:
    """An order of offers that does not depend on the rows they stood on."""
    line, offer = found
    unpriced, price = offer.price is None, offer.price or Decimal(0)
    unsaid, days = offer.lead_days is None, offer.lead_days or 0
    return line, offer.supplier, offer.pack, unpriced, price, unsaid, days, offer.currency


def arrival_steps(market: Market) -> list[int]:
    """The days on which something could come, in order; where nobody says, a day after all the others."""
    known = sorted({buy.offer.lead_days for buy in market.buys if buy.offer.lead_days is not None} - {0})
    unsaid = any(buy.offer.lead_days is None for buy in market.buys)
    return [*known, (known[-1] if known else 0) + 1] if unsaid else known


def days_of(market: Market, number: int) -> int:
    """When a pack comes, as the level `arrival` counts it."""
    days = market.buys[number].offer.lead_days
    return arrival_steps(market)[-1] if days is None else days


def arrival_of(offers: Sequence[Offer]) -> int | None:
    """When the last of some offers is there; None where nobody says."""
    days = [offer.lead_days for offer in offers]
    return None if None in days else max((day for day in days if day is not None), default=0)


def least_charge(market: Market, suppliers: Collection[int]) -> int:
    """What these suppliers ask for together however little is bought: postage and smallest orders [coins]."""
    terms = [market.suppliers[supplier] for supplier in suppliers]
    return sum(market.coins(t.postage) + market.coins(t.smallest_order) for t in terms)


def bills_of(market: Market, packs: Sequence[int]) -> dict[int, tuple[int, int, int]]:
    """By supplier: goods, top-up to the smallest order, and the total with postage [coins]; no price counts nothing.

    Parameter: packs, how many are bought of each of the market's buys.
    """
    goods: dict[int, int] = {}
    for buy, count in zip(market.buys, packs, strict=True):
        if count:
            goods[buy.supplier] = goods.get(buy.supplier, 0) + count * market.coins(buy.offer.price or Decimal(0))
    bills = {}
    for supplier, amount in sorted(goods.items()):
        terms = market.suppliers[supplier]
        top_up = max(0, market.coins(terms.smallest_order) - amount)
        bills[supplier] = (amount, top_up, amount + top_up + market.coins(terms.postage))
    return bills


def _currency(offer: Offer, named: dict[str, Supplier]) -> str:
    """The currency of an offer: its own, else its supplier's."""
    supplier = named.get(offer.supplier)
    return offer.currency or (supplier.currency if supplier else "")


def _currencies(offered: Sequence[tuple[int, Offer]], named: dict[str, Supplier]) -> set[str]:
    return {_currency(offer, named) for _, offer in offered if offer.price is not None} - {""}


def _unknown_suppliers(
    stock: Sequence[StockLine], offered: Sequence[tuple[int, Offer]], suppliers: Sequence[Supplier], files: str
) -> Iterator[Problem]:
    names = [supplier.name for supplier in suppliers]
    first: dict[str, int] = {}
    for i, offer in offered:
        if offer.supplier and offer.supplier not in names:
            first.setdefault(offer.supplier, i)
    for name, i in sorted(first.items()):
        meant = nearest_name(name, names)
        yield Problem(
            files,
            "[[supplier]]",
            name,
            f"postage and smallest order of this supplier are not known ({stock[i].part.name} is offered by it)",
            (f"did you mean {meant}? Else " if meant else "")
            + f'add [[supplier]] with name = "{name}" and postage = ... (0 where there is none)',
        )


def _mixed_money(
    stock: Sequence[StockLine], offered: Sequence[tuple[int, Offer]], suppliers: Sequence[Supplier], files: str
) -> Iterator[Problem]:
    named = {s.name: s for s in suppliers}
    traded = {offer.supplier for _, offer in offered}
    currencies = _currencies(offered, named) | {s.currency for s in suppliers if s.currency and s.name in traded}
    if len(currencies) > 1:
        yield Problem(
            "catalogues",
            "column currency",
            ", ".join(sorted(currencies)),
            "prices in several currencies cannot be added",
            "give all prices in one currency",
        )
    if not currencies:
        return
    for i, offer in offered:
        if offer.price is not None and not _currency(offer, named):
            yield Problem(
                offer.catalogue,
                f"part {stock[i].part.name}, column currency",
                str(offer.price),
                f"this price has no currency, and others are in {', '.join(sorted(currencies))}",
                "fill in the currency of every price, or that of its supplier",
            )
    for supplier in suppliers:
        priced = {_currency(o, named) for _, o in offered if o.supplier == supplier.name and o.price is not None}
        if supplier.name in traded and supplier.postage and not supplier.currency and not priced:
            yield Problem(
                files,
                f'[[supplier]] "{supplier.name}", postage',
                str(supplier.postage),
                f"this postage has no currency, and prices are in {', '.join(sorted(currencies))}",
                "add currency = ...",
            )
