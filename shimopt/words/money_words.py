"""Money as it is said: in the order's currency, as a supplier charges it, and what the one costs in the other."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from decimal import Decimal
from fractions import Fraction
from math import floor
from typing import TYPE_CHECKING

from shimopt.errors import shown
from shimopt.job import Job, Supplier

# a plan speaks of money too, and makes no order
if TYPE_CHECKING:
    from shimopt.ordering.order_result import Bill, Line, Order


def money(order: Order, amount: Fraction) -> str:
    """An amount in the order's currency, where one is named."""
    return _amount(order, amount, order.market.currency)


def charged_text(order: Order, terms: Supplier, amount: Fraction) -> str:
    """An amount of the order's money as this supplier charges it."""
    return _amount(order, amount / Fraction(terms.rate), charged_in(order, terms))


def charged_in(order: Order, terms: Supplier) -> str:
    """The currency that a supplier charges in."""
    return terms.charged_in or order.market.currency


def charged_total(order: Order, bill: Bill) -> str:
    """`, charged as 14.00 EUR` where that is not the order's currency."""
    if bill.total is None or not bill.supplier.charged_in:
        return ""
    return f", charged as {charged_text(order, bill.supplier, bill.total + bill.beyond)}"


def each_text(order: Order, line: Line) -> str:
    """The price of a pack of a line that has one, as its supplier charges it."""
    offer = line.offer
    return _amount(order, Fraction(offer.price or 0) / Fraction(offer.rate), offer.charged_in or order.market.currency)


def least_of_bundle(line: Line) -> int | None:
    """From how many packs on a line's price holds; None where it is the price of a single one."""
    return next((least for least, price in line.offer.price_from if price == line.offer.price), None)


def bundle_text(order: Order, line: Line) -> str:
    """` (0.80 EUR each from 10 on)` where a bundle price was taken: as its supplier charges it."""
    least = least_of_bundle(line)
    return "" if least is None else f" ({each_text(order, line)} each from {least} on)"


def rate_words(jobs: Iterable[Job], used: Collection[str]) -> list[str]:
    """What the other currencies that are used are taken to cost, and who says so."""
    said = {}
    for job in jobs:
        for name, rate in job.money.rates.items():
            if name in used:
                source = shown(rate.source) or "as the job says; no source is named"
                said[name] = f"One {shown(name)} costs {rate.rate:f} {shown(job.money.currency)}: {source}."
    return list(said.values())


def _amount(order: Order, amount: Fraction, currency: str) -> str:
    places = order.market.decimals
    coins = floor(amount * 10**places + Fraction(1, 2))  # half up, as a till does
    text = f"{Decimal(coins).scaleb(-places):,.{places}f}"
    return f"{text} {shown(currency)}" if currency else text
