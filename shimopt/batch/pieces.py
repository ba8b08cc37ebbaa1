"""A big table in pieces that can be read by themselves, in any order, by anybody who can open the file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Protocol

import pyarrow as pa

from shimopt.batch.headers import Header

__all__ = ["Cells", "Piece", "Source"]


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a file: bytes `start` to `stop` of a CSV, or rows of row group `group` of a parquet file."""

    path: str
    start: int
    stop: int
    group: int = -1


@dataclass(slots=True)
class Cells:
    """The cells of a piece by bare column name; `broken` rows have none, with why."""

    columns: Mapping[str, pa.Array]
    broken: dict[int, str] = field(default_factory=dict)


class Source(Protocol):
    """One file of gaps."""

    path: str
    header: Header
    decimal_comma: bool
    size: int

    def pieces(self) -> Iterator[Piece]:
        """The file cut up, always in the same way."""

    def share(self, piece: Piece) -> float:
        """What share of the file a piece is."""

    def read(self, piece: Piece) -> Cells:
        """The cells of a piece. Raises InputError."""
