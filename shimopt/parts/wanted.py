"""Searching catalogues by dimensions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from shimopt.lengths import Bracket
from shimopt.parts.part import StockLine
from shimopt.parts.stock import load_stock

__all__ = ["Offered", "Wanted", "search"]


@dataclass(frozen=True, slots=True)
class Wanted:
    """Ranges in which thickness, bore and outside must lie [nm]; None where anything will do."""

    thickness: tuple[int, int] | None = None
    inner: tuple[int, int] | None = None
    outer: tuple[int, int] | None = None

    def takes(self, line: StockLine) -> bool:
        """Whether a part is in all ranges; one whose dimension is not known is not."""
        part = line.part
        if not (_inside(part.inner, self.inner) and _inside(part.outer, self.outer)):
            return False
        if self.thickness is None or part.marked is None:
            return _inside(part.thickness, self.thickness)
        return self.thickness[0] <= part.marked <= self.thickness[1]


@dataclass(frozen=True, slots=True)
class Offered:
    """A part of a catalogue."""

    line: StockLine
    catalogue: str


def _inside(bracket: Bracket | None, wanted: tuple[int, int] | None) -> bool:
    """Whether the bracket meets the range."""
    if wanted is None:
        return True
    return bracket is not None and bracket.low <= wanted[1] and wanted[0] <= bracket.high


def search(catalogues: Mapping[str, Path], wanted: Wanted) -> Iterable[Offered]:
    """The parts of these catalogues that are wanted, catalogue by catalogue, in natural order. Raises InputError."""
    for name, path in catalogues.items():
        for line in load_stock(None, [path]).lines:
            if wanted.takes(line):
                yield Offered(line, name)
