"""How a clearance grows when a machine gets hot: the housing grows away from what stands in it.

growth = (sum of alpha L over the housing - sum of alpha L over the shaft and what sits on it) × (hot - cold)

Linear expansion, all parts at the same temperature. Lengths are those at the cold temperature (ISO 1: 20 degC).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

__all__ = ["Length", "growth"]


@dataclass(frozen=True, slots=True)
class Length:
    """A part that expands: `material` as it was named, `coefficient` [per kelvin], `length` [nm]."""

    material: str
    coefficient: Fraction
    length: int
    source: str


def growth(housing: Sequence[Length], shaft: Sequence[Length], cold: Fraction, hot: Fraction) -> int:
    """By how much a clearance grows from `cold` to `hot` [K], rounded to whole nanometres; negative where it shrinks.

    >>> aluminium, steel = Fraction("21.5e-6"), Fraction("11.3e-6")
    >>> housing, shaft = Length("", aluminium, 120_000_000, ""), Length("", steel, 120_000_000, "")
    >>> growth([housing], [shaft], Fraction(293), Fraction(353))
    73440
    """
    per_kelvin = sum((part.coefficient * part.length for part in housing), Fraction(0))
    per_kelvin -= sum((part.coefficient * part.length for part in shaft), Fraction(0))
    return round(per_kelvin * (hot - cold))
