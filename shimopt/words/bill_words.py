"""What is bought in words: packs of a part, what they cost, what a supplier asks in all, and when it is here."""

from __future__ import annotations

from fractions import Fraction

from shimopt.ordering.order_result import Bill, Line, Order, Topped
from shimopt.words.adding_words import bill_shown, line_shown
from shimopt.words.card_words import gap_text, named
from shimopt.words.money_words import bundle_text, charged_total, money
from shimopt.words.order_part_words import order_part
from shimopt.words.speaker import listed, plural


def cost_text(order: Order, cost: Fraction | None) -> str:
    """A cost, or that it is not known."""
    return "not known" if cost is None else money(order, cost)


def days_text(days: int | None) -> str:
    """When something arrives."""
    return "delivery time not stated" if days is None else plural(days, "day")


def packs_text(order: Order, line: Line) -> str:
    """`2 packs of 10 PS-0.2`, or `2 x PS-0.2` where they come singly."""
    # nobody measures what is still to be sent
    part = order_part(order, line.part).removesuffix(" (not measured)")
    if line.offer.pack > 1:
        return f"{plural(line.packs, 'pack')} of {line.offer.pack} {part}"
    return f"{line.packs} x {part}"


def line_text(order: Order, line: Line) -> str:
    """`2 packs of 10 PS-0.2: 9.20 EUR, 3 days`."""
    amount = line_shown(order, line)
    cost = "no price" if amount is None else f"{money(order, amount)}{bundle_text(order, line)}"
    return f"{packs_text(order, line)}: {cost}, {days_text(line.offer.lead_days)}"


def topped_text(order: Order, more: Topped) -> str:
    """`1 x PS-0.2: 1.20 EUR, may serve front left`; of what only rows take that have theirs, that it is spare."""
    cost = "" if more.line.cost is None else f": {money(order, more.line.cost)}{bundle_text(order, more.line)}"
    tables = [order.tables[number] for number in more.spare_for]
    together = [named(order, table.job, demand.gap.name) for table in tables for demand in table.demands]
    alone = [gap_text(order, gap) for gap in more.gaps]
    spares = more.line.pieces - more.useful if more.useful or not together else 0
    counted = f"{more.useful} " if alone and more.useful and spares else ""
    said = [f"{counted}may serve {listed(alone, 4)}"] if alone and more.useful else []
    said += [f"{spares} spare"] if counted else [f"spare for {listed(alone, 4)}"] if alone and spares else []
    said += [f"spare for {listed(together, 4)}"] if together else []
    return f"{packs_text(order, more.line)}{cost}, {listed(said)}"


def bill_text(order: Order, bill: Bill) -> str:
    """What a supplier asks, and of what it is made up."""
    terms = bill.supplier
    goods, short, sending = bill_shown(order, bill)
    postage = f"postage {money(order, sending)}"
    if bill.goods is None or bill.total is None:
        least = f", smallest order {money(order, Fraction(terms.smallest_order))}" if terms.smallest_order else ""
        return f"not known, for a part has no price ({postage}{least})"
    part = f" of which {money(order, bill.lost)} buys nothing" if bill.filled else " that buys nothing"
    empty = part if bill.lost else ""
    short += bill.beyond
    top_up = f", top-up {money(order, short)}{empty}" if bill.top_up else ""
    total = goods + short + sending
    return f"{money(order, total)} (goods {money(order, goods)}{top_up}, {postage}){charged_total(order, bill)}"
