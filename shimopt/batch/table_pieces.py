"""A big table in pieces that can be read by themselves, in any order, by anybody who can open the file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

import pyarrow as pa

from shimopt.batch.gap_rows import LENGTHS, NEEDED, PLAIN
from shimopt.batch.terms import Terms
from shimopt.errors import InputError
from shimopt.tables.columns import read_columns
from shimopt.tables.read import Table


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


@dataclass(frozen=True, slots=True)
class Header:
    """`at` maps the bare names that are read to their place among the columns, `unit_of` the lengths to their units."""

    at: Mapping[str, int]
    unit_of: Mapping[str, str]
    not_read: tuple[str, ...]
    width: int


def header_of(path: str, names: Sequence[str], terms: Terms) -> Header:
    """Match a table's columns with those that are known. Raises InputError."""
    columns = [name.strip().casefold() for name in names]
    while columns and not columns[-1]:
        columns.pop()
    table = Table(Path(path), columns, [])
    for column in sorted(c for c, count in Counter(columns).items() if c and count > 1):
        table.complain(None, column, "", "the column stands twice", "keep one of them")
    found = read_columns(table, LENGTHS, PLAIN, NEEDED)
    if "seat" in columns and not terms.seats:
        table.complain(
            None,
            "seat",
            "",
            "the seats that this column names are not known",
            f"name the job that describes them with {terms.called('job')}, or take the column out",
        )
    for key in ("min", "max"):
        if found is not None and terms.window is None and not found.has(key):
            table.complain(
                None,
                f"{key}_{found.unit_of['low']}",
                "",
                f"the window has no {key}",
                f"add this column, or {terms.called(key)} for all gaps, or {terms.called('job')}",
            )
    if table.problems or found is None:
        raise InputError(table.problems)
    at = {key: columns.index(f"{key}_{unit}") for key, unit in found.unit_of.items()}
    at |= {key: columns.index(key) for key in PLAIN if key in columns}
    return Header(at, dict(found.unit_of), tuple(found.not_read), len(columns))
