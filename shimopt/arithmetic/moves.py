"""The order of work at a machine that holds pieces already: a place that is opened is emptied, then filled again."""

from __future__ import annotations

from dataclasses import dataclass

from shimopt.arithmetic.changes import BENCH, DRAWER, ORDER, Changes

__all__ = ["BENCH", "Move", "moves_of"]


@dataclass(frozen=True, slots=True)
class Move:
    """One piece (a stock line's index) from where to where; `out_of` is the place from which it came to the bench."""

    line: int
    source: str
    target: str
    out_of: str | None = None


def moves_of(changes: Changes) -> tuple[Move, ...]:
    """Every piece that is moved, one row each; nothing of a place that stays as it is.

    First all that comes out, own pieces that go back too, then all that goes in, then what is left over to the drawer.
    """
    opened = [change for change in changes if change.changed]
    out = [Move(i, change.place, BENCH) for change in opened for i in change.was_in]
    goes_in = []
    for change in opened:
        back = [Move(i, BENCH, change.place, change.place) for i in change.stays]
        new = [
            Move(piece.line, piece.other, change.place)
            if piece.other in (DRAWER, ORDER)
            else Move(piece.line, BENCH, change.place, piece.out_of)
            if piece.other == BENCH
            else Move(piece.line, BENCH, change.place, piece.other)
            for piece in change.into
        ]
        goes_in += sorted((*back, *new), key=lambda move: move.line)
    over = [
        Move(piece.line, BENCH, DRAWER, change.place)
        for change in opened
        for piece in change.out
        if piece.other == DRAWER
    ]
    return (*out, *goes_in, *sorted(over, key=lambda move: move.line))
