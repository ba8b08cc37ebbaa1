"""The order checked again by plain arithmetic; knows no solver and none of the search's sums."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from fractions import Fraction

from shimopt.arithmetic.clearance import Stack, change_of, stands_out, times
from shimopt.errors import FaultError
from shimopt.lengths import Bracket
from shimopt.ordering.cards import Card
from shimopt.ordering.demand import Demand
from shimopt.ordering.unserved_readings import Hole
from shimopt.parts import StockLine


def surely_inside(demand: Demand, reading: Fraction, stack: Stack, stock: Sequence[StockLine]) -> bool:
    """Whether a gap whose final reading's best estimate is this one is inside at every corner with this stack."""
    moved = times(demand.effect, change_of(demand.place, stack, stock), demand.gap.reach(demand.place.name))
    low, high = reading - demand.below + moved.low, reading + demand.above + moved.high
    return stands_out(Bracket(low, low, high), demand.gap.window) == 0


def _suits(demand: Demand, stack: Stack) -> bool:
    """Whether a stack may go in: what suits, not too many and not too few pieces, or what is in, or nothing."""
    place = demand.place
    if stack == place.installed or (not stack and not place.fewest_pieces):
        return True
    return set(stack) <= set(demand.usable) and place.fewest_pieces <= len(stack) <= place.most_pieces


def recheck(
    demands: Sequence[Demand],
    cards: Sequence[Card],
    holes: Sequence[Hole],
    there: Mapping[int, int],
    stock: Sequence[StockLine],
) -> None:
    """Raise FaultError unless every card is sure, gapless but for the holes told, and all of them work at once.

    `there` counts the pieces of each stock line once the order is there.
    """
    needed: Counter[int] = Counter()
    for number, (demand, card) in enumerate(zip(demands, cards, strict=True)):
        name = demand.gap.name
        for band in card.bands:
            if not _suits(demand, band.stack):
                raise FaultError(f"the card of {name} fits what does not suit its seat")
            ends = [band.start, band.end]
            if demand.by_blades:
                ends = [middle for middle in demand.pairs if band.start <= middle <= band.end]
            if not ends or not all(surely_inside(demand, reading, band.stack, stock) for reading in ends):
                raise FaultError(f"the card of {name} is not sure from {band.start} to {band.end} nm")
        told = sorted(
            [(band.start, band.end) for band in card.bands]
            + [(hole.start, hole.end) for hole in holes if hole.gap == number]
        )
        reached = demand.low
        for start, end in told:
            if start > reached:
                raise FaultError(f"the card of {name} says nothing about {reached} to {start} nm")
            reached = max(reached, end)
        if reached < demand.high or not told:
            raise FaultError(f"the card of {name} says nothing above {reached} nm")
        stays = any(hole.gap == number for hole in holes)
        needed += card.most_of | Counter(demand.place.installed if stays else ())
    for line, count in needed.items():
        if count > there.get(line, 0):
            raise FaultError(f"{count} of {stock[line].part.name} are needed at once, and there are not so many")
