"""What a lot is told to be beside its thickness, and when two are the same as far as a table can say."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any, Generic, TypeVar

from shimopt.parts.part import Part

# a table holds whole nanometres, and ends that are rounded outward
_ROUNDED = 2
# the columns that hold each
DESCRIBED: dict[str, tuple[str, ...]] = {
    "at": ("lies_at",),
    "note": ("note",),
    "inner": ("inner_low_nm", "inner_high_nm"),
    "outer": ("outer_low_nm", "outer_high_nm"),
    "edge": ("edge_nm",),
    "material": ("material",),
    "form": ("form",),
    "hardness": ("hardness",),
    "supplier": ("supplier",),
    "lot": ("lot",),
    "tolerance": ("tolerance_above_nm", "tolerance_below_nm"),
}
_T = TypeVar("_T")


def described(part: Part, what: str) -> list[Any]:
    """What a part is told to be, as the columns of `DESCRIBED` hold it."""
    value = getattr(part, what)
    if what in ("inner", "outer"):
        return [None, None] if value is None else [value.low.__floor__(), value.high.__ceil__()]
    if what == "tolerance":
        return [None, None] if value is None else list(value)
    return [value]


def near(one: list[Any], other: list[Any]) -> bool:
    """Whether cells are the same as far as a table can say."""
    if one == other:
        return True
    numbers = all(isinstance(cell, int) for cell in (*one, *other))
    return numbers and all(abs(here - there) <= _ROUNDED for here, there in zip(one, other, strict=True))


def alike(one: Part, other: Part) -> bool:
    """Whether two parts are the same as far as a table can say."""
    ends = ((one.thickness.low, other.thickness.low), (one.thickness.high, other.thickness.high))
    near_by = all(abs(here - there) <= _ROUNDED for here, there in ends)
    return (one.name, one.piece, one.measured) == (other.name, other.piece, other.measured) and near_by


class ByPart(Generic[_T]):
    """Things that are each of a part, found by it among many without looking at all of them."""

    def __init__(self, things: Iterable[tuple[Part, _T]]) -> None:
        self._named = defaultdict[tuple[str, str | None], list[tuple[Part, _T]]](list)
        for part, thing in things:
            self._named[part.name, part.piece].append((part, thing))

    def called(self, part: Part) -> Sequence[_T]:
        """Those of its name and tag."""
        return [thing for _, thing in self._named.get((part.name, part.piece), ())]

    def alike(self, part: Part) -> _T | None:
        """The first that is the same as far as a table can say."""
        named = self._named.get((part.name, part.piece), ())
        return next((thing for other, thing in named if alike(other, part)), None)
