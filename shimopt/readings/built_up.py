"""A gap that is the sum of several dimensions: bore depth + crushed gasket - bearing width and so on.

Every dimension brings an error of its own; the errors are independent (JCGM 100:2008, 5.1.2), each spread evenly over
its ± unless the job says otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from shimopt.lengths import Bracket
from shimopt.probability import Error, Even, Normal, triangular
from shimopt.readings.defaults import DIMENSION_ERROR
from shimopt.readings.reading import Basis, Reading, ReadingError, Term, estimated

__all__ = ["Dimension", "Shape", "built_up_reading", "errors_of_half"]

Shape = Literal["rectangular", "triangular", "normal"]


@dataclass(frozen=True, slots=True)
class Dimension:
    """One dimension [nm]: added to the gap, or taken from it (`sign` -1); `length` is exact where no ± was stated.

    `crush` is by how much a gasket given free is crushed [per cent], `crush_half` how far that may be off.
    """

    name: str
    sign: int
    length: Bracket
    crush: Decimal | None = None
    crush_half: Decimal = Decimal(0)
    shape: Shape = "rectangular"


def errors_of_half(half: Fraction, shape: Shape) -> tuple[Error, ...]:
    """How an error stated as ± `half` is spread; for a normal one ± is taken as two standard uncertainties."""
    if not half:
        return ()
    match shape:
        case "rectangular":
            return (Even(half),)
        case "triangular":
            return triangular(half)
        case "normal":
            # k = 2, as certificates state it (JCGM 100, 6.3.3)
            return (Normal(half**2 / 4),)


def built_up_reading(dimensions: Sequence[Dimension], basis: Basis = "95 %") -> Reading:
    """The sum of all dimensions and how well it is known. Raises ReadingError."""
    if not dimensions:
        raise ReadingError("a built-up gap has at least one dimension", 'write { name = "...", add = "..." }')
    return estimated("built_up", [_term(dimension) for dimension in dimensions], basis)


def _term(dimension: Dimension) -> Term:
    free = dimension.length
    assumed = free.exact
    half = DIMENSION_ERROR if assumed else free.high - free.best
    if dimension.crush is None:
        return Term(
            "dimension",
            dimension.sign * free.best,
            half,
            errors_of_half(half, dimension.shape),
            dimension.name,
            assumed,
        )
    left = 1 - Fraction(dimension.crush) / 100
    best = Fraction(round(free.best * left))
    # both at their worst at once: (free + half) × crush_half, and what is left of half
    by_crush = (abs(free.best) + half) * Fraction(dimension.crush_half) / 100
    errors = (*errors_of_half(half * left, dimension.shape), *errors_of_half(by_crush, "rectangular"))
    return Term(
        "gasket",
        dimension.sign * best,
        half * left + by_crush,
        errors,
        dimension.name,
        assumed,
        Fraction(dimension.crush),
    )
