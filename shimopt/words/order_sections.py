"""The sections of an order that are sentences under a heading: the same on every screen and page."""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.ordering.order_result import Order
from shimopt.ordering.unserved_together import open_together
from shimopt.words.card_first_words import OverRows
from shimopt.words.hole_words import hole_words
from shimopt.words.order_balance_words import balance_words
from shimopt.words.order_limits_words import (
    assumed_words,
    caution_lines,
    not_looked_at,
    unanswered_words,
)
from shimopt.words.order_told_words import jobs_words, left_words, proof_words, why_words
from shimopt.words.order_words import next_words
from shimopt.words.speaker import Speaker
from shimopt.words.stock_words import coming_words
from shimopt.words.table_words import open_words, without_limits_words


def order_sections(order: Order, over: OverRows, say: Speaker) -> dict[str, Sequence[str]]:
    """What stands under each heading, in the screen's order; nothing where there is nothing to tell."""
    titles = [job.title for job in order.jobs]
    limits = {"open" if any(table.open for table in order.tables) else "unanswered": without_limits_words(order)}
    return {
        "Not covered": [*_not_covered(order, say), *limits.get("open", [])],
        "Not answered": [*(unanswered_words(order, left) for left in order.unanswered), *limits.get("unanswered", [])],
        "Why": why_words(order),
        "Balance": balance_words(order, say),
        "Cautions": [f"{name}: {words}." for name, words, _ in caution_lines(order, say)],
        "What each job takes": jobs_words(order),
        "Left in the drawer afterwards": left_words(order),
        "Not looked at": not_looked_at(order),
        "Assumed": [*coming_words(order.stock, titles), *assumed_words(order)] if order.answered else [],
        "Proof": proof_words(order, say),
        "Next": next_words(order, over),
    }


def _not_covered(order: Order, say: Speaker) -> list[str]:
    alone = [hole_words(order, hole, say) for hole in order.holes]
    together = [(table, one) for table in order.tables for one in open_together(order.jobs[table.job], table)]
    return alone + [open_words(order, table, one, say) for table, one in together]
