"""Money in a job: suppliers and their terms, what other currencies cost, and all its prices in one of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal, localcontext
from typing import Annotated, Any

from pydantic import BeforeValidator

from shimopt.errors import RefusedError
from shimopt.fields import JobTable, SourceText, Text, plain_number
from shimopt.job.model import Money, Rate, Supplier
from shimopt.parts import Offer, StockLine
from shimopt.parts.part import money_of

_MOST_RATE, _RATE_DECIMALS = 10**6, 6


def _money(value: Any) -> Decimal:
    money = plain_number(value)
    if money is None:
        raise RefusedError("money is a number", "write it like 6.50, without quotes; the currency stands in `currency`")
    return money_of(money)


Amount = Annotated[Decimal, BeforeValidator(_money)]


def _rate(value: Any) -> Any:
    return value if isinstance(value, dict) else {"rate": value}


def _rate_number(value: Any) -> Decimal:
    rate = plain_number(value)
    if rate is None or not 0 < rate < _MOST_RATE or -int(rate.normalize().as_tuple().exponent) > _RATE_DECIMALS:
        raise RefusedError(
            f"a rate is a number above 0 and below {_MOST_RATE:,}, with at most {_RATE_DECIMALS} decimals",
            "write what one of this currency costs in the job's: EUR = 0.86",
        )
    return rate


class RateTable(JobTable):
    """One currency of `rates`."""

    rate: Annotated[Decimal, BeforeValidator(_rate_number)]
    source: SourceText | None = None


class SupplierTable(JobTable):
    """One `[[supplier]]`."""

    name: Text
    postage: Amount
    smallest_order: Amount = Decimal(0)
    currency: Text | None = None

    def supplier(self) -> Supplier:
        """The supplier as the program uses it."""
        return Supplier(self.name, self.postage, self.smallest_order, self.currency or "")


Rates = dict[str, Annotated[RateTable, BeforeValidator(_rate)]]


def money_of_job(currency: str | None, rates: Mapping[str, RateTable]) -> Money:
    """The currency of a job and its rates, as the program uses them."""
    return Money(currency or "", {name: Rate(table.rate, table.source or "") for name, table in rates.items()})


# digits enough for any price times any rate: exact
_DIGITS = 60


def in_one_currency(
    stock: Sequence[StockLine], suppliers: Sequence[Supplier], money: Money
) -> tuple[tuple[StockLine, ...], tuple[Supplier, ...], Money]:
    """Stock and suppliers with their money in one currency, as far as there are rates; and which currency that is.

    Where the job names none, it is the one in which something is charged and that has no rate. What has no currency
    keeps none, unless nothing has one.
    """
    if not money.currency and not money.rates:
        return tuple(stock), tuple(suppliers), money
    named = {supplier.name: supplier for supplier in suppliers}
    charged = set(_charged(stock, named)) | {supplier.currency for supplier in suppliers} - {""}
    without = sorted(charged - money.rates.keys())
    currency = money.currency or (without[0] if len(without) == 1 else "")
    if not currency:
        return tuple(stock), tuple(suppliers), money
    rates = {name: rate for name, rate in money.rates.items() if name != currency}
    nameless = "" if charged else currency
    lines = (
        replace(line, offers=tuple(_converted(offer, named, currency, rates, nameless) for offer in line.offers))
        if line.offers
        else line
        for line in stock
    )
    own = _own_currencies(stock, named)
    terms = (_terms(supplier, own.get(supplier.name, ""), currency, rates, nameless) for supplier in suppliers)
    return tuple(lines), tuple(terms), Money(currency, rates)


def _charged(stock: Sequence[StockLine], named: Mapping[str, Supplier]) -> Iterator[str]:
    """The currencies of all prices."""
    for line in stock:
        for offer in line.offers:
            if offer.price is not None and (currency := currency_of(offer, named)):
                yield currency


def currency_of(offer: Offer, named: Mapping[str, Supplier]) -> str:
    """The currency of an offer: its own, else the one that its supplier states."""
    supplier = named.get(offer.supplier)
    return offer.currency or (supplier.currency if supplier and not supplier.as_its_prices else "")


def _own_currencies(stock: Sequence[StockLine], named: Mapping[str, Supplier]) -> dict[str, str]:
    """By supplier, the currency that its prices name: its postage is in it too."""
    found: dict[str, str] = {}
    for line in stock:
        for offer in line.offers:
            if offer.price is not None and (currency := currency_of(offer, named)):
                found.setdefault(offer.supplier, currency)
    return found


def _converted(
    offer: Offer, named: Mapping[str, Supplier], currency: str, rates: Mapping[str, Rate], nameless: str
) -> Offer:
    own = currency_of(offer, named) or nameless
    if own not in rates:
        return replace(offer, currency=own)
    rate = rates[own].rate
    price = None if offer.price is None else _times(offer.price, rate)
    bundles = tuple((packs, _times(each, rate)) for packs, each in offer.price_from)
    return replace(offer, price=price, price_from=bundles, currency=currency, rate=rate, charged_in=own)


def _terms(supplier: Supplier, own: str, currency: str, rates: Mapping[str, Rate], nameless: str) -> Supplier:
    as_its_prices = not supplier.currency and bool(own)
    own = supplier.currency or own or nameless
    if own not in rates:
        return replace(supplier, currency=own, as_its_prices=as_its_prices)
    rate = rates[own].rate
    postage, smallest = _times(supplier.postage, rate), _times(supplier.smallest_order, rate)
    return Supplier(supplier.name, postage, smallest, currency, rate=rate, charged_in=own, as_its_prices=as_its_prices)


def _times(money: Decimal, rate: Decimal) -> Decimal:
    with localcontext(prec=_DIGITS):
        return money * rate
