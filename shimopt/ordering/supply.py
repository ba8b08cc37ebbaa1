"""What each gap could have: pieces on hand and on offer, and all stacks that they make."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from shimopt.candidates import Scale, TooManyError
from shimopt.ordering.coverage import Coverage
from shimopt.ordering.demand import Demand
from shimopt.ordering.market import Market
from shimopt.parts import StockLine

__all__ = ["coverages_of", "known_exactly", "pieces_there"]

# beyond so many stacks of one gap they are tried with fewer pieces, and the order says that it is not proven
_MOST_STACKS = 60_000


def pieces_there(demands: Sequence[Demand], stock: Sequence[StockLine]) -> list[int]:
    """How many pieces there are of each stock line: on hand, and in the places that have a card."""
    within = Counter(line for demand in demands for line in demand.place.installed)
    return [line.on_hand + within[i] for i, line in enumerate(stock)]


def _supply(demand: Demand, there: Sequence[int], market: Market) -> list[int]:
    """How many pieces of each stock line one gap could have."""
    sold = {buy.line for buy in market.buys}
    return [count + (demand.place.most_pieces if i in sold else 0) for i, count in enumerate(there)]


def known_exactly(
    demand: Demand, stock: Sequence[StockLine], there: Sequence[int], market: Market, scale: Scale
) -> Coverage | None:
    """What would serve if the final reading were exact, some way beyond the range too; None where that is too much."""
    low, high = demand.low - demand.below, demand.high + demand.above
    # all that would serve, also where what is in would stay
    place = replace(demand.place, keep=False)
    exact = replace(demand, place=place, low=low, high=high, below=Fraction(0), above=Fraction(0))
    most = demand.place.most_pieces
    try:
        return Coverage.of(exact, stock, _supply(demand, there, market), (), scale, most, _MOST_STACKS)
    except TooManyError:
        return None


def coverages_of(
    demands: Sequence[Demand], stock: Sequence[StockLine], there: Sequence[int], market: Market, scale: Scale
) -> tuple[list[Coverage], bool]:
    """Every demand's stacks, and whether none was left out."""
    ever: Counter[int] = Counter()
    for demand in demands:
        ever.update(dict.fromkeys({*demand.usable, *demand.place.installed}, demand.place.most_pieces))
    plentiful = frozenset(i for i, n in ever.items() if there[i] >= n)
    found, complete = [], True
    for demand in demands:
        most = demand.place.most_pieces
        supply = _supply(demand, there, market)
        while True:
            try:
                found.append(Coverage.of(demand, stock, supply, plentiful, scale, most, _MOST_STACKS))
                break
            except TooManyError:
                if most == 1:
                    raise
                most, complete = most - 1, False
    return found, complete
