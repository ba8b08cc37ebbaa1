"""A row of a whole-number model: in a file of its own, so that who only names a model does not load numpy."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """`sum of factor × variable <= limit`; variables are numbered."""

    terms: dict[int, int]
    limit: int
