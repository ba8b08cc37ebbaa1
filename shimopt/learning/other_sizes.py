"""What sizes that nobody offers yet would add to a drawer: steps between those that there are, or a thicker one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from shimopt.learning.assortment import Assortment, kit_tried
from shimopt.learning.kit_budget import Budget
from shimopt.learning.needs import Need
from shimopt.lengths import Bracket
from shimopt.parts import StockLine

# the same jobs, as other parts would serve them
NeedsWith = Callable[[Sequence[StockLine]], list[Need]]


@dataclass(frozen=True, slots=True)
class Tried:
    """Made-up `sizes` [nm], each at the terms of its neighbour, and how many more jobs of a season a kit with them
    serves.
    """

    sizes: tuple[Fraction, ...]
    more: float


def finer_and_wider(found: Assortment, parts: Sequence[StockLine], needs_with: NeedsWith) -> tuple[Tried, Tried]:
    """What finer steps would add, half of those that there are, and what one size more above the thickest."""
    thick = {line.part.thickness.best: line for line in reversed(parts) if line.offers}
    sizes = sorted(thick)
    between = [(low, Fraction(high - low, 2)) for low, high in pairwise(sizes)]
    step = sizes[-1] - sizes[-2] if len(sizes) > 1 else sizes[-1]

    def tried(made: Sequence[tuple[Fraction, Fraction]]) -> Tried:
        lines = [_thicker(thick[size], by) for size, by in made]
        here = found.budget
        budget = Budget.of([*parts, *lines], [*here.on_hand, *(0 for _ in lines)], here.pieces, here.money)
        kit = (*found.kit, *(0 for _ in lines))
        before, after = kit_tried(needs_with([*parts, *lines]), budget, found.jobs, kit)
        return Tried(tuple(size + by for size, by in made), max(0.0, after - before))

    return tried(between), tried([(sizes[-1], step)])


def _thicker(line: StockLine, by: Fraction) -> StockLine:
    was = line.part.thickness
    bracket = Bracket(was.low + by, was.best + by, was.high + by)
    part = replace(line.part, name=f"{line.part.name} +", thickness=bracket, measured=False, piece=None)
    return replace(line, part=part, on_hand=0)
