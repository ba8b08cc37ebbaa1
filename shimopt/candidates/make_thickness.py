"""A required thickness from what is on hand: the fewest pieces that come within a tolerance, then the nearest of these.

Pieces whose bores are known to differ do not lie on one another, so they are never put together. A spring washer has no
thickness of its own, so it is left where it lies.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import lcm

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates.sorted_sums import nearest_stack, stacks_between
from shimopt.parts import StockLine
from shimopt.seats import bores_alike

_MOST_STACKS = 200_000


def make_thickness(wanted: int, tolerance: int, stock: Sequence[StockLine], most: int) -> Stack | None:
    """The stack of the fewest pieces on hand whose best estimate is within wanted ± tolerance [nm], the nearest one.

    None where no stack of at most `most` pieces is. Raises TooManyError where more stacks do than can be compared.
    """
    per_nm, sizes = _whole(stock)
    counts = [_usable(line) for line in stock]
    low, high = (wanted - tolerance) * per_nm, (wanted + tolerance) * per_nm
    for pieces in range(1, most + 1):
        found = stacks_between(sizes, counts, pieces, low, high, _MOST_STACKS, fewest=pieces)
        found = [stack for stack in found if bores_alike([stock[i].part for i in stack])]
        if found:
            return min(found, key=lambda stack: (abs(sum(sizes[i] for i in stack) - wanted * per_nm), stack))
    return None


def nearest_thickness(wanted: int, stock: Sequence[StockLine], most: int) -> Stack:
    """The stack on hand, possibly empty, whose best estimate is nearest to `wanted`; then the fewest pieces."""
    per_nm, sizes = _whole(stock)
    tries = []
    # one bore at a time; pieces of unknown bore may join any
    for bore in {line.part.inner for line in stock}:
        counts = [_usable(line) if bores_alike([line.part], bore) else 0 for line in stock]
        tries.append(nearest_stack(sizes, counts, most, wanted * per_nm, wanted * per_nm))
    alike = [stack for stack in tries if bores_alike([stock[i].part for i in stack])]
    return min(
        alike, key=lambda stack: (abs(sum(sizes[i] for i in stack) - wanted * per_nm), len(stack), stack), default=()
    )


def _usable(line: StockLine) -> int:
    return 0 if line.part.is_spring else line.on_hand


def _whole(stock: Sequence[StockLine]) -> tuple[int, list[int]]:
    """Best estimates as whole numbers, and how many of these units make a nanometre."""
    best = [line.part.thickness.best for line in stock]
    per_nm = lcm(*(Fraction(size).denominator for size in best)) if best else 1
    return per_nm, [int(size * per_nm) for size in best]
