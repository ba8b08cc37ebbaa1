"""An order as plain data: the answer, what is bought of whom, its bench card, and all that is told beside it."""

from __future__ import annotations

from typing import Any

from shimopt.errors import shown
from shimopt.ordering.order_result import Bill, Order
from shimopt.render.papers.sheet import bench_cards
from shimopt.words.adding_words import line_shown
from shimopt.words.bill_words import bill_text, cost_text, days_text, packs_text, topped_text
from shimopt.words.card_first_words import over_rows
from shimopt.words.money_words import bundle_text
from shimopt.words.order_sections import order_sections
from shimopt.words.order_told_words import WORTH_HEAD, worth_rows
from shimopt.words.order_words import order_headline
from shimopt.words.speaker import Speaker, unit_name
from shimopt.words.worth_words import worth_notes

# sections that stand first, and whose sentences say what asks for care, or what is done next
_KINDS = {"Not covered": "care", "Not answered": "care", "Next": "do", "Cautions": "care"}


def order_data(order: Order) -> dict[str, Any]:
    """All of an order, as its screen tells it."""
    unit = order.jobs[0].unit
    say = Speaker(unit, order.stock)
    over, worth = over_rows(order, say), worth_rows(order)
    told = order_sections(order, over, say)
    return {
        "title": " + ".join(dict.fromkeys(shown(job.title) for job in order.jobs)),
        "unit": unit,
        "answered": bool(order.answered),
        "answer": [order_headline(order, over)],
        "about": f"All lengths in {unit_name(unit)}.",
        "bills": [_bill(order, bill) for bill in order.bills],
        "worth": {"head": WORTH_HEAD, "rows": worth, "notes": list(worth_notes(order))} if worth else None,
        "sections": [
            {"heading": heading, "lines": list(told[heading]), "kind": _KINDS.get(heading, "")}
            for heading in dict.fromkeys([*_KINDS, *told])
            if told[heading]
        ],
        "cards": bench_cards(order, over, say),
    }


def _bill(order: Order, bill: Bill) -> dict[str, Any]:
    """What is bought of one supplier: a row per part, what fills its smallest order, and what it asks in all."""
    name = bill.supplier.name
    return {
        "name": shown(name),
        "total": bill_text(order, bill),
        "rows": [
            {
                "what": packs_text(order, line),
                "cost": "no price"
                if line.cost is None
                else f"{cost_text(order, line_shown(order, line))}{bundle_text(order, line)}",
                "arrives": days_text(line.offer.lead_days),
            }
            for line in order.lines
            if line.supplier == name
        ],
        "more": [topped_text(order, one) for one in order.top_up if one.line.supplier == name],
    }
