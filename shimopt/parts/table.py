"""A table of text cells from CSV or XLSX, with the place of every cell for error messages."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from shimopt.errors import InputError, Problem
from shimopt.parts.files import MOST_LISTED, MOST_TABLE_BYTES, decoded, file_bytes

__all__ = ["Row", "Table", "read_table"]

_MOST_ROWS = 1_000_000
_MOST_COLUMNS = 200


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its number as a spreadsheet counts it, and its cells by column name."""

    number: int
    cells: dict[str, str]

    def get(self, column: str) -> str:
        """The cell's text without outer spaces, empty where there is no such column."""
        return self.cells.get(column, "")


@dataclass(slots=True)
class Table:
    """All rows of a table; `decimal_comma` where the file is a European spreadsheet's.

    `spoilt` holds cells that a spreadsheet made into something else, by row number and column, with rule and remedy:
    they are wrong only in columns that are read.
    """

    path: Path
    columns: list[str]
    rows: list[Row]
    decimal_comma: bool = False
    spoilt: Mapping[tuple[int, str], tuple[str, str]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def complain(self, row: Row | None, column: str, value: str, rule: str, remedy: str) -> None:
        """Note a problem at a row and column."""
        where = [f"row {row.number}"] if row else []
        if column:
            where.append(f"column {column}")
        self.problems.append(Problem(str(self.path), ", ".join(where), value, rule, remedy))


def read_table(path: Path, what: str) -> Table:
    """Read a parts or gaps table from CSV or XLSX. Raises InputError."""
    raw = file_bytes(path, MOST_TABLE_BYTES, what)
    # a zip, an old or encrypted workbook, or what its name calls a workbook
    if raw.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")) or path.suffix.lower() == ".xlsx":
        from shimopt.parts.spreadsheet import read_sheet

        lines, spoilt = read_sheet(raw, path, what)
        table = _table_of(path, what, lines, decimal_comma=False, from_sheet=True)
        return replace(
            table,
            spoilt={
                (number, table.columns[index]): words
                for (number, index), words in spoilt.items()
                if index < len(table.columns)
            },
        )
    return _read_csv(decoded(raw, path, what), path, what)


def _read_csv(text: str, path: Path, what: str) -> Table:
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(",;\t", key=first.count)
    lines: list[tuple[int, list[str]]] = []
    try:
        # a strict reader: a quote that never closes is an error, not the rest of the file in one cell
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        start = 1
        for cells in reader:
            lines.append((start, cells))
            start = reader.line_num + 1
    except csv.Error as error:
        raise InputError(
            [Problem(str(path), f"line {start}", "", f"the {what} is not a table ({error})", "check its quotes")]
        ) from None
    return _table_of(path, what, lines, decimal_comma=delimiter != ",", from_sheet=False)


def _table_of(
    path: Path, what: str, lines: Iterable[tuple[int, list[str]]], *, decimal_comma: bool, from_sheet: bool
) -> Table:
    """Header and rows from numbered lines of cells. Raises InputError where there is no table at all."""
    filled = [(number, [cell.strip() for cell in cells]) for number, cells in lines if any(c.strip() for c in cells)]
    if not filled:
        raise InputError([Problem(str(path), "", "", f"the {what} is empty", "write a header, and rows below it")])
    header = [name.casefold() for name in filled[0][1]]
    while header and not header[-1]:
        header.pop()
    table = Table(path, header, [], decimal_comma)
    _check_header(table, what, len(filled))
    for number, cells in filled[1:]:
        while len(cells) > len(header) and not cells[-1]:
            cells.pop()
        row = Row(number, dict(zip(header, cells, strict=False)))
        known = len(table.problems)
        if len(cells) > len(header):
            table.complain(
                row,
                "",
                "",
                f"the row has {len(cells)} cells and the header {len(header)}",
                "take out the extra cells; a cell that holds a comma needs quotes round it",
            )
        elif len(cells) < len(header) and not from_sheet:
            table.complain(
                row,
                "",
                "",
                f"the row has {len(cells)} cells and the header {len(header)}",
                "fill it up: an empty cell still needs its comma",
            )
        if len(table.problems) == known:
            table.rows.append(row)
        if len(table.problems) >= MOST_LISTED:
            break
    return table


def _check_header(table: Table, what: str, filled: int) -> None:
    if filled == 1:
        table.complain(None, "", "", f"the {what} has a header and no rows", "write rows below it")
    if len(table.columns) > _MOST_COLUMNS or filled > _MOST_ROWS:
        table.complain(
            None,
            "",
            "",
            f"the {what} is larger than {_MOST_ROWS:,} rows or {_MOST_COLUMNS} columns",
            "is it the right file?",
        )
    for column in sorted(c for c, count in Counter(table.columns).items() if c and count > 1):
        table.complain(None, column, "", "the column stands twice", "keep one of them")
    if table.problems:
        raise InputError(table.problems)
