"""Something worth saying about a part on a seat, or about a gap's reading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

__all__ = ["Finding", "Grade"]

Grade = Literal["stop", "caution", "note"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding.

    `grade`: "stop" must not be fitted, "caution" fit with care, "note" worth knowing. `code` names the rule;
    `lengths` holds the lengths that decided [nm], `numbers` shares, ratios and pressures [N/mm²], `texts` whatever else
    the sentence needs. `place` or `part` is empty where the finding is not about one.
    """

    place: str
    part: str
    grade: Grade
    code: str
    lengths: Mapping[str, Fraction | int] = field(default_factory=dict)
    texts: Mapping[str, str] = field(default_factory=dict)
    piece: str | None = None
    numbers: Mapping[str, Fraction] = field(default_factory=dict)
