"""The bench card as a table, for whoever looks things up in a spreadsheet: all that its page says of every gap."""

from __future__ import annotations

from collections.abc import Iterator

from shimopt.lengths import mm_number
from shimopt.ordering.order_result import Order
from shimopt.render.papers.sheet import bench_cards, told_beside
from shimopt.tables.csv_text import csv_of
from shimopt.words.card_first_words import over_rows
from shimopt.words.card_words import card_rows, readings_text
from shimopt.words.speaker import Speaker

_HEAD = ("gap", "from_mm", "to_mm", "fit", "read", "note")


def card_csv(order: Order, unit: str, *, semicolons: bool = False, exact_names: bool = False) -> str:
    """A row per row of the card, as it is read (under a cover: the cover's gap); readings in mm, and in words.

    What stands over the rows of a gap comes before them, what stands under them after them, as notes; what counts for
    all of them comes last.
    """
    return csv_of(_HEAD, _rows(order, Speaker(unit, order.stock)), semicolons=semicolons, exact_names=exact_names)


def _rows(order: Order, say: Speaker) -> Iterator[tuple[object, ...]]:
    for number, card in enumerate(bench_cards(order, over_rows(order, say), say)):
        yield from ((card["name"], None, None, None, None, note) for note in card["over"])
        yield from ((card["name"], *row, None) for row in _readings(order, number, say))
        if number >= len(order.cards):
            for row in card["rows"]:
                yield card["name"], None, None, row["fit"], row["read"], None
        yield from ((card["name"], None, None, None, None, note) for note in card["notes"])
    yield from ((None, None, None, None, None, note) for note in told_beside(order, say))


def _readings(order: Order, number: int, say: Speaker) -> Iterator[tuple[object, ...]]:
    """From .. to in mm, what to fit, and the reading in words; none of what is read at several gaps."""
    if number >= len(order.cards):
        return
    demand = order.demands[number]
    for row in card_rows(order, number, say):
        if row.ends is None:
            continue
        low, high = row.ends
        start, end = (-high, -low) if demand.gap.reading.opens else (low, high)
        # a row without blades says its readings without a unit
        read = row.read if order.cards[number].rows else readings_text(order, demand, start, end, say)
        yield mm_number(low), mm_number(high), row.fit.removeprefix("fit "), read
