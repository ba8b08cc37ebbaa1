"""A part's name in an order, where a measured piece and a new one of the same name must not be taken for each other."""

from __future__ import annotations

from shimopt.ordering.result import Order
from shimopt.words.speaker import Speaker

__all__ = ["order_part"]


def order_part(order: Order, line: int) -> str:
    """A part's name with its tag; with how thick it is where another of that name is there or on offer.

    Parameter: line, the number of the stock line.
    """
    say = Speaker(order.jobs[0].unit, order.stock)
    name, part = say.part(line), order.stock[line].part
    others = [
        other.part
        for number, other in enumerate(order.stock)
        if number != line and (other.on_hand or other.offers) and say.part(number) == name
    ]
    if all(other.thickness == part.thickness for other in others):
        return name
    if part.measured:
        return f"{name} (measured {say(part.thickness.best)})"
    return f"{name} (not measured)" if any(other.measured for other in others) else f"{name} ({_marked(order, line)})"


def _marked(order: Order, line: int) -> str:
    part, unit = order.stock[line].part, order.jobs[0].unit
    say = Speaker(unit, order.stock)
    low, high = say.bare(part.thickness.low), say(part.thickness.high)
    return f"{low} to {high}" if part.thickness.low != part.thickness.high else high
