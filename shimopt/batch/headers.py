"""The header of a gaps table: which columns are read, in which units; by the same rules as a job's gaps table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from shimopt.batch.rows import LENGTHS, NEEDED, PLAIN
from shimopt.batch.terms import Terms
from shimopt.errors import InputError
from shimopt.tables.columns import read_columns
from shimopt.tables.read import Table

__all__ = ["Header", "header_of"]


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
            "name the job that describes them with --job, or take the column out",
        )
    for key in ("min", "max"):
        if found is not None and terms.window is None and not found.has(key):
            table.complain(
                None,
                f"{key}_{found.unit_of['low']}",
                "",
                f"the window has no {key}",
                f"add this column, or --{key} for all gaps, or --job JOB",
            )
    if table.problems or found is None:
        raise InputError(table.problems)
    at = {key: columns.index(f"{key}_{unit}") for key, unit in found.unit_of.items()}
    at |= {key: columns.index(key) for key in PLAIN if key in columns}
    return Header(at, dict(found.unit_of), tuple(found.not_read), len(columns))
