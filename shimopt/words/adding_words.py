"""Money of an order rounded so that what is shown adds up: lines to goods, goods with postage to a bill, bills in all.

Where a currency is converted, amounts have more decimals than are shown. Each is shown within one coin of what it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import floor

from shimopt.ordering.order_result import Bill, Line, Order


def line_shown(order: Order, line: Line) -> Fraction | None:
    """What a line costs as it is shown beside its bill; None where it has no price."""
    bill = next((one for one in order.bills if one.supplier.name == line.supplier), None)
    lines = [one for one in order.lines if one.supplier == line.supplier]
    if line.cost is None or bill is None or bill.goods is None or line not in lines:
        return line.cost
    costs = [one.cost or Fraction(0) for one in lines]
    return adding(costs, bill_shown(order, bill)[0], order.market.decimals)[lines.index(line)]


def bill_shown(order: Order, bill: Bill) -> tuple[Fraction, Fraction, Fraction]:
    """Goods, top-up and postage of a bill that has all prices, as they are shown."""
    totals = [one.total for one in order.bills]
    known = [total for total in totals if total is not None]
    places = order.market.decimals
    goods, top_up, postage = bill.goods or Fraction(0), bill.top_up, Fraction(bill.supplier.postage)
    total = goods + top_up + postage
    if len(known) == len(totals):
        total = adding(known, rounded(sum(known, Fraction(0)), places), places)[list(order.bills).index(bill)]
    one, two, three = adding([goods, top_up, postage], rounded(total, places), places)
    return one, two, three


def rounded(amount: Fraction, places: int) -> Fraction:
    """To so many decimals, half up, as a till does."""
    return Fraction(floor(amount * 10**places + Fraction(1, 2)), 10**places)


def adding(amounts: Sequence[Fraction], total: Fraction, places: int) -> list[Fraction]:
    """The amounts rounded up or down to so many decimals, those with most to lose up, so that they come to the total.

    Parameter: total, no more than a coin an amount from the sum of them.

    >>> [float(one) for one in adding([Fraction("1.376"), Fraction("0.946")], Fraction("2.32"), 2)]
    [1.38, 0.94]
    """
    coins = [amount * 10**places for amount in amounts]
    down = [floor(coin) for coin in coins]
    left = int(total * 10**places) - sum(down)
    most = sorted(range(len(coins)), key=lambda n: (down[n] - coins[n], n))
    up = {n for n in most[: max(0, left)] if coins[n] > down[n]}
    return [Fraction(coin + (n in up), 10**places) for n, coin in enumerate(down)]
