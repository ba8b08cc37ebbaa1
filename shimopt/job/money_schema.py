"""Money in a job: suppliers and their terms, and what other currencies cost."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BeforeValidator

from shimopt.errors import RefusedError
from shimopt.fields import JobTable, SourceText, Text, plain_number
from shimopt.job.model import Money, Rate, Supplier
from shimopt.parts.part import money_of

__all__ = ["Rates", "SupplierTable", "money_of_job"]

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
