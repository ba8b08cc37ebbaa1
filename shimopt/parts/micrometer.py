"""One micrometer for all pieces: what it may be off by is the measuring error of pieces that state none."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from shimopt.lengths import Bracket
from shimopt.parts.part import StockLine

__all__ = ["with_micrometer"]


def with_micrometer(lines: Iterable[StockLine], error: int) -> tuple[StockLine, ...]:
    """Stock in natural order, every measured piece without a measuring error of its own taken as ± `error` [nm]."""
    return tuple(sorted((_with_error(line, error) for line in lines), key=lambda line: line.part.order))


def _with_error(line: StockLine, error: int) -> StockLine:
    thickness = line.part.thickness
    if not line.part.measured or not thickness.exact or thickness.best <= error:
        return line
    wide = Bracket(thickness.low - error, thickness.best, thickness.high + error)
    return replace(line, part=replace(line.part, thickness=wide))
