"""An order as plain data: what the order's screen says, section by section, and its bench card."""

from __future__ import annotations

from typing import Any

from shimopt.ordering.order_result import Order
from shimopt.render.papers.sheet import bench_cards
from shimopt.render.screens.order_screen import order_lines
from shimopt.words.card_first_words import over_rows
from shimopt.words.speaker import Speaker

_WIDE = 100_000


def order_data(order: Order) -> dict[str, Any]:
    """The answer, its sections, and a card per gap."""
    unit = order.jobs[0].unit
    say = Speaker(unit, order.stock)
    blocks: list[list[tuple[str, bool]]] = [[]]
    for text, bold in order_lines(order, unit, _WIDE):
        if text:
            blocks[-1].append((text, bool(bold)))
        else:
            blocks.append([])
    answer, *rest = [block for block in blocks if block]
    return {
        "title": " + ".join(dict.fromkeys(job.title for job in order.jobs)),
        "unit": unit,
        "answered": bool(order.answered),
        "answer": [text for text, _ in answer],
        # the card stands below as a table
        "sections": [_section(block) for block in rest if not block[0][0].startswith("Bench card")],
        "cards": bench_cards(order, over_rows(order, say), say) if order.answered else [],
    }


def _section(block: list[tuple[str, bool]]) -> dict[str, Any]:
    """A heading where the first line is one, and what stands under it, with how far it is set in."""
    first, *others = block
    lines = [
        # what stands in columns is kept as it is
        {"text": text if (columns := "  " in text.strip()) else text.strip(), "columns": columns, "in": _set_in(text)}
        for text, _ in others
    ]
    return {"heading": first[0].strip(), "lines": lines}


def _set_in(text: str) -> int:
    return min(3, (len(text) - len(text.lstrip())) // 2)
