"""A gap that is the sum of several dimensions: bore depth + crushed gasket - bearing width and so on.

Every dimension brings an error of its own; the errors are independent (JCGM 100:2008, 5.1.2), each spread evenly over
its ± unless the job says otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any

from pydantic import BeforeValidator, model_validator

from shimopt.errors import RefusedError
from shimopt.fields import JobTable, Reach, Text, is_bare
from shimopt.lengths import Bracket
from shimopt.readings.instruments import CRUSH_SPREAD, DIMENSION_ERROR
from shimopt.readings.reading import Basis, Form, Reading, Shape, Term, estimated
from shimopt.readings.value import errors_of_half

_CRUSH = re.compile(
    r"\s*(?P<middle>\d{1,2}(\.\d{1,6})?)\s*%?\s*((±|\+/-)\s*(?P<half>\d{1,2}(\.\d{1,6})?)\s*%?\s*)?", re.ASCII
)


@dataclass(frozen=True, slots=True)
class Dimension:
    """One dimension [nm]: added to the gap, or taken from it (`sign` -1); `length` is exact where no ± was stated.

    `crush` is by how much a gasket given free is crushed [per cent], `crush_half` how far that may be off, None where
    nobody said: then common practice stands for it.
    """

    name: str
    sign: int
    length: Bracket
    crush: Decimal | None = None
    crush_half: Decimal | None = None
    shape: Shape = "rectangular"


def built_up_reading(dimensions: Sequence[Dimension], basis: Basis = "95 %") -> Reading:
    """The sum of all dimensions and how well it is known. Raises RefusedError."""
    if not dimensions:
        raise RefusedError("a built-up gap has at least one dimension", 'write { name = "...", add = "..." }')
    return estimated("built_up", [term for dimension in dimensions for term in _terms(dimension)], basis)


def _terms(dimension: Dimension) -> list[Term]:
    """The term of a dimension, and beside that of a crushed gasket what its crush may be off by."""
    free = dimension.length
    assumed = free.exact
    half = DIMENSION_ERROR if assumed else free.high - free.best
    if dimension.crush is None:
        errors = errors_of_half(half, dimension.shape)
        return [Term("dimension", dimension.sign * free.best, half, errors, dimension.name, assumed)]
    crush, left = Fraction(dimension.crush), 1 - Fraction(dimension.crush) / 100
    spread = crush_spread(crush) if dimension.crush_half is None else Fraction(dimension.crush_half)
    # both at their worst at once: (free + half) × spread, and what is left of half
    by_crush = (abs(free.best) + half) * spread / 100
    errors = errors_of_half(half * left, dimension.shape)
    best = dimension.sign * Fraction(round(free.best * left))
    return [
        Term("gasket", best, half * left, errors, dimension.name, assumed, crush),
        Term(
            "crush",
            Fraction(0),
            by_crush,
            errors_of_half(by_crush, "rectangular"),
            dimension.name,
            dimension.crush_half is None,
            spread,
        ),
    ]


def crush_spread(crush: Fraction) -> Fraction:
    """How far a crush may be off [per cent] where nobody said; it stays from 0 to 100."""
    return min(Fraction(CRUSH_SPREAD), crush, 100 - crush)


def _crush(value: Any) -> tuple[Decimal, Decimal | None]:
    """By how many per cent a gasket is crushed, and how far that may be off, if that is said."""
    found = _CRUSH.fullmatch(str(value)) if isinstance(value, str | int | Decimal) else None
    if found is None or isinstance(value, bool):
        raise RefusedError("crush is from 0 to below 100 per cent", 'write it like 20 or "20 % ± 3 %"')
    middle, half = Decimal(found["middle"]), None if found["half"] is None else Decimal(found["half"])
    if not middle - (half or 0) >= 0 or middle + (half or 0) >= 100:
        raise RefusedError("crush stays from 0 to below 100 per cent", "measure the gasket free and crushed")
    return middle, half


class DimensionTable(JobTable):
    """One entry of `built_up`."""

    name: Text
    add: Reach | None = None
    take: Reach | None = None
    crush: Annotated[tuple[Decimal, Decimal | None], BeforeValidator(_crush)] | None = None
    shape: Shape | None = None

    def dimension(self, shape: Shape) -> Dimension:
        """The dimension as the program uses it; `shape` is that of the gap. Raises RefusedError."""
        length = self.add if self.add is not None else self.take
        if length is None or (self.add is not None and self.take is not None):
            raise RefusedError("a dimension is either added or taken", "write add = ... or take = ...")
        if length.best < 0:
            raise RefusedError("a dimension is not negative", "write it without a sign, with add or take")
        if length.low < 0:
            raise RefusedError("a dimension is not less than nothing by its ±", "measure it again")
        crush, half = self.crush or (None, None)
        return Dimension(self.name, 1 if self.add is not None else -1, length, crush, half, self.shape or shape)

    @model_validator(mode="after")
    def _one_way(self) -> DimensionTable:
        self.dimension("rectangular")
        return self


def _read(tables: Sequence[DimensionTable], shape: Shape, basis: Basis) -> Reading:
    return built_up_reading([table.dimension(shape) for table in tables], basis)


def _bare(written: Any) -> bool:
    return isinstance(written, list) and is_bare([one.get(way) for one in written for way in ("add", "take")])


BUILT_UP = Form(key="built_up", field=list[DimensionTable], read=_read, takes_shape=True, bare=_bare)
