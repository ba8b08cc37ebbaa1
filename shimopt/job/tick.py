"""The largest length that divides every length of a job: what solvers count in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from math import gcd, lcm

from shimopt.job.clusters import Balance
from shimopt.job.gap import Gap
from shimopt.lengths import Bracket
from shimopt.parts import StockLine

__all__ = ["lengths_of", "tick_of"]


def tick_of(lengths: Iterable[Fraction]) -> Fraction:
    """The largest tick that divides all these lengths [nm]."""
    lengths = list(lengths)
    denominator = lcm(*(length.denominator for length in lengths))
    numerator = gcd(*(length.numerator * (denominator // length.denominator) for length in lengths))
    return Fraction(numerator or 1, denominator)


def lengths_of(gaps: Sequence[Gap], balances: Sequence[Balance], stock: Sequence[StockLine]) -> Iterator[Fraction]:
    """Every length that a plan is reckoned with [nm]."""

    def ends(bracket: Bracket) -> tuple[Fraction, ...]:
        return bracket.low, bracket.best, bracket.high

    effects = {Fraction(1)} | {abs(effect) for gap in gaps for _, effect in gap.effects}
    effects |= {abs(end) for gap in gaps if gap.effect_sources for place, _ in gap.effects for end in gap.reach(place)}
    for line in stock:
        for end in ends(line.part.thickness):
            yield from (effect * end for effect in effects)
    for gap in gaps:
        yield from ends(gap.reading.bracket)
        window = gap.window
        yield from (Fraction(limit) for limit in (window.min, window.max, window.target) if limit is not None)
    for balance in balances:
        yield from (Fraction(length) for length in (balance.within, *balance.offset.values()) if length is not None)
