"""An order as plain data: the answer, what is bought of whom, its bench card, and all that is told beside it."""

from __future__ import annotations

from typing import Any

from shimopt.errors import shown
from shimopt.ordering.order_result import Bill, Order
from shimopt.render.papers.sheet import bench_cards
from shimopt.words.adding_words import line_shown
from shimopt.words.bill_words import bill_text, cost_text, days_text, packs_text, topped_text
from shimopt.words.card_first_words import over_rows
from shimopt.words.hole_words import hole_words
from shimopt.words.money_words import bundle_text
from shimopt.words.order_limits_words import (
    assumed_words,
    balance_words,
    caution_lines,
    not_looked_at,
    unanswered_words,
)
from shimopt.words.order_told_words import WORTH_HEAD, jobs_words, left_words, proof_words, why_words, worth_rows
from shimopt.words.order_words import next_words, order_headline
from shimopt.words.speaker import Speaker, unit_name
from shimopt.words.stock_words import coming_words
from shimopt.words.worth_words import worth_notes

# sections whose sentences say what asks for care, and what is done next
_KINDS = {"Not covered": "care", "Not answered": "care", "Cautions": "care", "Next": "do"}


def order_data(order: Order) -> dict[str, Any]:
    """All of an order, as its screen tells it."""
    unit = order.jobs[0].unit
    say = Speaker(unit, order.stock)
    over, titles = over_rows(order, say), [job.title for job in order.jobs]
    assumed = [*coming_words(order.stock, titles), *assumed_words(order)] if order.answered else []
    sections = {
        "Not covered": [hole_words(order, hole, say) for hole in order.holes],
        "Not answered": [unanswered_words(order, left) for left in order.unanswered],
        "Next": next_words(order, over),
        "Cautions": [f"{name}: {words}." for name, words, _ in caution_lines(order, say)],
        "Why": why_words(order),
        "Balance": balance_words(order, say),
        "What each job takes": jobs_words(order),
        "Left in the drawer afterwards": left_words(order),
        "Not looked at": not_looked_at(order),
        "Assumed": assumed,
        "Proof": proof_words(order, say),
    }
    return {
        "title": " + ".join(dict.fromkeys(map(shown, titles))),
        "unit": unit,
        "answered": bool(order.answered),
        "answer": [order_headline(order, over)],
        "about": f"All lengths in {unit_name(unit)}.",
        "bills": [_bill(order, bill) for bill in order.bills],
        "worth": {"head": WORTH_HEAD, "rows": worth_rows(order), "notes": list(worth_notes(order))}
        if worth_rows(order)
        else None,
        "sections": [
            {"heading": heading, "lines": list(lines), "kind": _KINDS.get(heading, "")}
            for heading, lines in sections.items()
            if lines
        ],
        "cards": bench_cards(order, over, say) if order.answered else [],
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
