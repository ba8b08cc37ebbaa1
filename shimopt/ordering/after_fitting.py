"""What a gap comes to by a row of its card, and how far a piece may be off its label so that all rows still serve."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from shimopt.arithmetic.clearance import Stack, change_of, times, turnover
from shimopt.lengths import Bracket
from shimopt.ordering.cards import Card
from shimopt.ordering.demand import Demand
from shimopt.parts import StockLine


def after_fitting(
    demand: Demand, stack: Stack, stock: Sequence[StockLine], start: Fraction, end: Fraction
) -> tuple[Fraction, Fraction]:
    """From where to where the gap then lies, where its best estimate was from start to end [nm].

    Beyond today's range a reading that alone would not do counts with today's: the gap lies where the two meet.
    """
    moved = times(demand.effect, change_of(demand.place, stack, stock), demand.gap.reach(demand.place.name))
    low, high = start - demand.below, end + demand.above
    beyond = start < demand.low or end > demand.high
    if beyond and demand.gap.window.out(low + moved.low, high + moved.high):
        low, high = max(low, demand.low), min(high, demand.high)
    return low + moved.low, high + moved.high


def still_serving(demand: Demand, card: Card, stock: Sequence[StockLine]) -> dict[int, Bracket]:
    """By stock line that goes in by any row, how thick a piece of it may be found so that all its rows still serve.

    However many pieces of a row are off at once, all the same way: each has its share of the room that the row leaves.
    Where a row leaves none, it is what the label says and no more.
    """
    room: dict[int, Fraction] = {}
    for stack, left in _rows_with_room(demand, card, stock):
        into = turnover(demand.place.installed, stack)[0]
        for i in into:
            each = left / (len(into) * demand.moves[1])
            room[i] = min(room.get(i, each), each)
    thick = {i: stock[i].part.thickness for i in sorted(room)}
    return {i: Bracket(one.low - room[i], one.best, one.high + room[i]) for i, one in thick.items()}


def least_room(demand: Demand, card: Card, stock: Sequence[StockLine]) -> Fraction:
    """How much further off a reading may be with which all rows still serve [nm]."""
    return min((left for _, left in _rows_with_room(demand, card, stock)), default=Fraction(0))


def _rows_with_room(demand: Demand, card: Card, stock: Sequence[StockLine]) -> Iterator[tuple[Stack, Fraction]]:
    """The stack of every row, and how far what it comes to keeps from the window's ends [nm]."""
    for stack, low, high in fitted_rows(demand, card):
        least, most = after_fitting(demand, stack, stock, low, high)
        window = demand.gap.window
        ends = [least - window.min] if window.min is not None else []
        ends += [window.max - most] if window.max is not None else []
        yield stack, max(Fraction(0), min(ends, default=Fraction(0)))


def fitted_rows(demand: Demand, card: Card) -> Iterator[tuple[Stack, Fraction, Fraction]]:
    """Every row that is shown and fits something or nothing, with the best estimates that it stands for: from .. to."""
    sign = demand.gap.reading.sign
    for row in card.rows:
        if row.stack is not None:
            middle = sign * (row.go + row.no_go) / 2
            yield row.stack, middle, middle
    if not card.rows:
        yield from ((band.stack, band.start, band.end) for band in card.bands)
