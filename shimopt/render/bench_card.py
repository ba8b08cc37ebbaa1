"""The content of the bench card on paper as plain data: a page of its own, or the last one of the bench sheet."""

from __future__ import annotations

from typing import Any

from shimopt import __version__
from shimopt.errors import shown
from shimopt.ordering.result import Order
from shimopt.words.card_words import card_notes, card_rows, gap_text
from shimopt.words.caution_words import BENCH_CAUTIONS, LICENSED
from shimopt.words.limits_words import limits_text, read_how
from shimopt.words.order_limits_words import caution_lines, end_rows_words, not_looked_at, unanswered_words
from shimopt.words.order_words import order_headline, packs_text
from shimopt.words.speaker import Speaker

__all__ = ["bench_cards", "card_content"]


def card_content(order: Order, unit: str, date: str) -> dict[str, Any]:
    """Everything that stands on the bench card. `date` is ISO, with the offset where it has a time."""
    say = Speaker(unit, order.stock)
    about = order.jobs[0].about
    return {
        "kind": "card",
        "title": " + ".join(dict.fromkeys(shown(job.title) for job in order.jobs)),
        "machine": shown(about.get("machine", ""), 400) if len(order.jobs) == 1 else "",
        "shop": shown(about.get("shop", ""), 400),
        "date": date,
        "units": f"All lengths in {unit}.",
        "answer": order_headline(order),
        "cards": bench_cards(order, say),
        "told": _told(order, say),
        "cautions": [*BENCH_CAUTIONS, LICENSED],
        "sign": ["Read by, date", "Fitted by, date", "Instrument"],
        "made": f"shimopt {__version__}",
    }


def bench_cards(order: Order, say: Speaker) -> list[dict[str, Any]]:
    """Per gap: what is allowed, how it is read, the rows in rising order, and what counts beyond them."""
    return [
        {
            "name": gap_text(order, number),
            "allowed": limits_text(demand.gap.window, say),
            "how": read_how(demand.gap.reading),
            "rows": [{"read": row.read, "fit": row.fit, "hole": row.hole} for row in card_rows(order, number, say)],
            "notes": list(card_notes(order, number, say)),
        }
        for number, demand in enumerate(order.demands)
    ]


def _told(order: Order, say: Speaker) -> list[str]:
    """What the bench must know beside the rows."""
    lines = [packs_text(order, line) for line in order.lines]
    return [
        *([f"The rows count on this order having come: {'; '.join(lines)}."] if lines else []),
        *(unanswered_words(order, left) for left in order.unanswered),
        *(f"{name}: {words}." for name, words, _ in caution_lines(order, say)),
        *not_looked_at(order),
        end_rows_words(),
    ]
