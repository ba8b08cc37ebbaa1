"""What can be bought, from whom and on what terms."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from itertools import zip_longest

from shimopt.job import Supplier
from shimopt.ordering.refused_terms import currencies_of, refuse_what_cannot_be_compared
from shimopt.parts import Offer, StockLine


@dataclass(frozen=True, slots=True)
class Buy:
    """A pack that can be bought: of which stock line, from which supplier (by number), and on what terms.

    An offer with bundle prices is one of these for each price, all with the number of the `first` of them: from `least`
    to `most` packs (None: without end) its offer's price is that of each, and only one of them is bought.
    """

    line: int
    supplier: int
    offer: Offer
    first: int
    least: int = 1
    most: int | None = None

    def takes(self, packs: int) -> bool:
        """Whether so many packs can be bought at this price."""
        return packs == 0 or (packs >= self.least and (self.most is None or packs <= self.most))


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
    def has_bundles(self) -> bool:
        """Whether any price falls with the number of packs."""
        return any(buy.offer.price_from for buy in self.buys)

    @cached_property
    def decimals(self) -> int:
        """How many decimals money is shown with: two, or as many as anybody charges with."""
        asked = [buy.offer.price / buy.offer.rate for buy in self.buys if buy.offer.price is not None]
        asked += [money / s.rate for s in self.suppliers for money in (s.postage, s.smallest_order)]
        return max([2, *(-int(money.normalize().as_tuple().exponent) for money in asked)])

    @cached_property
    def price_unit(self) -> int:
        """How many of the smallest coin that any price uses make one unit of money."""
        prices = [buy.offer.price for buy in self.buys if buy.offer.price is not None]
        prices += [money for s in self.suppliers for money in (s.postage, s.smallest_order)]
        return int(10 ** max((max(0, -int(price.normalize().as_tuple().exponent)) for price in prices), default=0))

    def coins(self, money: Decimal) -> int:
        """Money in whole smallest coins."""
        return int(money * self.price_unit)

    def pieces(self, packs: Sequence[int]) -> Counter[int]:
        """How many pieces of each stock line so many packs of each buy hold."""
        held: Counter[int] = Counter()
        for buy, count in zip(self.buys, packs, strict=True):
            if count:
                held[buy.line] += count * buy.offer.pack
        return held

    def without(self, unpriced: bool) -> Market:
        """The same market without the offers that name no price, where `unpriced` is false."""
        if unpriced:
            return self
        return self._with([buy for buy in self.buys if buy.offer.price is not None])

    def of(self, senders: Collection[int]) -> Market:
        """The same market with what these suppliers offer, by number."""
        return self._with([buy for buy in self.buys if buy.supplier in senders])

    def _with(self, buys: Sequence[Buy]) -> Market:
        at = {buy.first: number for number, buy in reversed(list(enumerate(buys)))}
        kept = tuple(replace(buy, first=at[buy.first]) for buy in buys)
        return Market(kept, self.suppliers, self.currency, self.late)


def market_of(
    stock: Sequence[StockLine],
    suppliers: Sequence[Supplier],
    files: str,
    within_days: int | None = None,
    currency: str = "",
) -> Market:
    """Everything that the stock's catalogues offer, within so many days where that is asked for.

    `files` names the job files for messages, `currency` the one that the jobs count in, empty where they name none. An
    offer that names no supplier is taken as free of postage. Raises InputError where conditions or currencies are
    missing or do not agree.
    """
    offered = [(i, offer) for i, line in enumerate(stock) for offer in dict.fromkeys(line.offers)]
    refuse_what_cannot_be_compared(stock, offered, suppliers, files, currency)
    named = {s.name: s for s in suppliers}
    used = sorted({offer.supplier for _, offer in offered})
    known = tuple(named.get(name) or _without_terms(name, offered) for name in used)
    buys: list[Buy] = []
    late = 0
    for i, offer in sorted(offered, key=_by_terms):
        if within_days is not None and (offer.lead_days is None or offer.lead_days > within_days):
            late += 1
        else:
            first, supplier = len(buys), used.index(offer.supplier)
            buys += [Buy(i, supplier, at, first, least, most) for at, least, most in _by_numbers(offer)]
    return Market(tuple(buys), known, min(currencies_of(offered, named), default=currency), late)


def _without_terms(name: str, offered: Sequence[tuple[int, Offer]]) -> Supplier:
    """Somebody of whom no terms are asked, who charges as the offers do."""
    priced = (offer for _, offer in offered if offer.supplier == name and offer.price is not None)
    offer = next(priced, Offer(None))
    return Supplier(name, Decimal(0), currency=offer.currency, rate=offer.rate, charged_in=offer.charged_in)


def _by_numbers(offer: Offer) -> Iterator[tuple[Offer, int, int | None]]:
    """The offer at the price of a single pack, then at each bundle price, from how many packs on, up to how many."""
    steps = [(1, offer.price), *offer.price_from]
    for (least, price), (above, _) in zip_longest(steps, steps[1:], fillvalue=(0, None)):
        yield replace(offer, price=price), least, above - 1 if above else None


def as_charged(market: Market, packs: Sequence[int]) -> tuple[int, ...]:
    """So many packs of each offer at the price that its supplier charges for so many."""
    if not market.has_bundles:
        return tuple(packs)
    total: dict[int, int] = {}
    for buy, count in zip(market.buys, packs, strict=True):
        total[buy.first] = total.get(buy.first, 0) + count
    return tuple(total[buy.first] if buy.takes(total[buy.first]) else 0 for buy in market.buys)


def _by_terms(found: tuple[int, Offer]) -> tuple[object, ...]:
    """An order of offers that does not depend on the rows they stood on."""
    line, offer = found
    unpriced, price = offer.price is None, offer.price or Decimal(0)
    unsaid, days = offer.lead_days is None, offer.lead_days or 0
    return line, offer.supplier, offer.pack, unpriced, price, offer.price_from, unsaid, days, offer.currency


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


def least_charge(market: Market, suppliers: Collection[int], goods: int = 0) -> int:
    """What these suppliers ask for together [coins]: postage, and their smallest orders or, if more, the goods.

    Parameter: goods, what all that is bought costs at least.
    """
    terms = [market.suppliers[supplier] for supplier in suppliers]
    postage = sum(market.coins(t.postage) for t in terms)
    return postage + max(goods, sum(market.coins(t.smallest_order) for t in terms))


def least_days(market: Market, suppliers: Collection[int]) -> int:
    """When all of these suppliers can have sent something, as the level `arrival` counts it."""
    days: dict[int, int] = {}
    for number, buy in enumerate(market.buys):
        if buy.supplier in suppliers:
            days[buy.supplier] = min(days_of(market, number), days.get(buy.supplier, days_of(market, number)))
    return max(days.values(), default=0)


def bills_of(market: Market, packs: Sequence[int]) -> dict[int, tuple[int, int, int]]:
    """By supplier: goods, top-up to the smallest order, and the total with postage [coins]; no price counts nothing.

    Parameter: packs, how many are bought of each of the market's buys; they cost what is charged for so many.
    """
    goods: dict[int, int] = {}
    for buy, count in zip(market.buys, as_charged(market, packs), strict=True):
        if count:
            goods[buy.supplier] = goods.get(buy.supplier, 0) + count * market.coins(buy.offer.price or Decimal(0))
    bills = {}
    for supplier, amount in sorted(goods.items()):
        terms = market.suppliers[supplier]
        top_up = max(0, market.coins(terms.smallest_order) - amount)
        bills[supplier] = (amount, top_up, amount + top_up + market.coins(terms.postage))
    return bills
