"""What is read at a cover: pulled down without shims, between cover and case, and once more with all closed up.

Between cover and case the gap is minus the reading, and shims open it. `after_cover = { ... }` is a second reading of
the same gap, by blades or as a value, with the machine closed up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated

from pydantic import BeforeValidator, StrictBool, model_validator

from shimopt.errors import RefusedError
from shimopt.fields import Reach, is_bare, one_or_more
from shimopt.lengths import Bracket
from shimopt.readings.feeler import BladesTable, FeelerTable, Spot, blade_pair, feeler_reading
from shimopt.readings.reading import Basis, Form, Reading, Shape
from shimopt.readings.value import value_reading


def cover_reading(spots: Sequence[Spot], value: Bracket | None) -> Reading:
    """The gap that a reading between cover and case means, by blades or as a number. Raises RefusedError."""
    if (value is None) == (not spots):
        raise RefusedError("a cover gap is read by blades or as a value", "give go and no_go, snug and step, or value")
    if value is not None and value.low < 0:
        raise RefusedError("a gap under a cover is not negative", "write what was read between cover and case")
    read = feeler_reading(spots) if value is None else value_reading(value)
    return replace(read.negated(), kind="cover_gap")


class CoverTable(FeelerTable):
    """One spot of `cover_gap = { ... }`, or its value."""

    value: Reach | None = None
    # whether the shims that are listed as installed were under the cover while it was read
    shims_in: StrictBool | None = None

    @model_validator(mode="after")
    def _can_be_read(self) -> CoverTable:
        _read([self], "rectangular", "worst case")
        return self


def _read(spots: Sequence[CoverTable], _shape: Shape, _basis: Basis) -> Reading:
    values = [spot.value for spot in spots if spot.value is not None]
    if values and (len(spots) > 1 or spots[0].model_fields_set - {"value", "shims_in", "checked"}):
        raise RefusedError("a cover gap is read by blades or given as one value, not both", "keep one of the two")
    return cover_reading([] if values else [spot.spot() for spot in spots], values[0] if values else None)


COVER_GAP = Form(
    key="cover_gap",
    field=Annotated[list[CoverTable], BeforeValidator(one_or_more)],
    read=_read,
    bare=is_bare,
    blades=blade_pair,
    shims_in=lambda spots: any(spot.shims_in for spot in spots),
)


class ClosedUpTable(BladesTable):
    """One spot of the second reading, or its value, below 0 where it is a preload."""

    value: Reach | None = None

    @model_validator(mode="after")
    def _can_be_read(self) -> ClosedUpTable:
        closed_up([self])
        return self


ClosedUp = Annotated[list[ClosedUpTable], BeforeValidator(one_or_more)]


def closed_up(spots: Sequence[ClosedUpTable]) -> Bracket:
    """The gap as it was read closed up. Raises RefusedError."""
    if len(spots) == 1 and spots[0].model_fields_set == {"value"} and spots[0].value is not None:
        return spots[0].value
    if any(spot.value is not None for spot in spots):
        raise RefusedError("a gap is read by blades or given as one value, not both", "keep one of the two")
    return feeler_reading([Spot(spot.go, spot.no_go, spot.snug, spot.step) for spot in spots]).bracket
