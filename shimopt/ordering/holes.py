"""Readings that no stack serves: how likely they are, why, and what would close them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from shimopt.chance import probability
from shimopt.ordering.coverage import Coverage, Segment
from shimopt.ordering.demand import Demand
from shimopt.parts import StockLine
from shimopt.stacks import Scale

__all__ = ["Hole", "chance_between", "holes_of"]


@dataclass(frozen=True, slots=True)
class Hole:
    """Final readings from .. to [nm] that the card leaves open, and the chance of one of them.

    `cause` is "metal" (even with nothing fitted the gap may be too small, or under a cover too large), "kept back"
    (something on offer would serve, but spending or time forbids it) or "sizes" (nothing on offer serves).
    `finer` is the half-width of a final reading that would close it, `between` the thickness, least and most, of one
    piece that would [nm], `grind` the stock line of a thicker piece that could be ground to it; None where there is
    none.
    """

    gap: int
    start: Fraction
    end: Fraction
    chance: Fraction | float
    cause: str
    finer: Fraction | None = None
    between: tuple[Fraction, Fraction] | None = None
    grind: int | None = None


def chance_between(demand: Demand, start: Fraction, end: Fraction) -> Fraction | float:
    """The chance that the final best estimate lies there: today's best estimate with today's errors and the shift."""
    best = demand.gap.reading.bracket.best
    return probability(demand.gap.reading.errors, start - best, end - best)


def holes_of(
    number: int, coverage: Coverage, open_: Sequence[Segment], stock: Sequence[StockLine], scale: Scale
) -> list[Hole]:
    """The holes of one gap's card, each with its cause and remedies."""
    demand, found = coverage.demand, []
    nothing = _where_nothing_can_help(demand)
    for segment in open_:
        for start, end in _cut(scale.length(segment.start), scale.length(segment.end), nothing):
            if demand.effect < 0:
                metal = nothing is not None and end <= nothing
            else:
                metal = nothing is not None and start >= nothing
            chance = chance_between(demand, start, end)
            if metal:
                # nothing but metal, or knowing the gap better, can help
                finer = _finer(demand, start, end, both=False)
                found.append(Hole(number, start, end, chance, "metal", finer))
                continue
            hopeless = any((s.start < segment.end and segment.start < s.end) or s == segment for s in coverage.hopeless)
            both = start > demand.low and end < demand.high
            between = _between(demand, start, end)
            cause, finer = "sizes" if hopeless else "kept back", _finer(demand, start, end, both=both)
            grind = _to_grind(demand, stock, between)
            found.append(Hole(number, start, end, chance, cause, finer, between, grind))
    return found


def _where_nothing_can_help(demand: Demand) -> Fraction | None:
    """The reading below which (under a cover: above which) the gap may be out of its window with nothing fitted."""
    window = demand.gap.window
    if demand.effect < 0:
        return None if window.min is None else window.min + demand.below
    return None if window.max is None else window.max - demand.above


def _cut(start: Fraction, end: Fraction, at: Fraction | None) -> list[tuple[Fraction, Fraction]]:
    return [(start, end)] if at is None or not start < at < end else [(start, at), (at, end)]


def _finer(demand: Demand, start: Fraction, end: Fraction, *, both: bool) -> Fraction | None:
    """How well the final reading must be known so that the stacks on both sides, or on one, reach over the hole."""
    length = end - start
    half = ((demand.below + demand.above) - length) / 2 if both else min(demand.below, demand.above) - length
    return half if half >= 0 and half < min(demand.below, demand.above) else None


def _between(demand: Demand, start: Fraction, end: Fraction) -> tuple[Fraction, Fraction] | None:
    """The thickness of one piece that serves the whole hole."""
    window, effect = demand.gap.window, abs(demand.effect)
    low: Fraction | None
    high: Fraction | None
    if demand.effect < 0:
        low = None if window.max is None else end + demand.above - window.max
        high = None if window.min is None else start - demand.below - window.min
    else:
        low = None if window.min is None else window.min + demand.below - start
        high = None if window.max is None else window.max - demand.above - end
    low = Fraction(1) if low is None or low <= 0 else low
    if high is None:
        return low / effect, low / effect
    return (low / effect, high / effect) if low <= high else None


def _to_grind(demand: Demand, stock: Sequence[StockLine], between: tuple[Fraction, Fraction] | None) -> int | None:
    if between is None or not demand.place.most_pieces:
        return None
    thick = [
        i for i in demand.usable if stock[i].part.thickness.low >= between[1] and (stock[i].on_hand or stock[i].offers)
    ]
    return min(thick, key=lambda i: (stock[i].part.thickness.low, i), default=None)
