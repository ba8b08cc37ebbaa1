"""The bench card as a table, for whoever looks things up in a spreadsheet: all that its page says of every gap."""

from __future__ import annotations

from collections.abc import Iterator

from shimopt.lengths import mm_number
from shimopt.ordering.order_result import Order
from shimopt.ordering.readings_together import Table
from shimopt.render.papers.sheet import bench_cards, told_beside
from shimopt.tables.csv_text import csv_of
from shimopt.words.card_first_words import over_rows
from shimopt.words.card_words import card_rows, readings_text
from shimopt.words.speaker import Speaker
from shimopt.words.table_words import table_rows

# where two gaps are read, the first is read from .. to, and the second as the two columns after the notes say
_HEAD = ("gap", "from_mm", "to_mm", "fit", "read", "note", "and_from_mm", "and_to_mm", "then")
_NONE = (None, None, None)


def card_csv(order: Order, unit: str, *, semicolons: bool = False, exact_names: bool = False) -> str:
    """A row per row of the card, as it is read (under a cover: the cover's gap); readings in mm, and in words.

    What stands over the rows of a gap comes before them, what stands under them after them, as notes; what counts for
    all of them comes last.
    """
    return csv_of(_HEAD, _rows(order, Speaker(unit, order.stock)), semicolons=semicolons, exact_names=exact_names)


def _rows(order: Order, say: Speaker) -> Iterator[tuple[object, ...]]:
    for number, card in enumerate(bench_cards(order, over_rows(order, say), say)):
        yield from ((card["name"], None, None, None, None, note, *_NONE) for note in card["over"])
        yield from ((card["name"], *row) for row in _readings(order, number, say))
        if number >= len(order.cards):
            yield from ((card["name"], *row) for row in _together(order, order.tables[number - len(order.cards)], say))
        yield from ((card["name"], None, None, None, None, note, *_NONE) for note in card["notes"])
    yield from ((None, None, None, None, None, note, *_NONE) for note in told_beside(order, say))


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
        yield mm_number(low), mm_number(high), row.fit.removeprefix("fit "), read, None, None, None, row.then or None


def _together(order: Order, table: Table, say: Speaker) -> Iterator[tuple[object, ...]]:
    """The same of the rows of gaps that are read together: first and second reading, as they are read."""
    for row in table_rows(order, table, say):
        ends = [mm_number(end) for pair in row.each for end in pair]
        yield *ends[:2], row.fit, row.read, None, *(ends[2:] or (None, None)), row.then or None
