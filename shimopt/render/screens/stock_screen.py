"""A drawer of the stock on a terminal: a row a lot, with who holds what and until when."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from shimopt.errors import shown
from shimopt.render.screens.laid_table import Cell, Row, table
from shimopt.render.screens.layout import Line, bold, plain
from shimopt.stock.lots import Lot
from shimopt.stock.told_of import Told
from shimopt.words.booking_words import held_cell, on_order_cell, origin_cell, size, stocktake_words
from shimopt.words.speaker import Speaker, plural
from shimopt.words.stock_words import called

_HEAD = ("part", "thickness", "free", "on hand", "held", "on order", "at", "from")
_NUMBERS = ("free", "on hand")


def stock_lines(drawer: str, lots: Sequence[Lot], about: Told, say: Callable[[Lot], Speaker], width: int) -> list[Line]:
    """All lines of the screen."""
    there, promised = sum(lot.on_hand for lot in lots), sum(lot.promised for lot in lots)
    answer = f"stock:{shown(drawer)}: {plural(there, 'piece')} on hand, {promised} of them held."
    if not lots:
        return [*bold(answer, width), *plain("Fill it from a table: shimopt stock take-in FILE --yes", width)]
    rows = [
        (
            called(lot.part),
            size(lot.part, say(lot)),
            str(lot.free),
            str(lot.on_hand),
            held_cell(lot, about.held),
            on_order_cell(lot, about.dues.get(lot.id, ())),
            shown(lot.part.at),
            origin_cell(lot.part),
        )
        for lot in lots
    ]
    # of most stocks nobody said who delivered
    kept = len(_HEAD) if any(row[-1] for row in rows) else len(_HEAD) - 1
    head = Row(tuple(Cell(name, whole=name in _NUMBERS) for name in _HEAD[:kept]))
    body = [Row(tuple(map(Cell, row[:kept]))) for row in rows]
    told = plain(stocktake_words(about.stocktake), width) if about.stocktake else []
    return [*bold(answer, width), *told, ("", False), *table(head, body, width)]
