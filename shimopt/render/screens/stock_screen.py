"""A drawer of the stock on a terminal: a row a lot, with who holds what and until when."""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.errors import shown
from shimopt.parts.drawer import Held
from shimopt.render.screens.laid_table import Cell, Row, table
from shimopt.render.screens.layout import Line, bold, plain
from shimopt.stock.lots import Lot
from shimopt.words.booking_words import held_cell, size
from shimopt.words.speaker import Speaker, plural
from shimopt.words.stock_words import called

_HEAD = ("part", "thickness", "free", "on hand", "held", "on order", "at")
_NUMBERS = ("free", "on hand", "on order")


def stock_lines(drawer: str, lots: Sequence[Lot], held: Sequence[Held], unit: str, width: int) -> list[Line]:
    """All lines of the screen."""
    say = Speaker(unit)
    there, promised = sum(lot.on_hand for lot in lots), sum(lot.promised for lot in lots)
    answer = f"stock:{shown(drawer)}: {plural(there, 'piece')} on hand, {promised} of them held."
    if not lots:
        return [*bold(answer, width), *plain("Fill it from a table: shimopt stock take-in FILE --yes", width)]
    rows = [
        (
            called(lot.part),
            size(lot.part, say),
            str(lot.free),
            str(lot.on_hand),
            held_cell(lot, held),
            str(lot.on_order or ""),
            shown(lot.part.at),
        )
        for lot in lots
    ]
    head = Row(tuple(Cell(name, whole=name in _NUMBERS) for name in _HEAD))
    return [*bold(answer, width), ("", False), *table(head, [Row(tuple(map(Cell, row))) for row in rows], width)]
