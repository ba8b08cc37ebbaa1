"""`[[supplier]]`: on what terms a supplier delivers."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any

from pydantic import BeforeValidator

from shimopt.job.fields import JobTable, Text, wrong
from shimopt.job.model import Supplier

__all__ = ["SupplierTable"]

_MOST_MONEY = 10**9
_MOST_DECIMALS = 6


def _money(value: Any) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, int | Decimal) or not Decimal(value).is_finite():
        raise wrong("money is a number", "write it like 6.50, without quotes; the currency stands in `currency`")
    money = Decimal(value)
    if not 0 <= money <= _MOST_MONEY or -int(money.normalize().as_tuple().exponent) > _MOST_DECIMALS:
        raise wrong("money is from 0 up, with at most six decimals", "write it like 6.50")
    return money


Money = Annotated[Decimal, BeforeValidator(_money)]


class SupplierTable(JobTable):
    """One `[[supplier]]`."""

    name: Text
    postage: Money
    smallest_order: Money = Decimal(0)
    currency: Text | None = None

    def supplier(self) -> Supplier:
        """The supplier as the program uses it."""
        return Supplier(self.name, self.postage, self.smallest_order, self.currency or "")
