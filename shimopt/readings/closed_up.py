"""A gap read a second time with the machine closed up: `after_cover = { ... }`, by blades or as a value."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from pydantic import BeforeValidator, model_validator

from shimopt.errors import RefusedError
from shimopt.fields import JobTable, Length, Reach, one_or_more
from shimopt.lengths import Bracket
from shimopt.readings.feeler import Spot, feeler_reading

__all__ = ["ClosedUp", "closed_up"]


class ClosedUpTable(JobTable):
    """One spot of the second reading, or its value, below 0 where it is a preload."""

    go: Length | None = None
    no_go: Length | None = None
    snug: Length | None = None
    step: Length | None = None
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
