"""A row of a whole-number model."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """`sum of factor × variable <= limit`; variables are numbered."""

    terms: dict[int, int]
    limit: int
