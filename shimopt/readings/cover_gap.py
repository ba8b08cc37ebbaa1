"""A cover pulled down without shims, read between cover and case: the gap is minus the reading, and shims open it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from shimopt.lengths import Bracket
from shimopt.readings.feeler import Spot, feeler_reading
from shimopt.readings.reading import Reading, ReadingError
from shimopt.readings.value import value_reading

__all__ = ["cover_reading"]


def cover_reading(spots: Sequence[Spot], value: Bracket | None) -> Reading:
    """The gap that a reading between cover and case means, by blades or as a number. Raises ReadingError."""
    if (value is None) == (not spots):
        raise ReadingError("a cover gap is read by blades or as a value", "give go and no_go, snug and step, or value")
    if value is not None and value.low < 0:
        raise ReadingError("a gap under a cover is not negative", "write what was read between cover and case")
    read = feeler_reading(spots) if value is None else value_reading(value)
    return replace(read.negated(), kind="cover_gap")
