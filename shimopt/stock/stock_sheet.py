"""A table of parts on hand, as it is taken into a stock or counted by: its lines, each with the stamp beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from shimopt.errors import InputError, Problem
from shimopt.parts.drawer_and_catalogues import load_stock
from shimopt.parts.part import StockLine
from shimopt.stock.job_id import place_of
from shimopt.stock.written_out import Stamp, stamp_of
from shimopt.tables.read import read_table


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table that was read: its lines with the stamps that stand beside them, None where there is none.

    `columns` are those that it has: of what has none it says nothing, whereas an empty cell says that there is nothing.
    """

    path: Path
    lines: tuple[tuple[StockLine, Stamp | None], ...]
    columns: frozenset[str] = frozenset()

    def says(self, what: str) -> bool:
        """Whether it has a column for this, in whatever unit."""
        return any(column == what or column.startswith(f"{what}_") for column in self.columns)

    @property
    def key(self) -> str:
        """What tells this file from others."""
        return place_of(self.path)


def read_sheet(path: Path, catalogues: Sequence[Path] = ()) -> Sheet:
    """Read a table of parts on hand. Raises InputError."""
    lines = [line for line in load_stock(path, catalogues).lines if line.row is not None]
    table = read_table(path, "drawer")
    stamped = "stock_row" in table.columns
    stamps = {row.number: stamp_of(table.cell(row, "stock_row")) for row in table.rows} if stamped else {}
    _refuse_a_tag_twice(path, lines)
    told = tuple((replace(line, offers=()), stamps.get(line.row or 0)) for line in lines)
    return Sheet(path, told, frozenset(table.columns))


def _refuse_a_tag_twice(path: Path, lines: Sequence[StockLine]) -> None:
    """Raise InputError where two rows, each with pieces, have one tag: in a stock a tag is of one piece."""
    rows, problems = dict[tuple[str, str], int](), list[Problem]()
    for line in lines:
        part, row = line.part, line.row or 0
        if part.piece is None or not line.on_hand:
            continue
        if (first := rows.setdefault((part.name, part.piece), row)) != row:
            rule, remedy = f"this tag stands on row {first} already", "in a stock each piece has a tag of its own"
            problems.append(Problem(str(path), f"row {row}", f"{part.name} [{part.piece}]", rule, remedy))
    if problems:
        raise InputError(problems)
