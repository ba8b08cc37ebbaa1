"""A table of text cells from CSV, XLSX or parquet, with the place of every cell for error messages."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from shimopt.errors import InputError, Problem
from shimopt.tables.csv_text import BrokenRecordError, delimiter_of, extra_cells_remedy, records
from shimopt.tables.files import MOST_LISTED, MOST_TABLE_BYTES, decoded, file_bytes

_MOST_ROWS = 250_000
# blank lines are no rows, and yet each of them is read
_MOST_LINES = 1_000_000
# a shop may own no shim yet; what is offered, or read, and holds nothing is a wrong file
_MAY_BE_EMPTY, _EMPTY_HEADER = "drawer", ["part", "thickness_mm", "on_hand"]
_MOST_COLUMNS = 200
# a zip, an old or an encrypted workbook
_WORKBOOK_STARTS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")


class Frame(Protocol):
    """A pandas frame, as far as it is read here; nothing in this room needs pandas itself."""

    @property
    def columns(self) -> Any:
        """The names of the columns."""

    def __len__(self) -> int:
        """How many rows it has."""

    def itertuples(self, index: bool, name: str | None) -> Iterable[Any]:
        """The rows, as plain tuples."""


# a table is a file, or a frame that is in memory already
Source = Path | Frame


class Row(NamedTuple):
    """One row: its number as a spreadsheet counts it, and its cells, one for every column."""

    number: int
    cells: tuple[str, ...]


@dataclass(slots=True)
class Table:
    """All rows of a table; `decimal_comma` where its texts may hold one, `typed_cells` where numbers are none of them.

    `spoilt` holds cells that a spreadsheet made into something else, by row number and column, with rule and remedy:
    they are wrong only in columns that are read. `called` is its name in the path of a problem, where it came from a
    frame: `drawer[3].on_hand`.
    """

    path: Path
    columns: list[str]
    rows: list[Row]
    decimal_comma: bool = False
    spoilt: Mapping[tuple[int, str], tuple[str, str]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    called: str = ""
    typed_cells: bool = False

    def cell(self, row: Row, column: str) -> str:
        """The cell's text without outer spaces, empty where there is none."""
        return row.cells[self.columns.index(column)] if column in self.columns else ""

    def leave_out(self, numbers: Collection[int]) -> None:
        """Read the other rows only."""
        self.rows = [row for row in self.rows if row.number not in numbers]

    def complain(self, row: Row | None, column: str, value: str, rule: str, remedy: str) -> None:
        """Note a problem at a row and column."""
        self.problems.append(self.problem(row, column, value, rule, remedy))

    def problem(self, row: Row | None, column: str, value: str, rule: str, remedy: str) -> Problem:
        """What is wrong at a row and column."""
        where = [f"row {row.number}"] if row else []
        if column:
            where.append(f"column {column}")
        field = self.called
        if field and row:
            field += f"[{row.number}]" + (f".{column}" if column else "")
        return Problem(str(self.path), ", ".join(where), value, rule, remedy, field)


def is_workbook(path: Path, raw: bytes | None = None) -> bool:
    """Whether a file is a workbook, by its content (`raw`, if that was read already) or its name. Raises InputError."""
    if path.suffix.lower() == ".xlsx":
        return True
    return (file_bytes(path, MOST_TABLE_BYTES, "drawer") if raw is None else raw).startswith(_WORKBOOK_STARTS)


def read_table(source: Source, what: str) -> Table:
    """Read a table of parts, pieces or gaps, from a file or a frame. Raises InputError."""
    if not isinstance(source, Path):
        return _read_frame(source, what)
    path = source
    raw = file_bytes(path, MOST_TABLE_BYTES, what)
    if is_workbook(path, raw):
        from shimopt.tables.binary import read_sheet

        lines, spoilt = read_sheet(raw, path, what)
        table = table_of(path, what, lines, decimal_comma=True, padded=True)
        table.typed_cells = True
        table.spoilt = {
            (number, table.columns[index]): words
            for (number, index), words in spoilt.items()
            if index < len(table.columns)
        }
        return table
    if raw.startswith(b"PAR1") or path.suffix.lower() == ".parquet":
        from shimopt.tables.binary import read_parquet

        return table_of(path, what, read_parquet(raw, path, what), decimal_comma=False, padded=True)
    if what == _MAY_BE_EMPTY and not raw:
        return Table(path, _EMPTY_HEADER, [])
    return _read_csv(decoded(raw, path, what), path, what)


def _read_csv(text: str, path: Path, what: str) -> Table:
    if (count := text.count("\n") + text.count("\r") - text.count("\r\n")) > _MOST_LINES:
        rule = f"the {what} has more than {_MOST_LINES:,} lines, blank ones among them"
        raise InputError.at(path, rule, "is it the right file? Save the table alone", value=f"{count:,}")
    delimiter = delimiter_of(text)
    try:
        lines = ((number, cells) for number, _, cells in records(text, delimiter))
        return table_of(path, what, lines, decimal_comma=delimiter != ",", padded=False)
    except BrokenRecordError as error:
        raise InputError.at(
            path, f"the {what} is not a table ({error})", "check its quotes", where=f"line {error.number}"
        ) from None


def _read_frame(frame: Frame, what: str) -> Table:
    """A frame's cells as texts: a float as its shortest decimal text, what is missing as an empty cell.

    Rows are counted from 0, as `iloc` counts them.
    """
    if not hasattr(frame, "itertuples"):
        rule, remedy = f"the {what} is neither a file nor a frame", "give a path, or a pandas frame"
        raise InputError.at("", rule, remedy, where=what.partition(" ")[0], value=type(frame).__name__)
    lines: list[tuple[int, Sequence[str]]] = [(-1, [str(name) for name in frame.columns])]
    if what == _MAY_BE_EMPTY and not len(frame.columns) and not len(frame):
        return Table(Path(f"{what} (frame)"), _EMPTY_HEADER, [])
    lines += ((at, [_cell(cell) for cell in row]) for at, row in enumerate(frame.itertuples(index=False, name=None)))
    table = table_of(Path(f"{what} (frame)"), what, lines, decimal_comma=False, padded=True)
    table.called = what.partition(" ")[0]
    return table


def _cell(value: Any) -> str:
    # pandas' own missing values are equal to nothing, and have no truth
    if value is None or type(value).__name__ in ("NAType", "NaTType") or value != value:
        return ""
    # a column of whole numbers with a gap in it holds floats
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


def table_of(
    path: Path, what: str, lines: Iterable[tuple[int, Sequence[str]]], *, decimal_comma: bool, padded: bool
) -> Table:
    """Header and rows from numbered lines of cells; `padded` where rows may end early.

    Raises InputError where there is no table at all.
    """
    # plain tuples of texts: the garbage collector passes them over, which halves the time of a large table
    stripped = ((number, tuple(map(str.strip, cells))) for number, cells in lines)
    filled = [Row(number, cells) for number, cells in stripped if any(cells)]
    if not filled:
        raise InputError.at(path, f"the {what} is empty", "write a header, and rows below it")
    header = [name.casefold() for name in filled[0].cells]
    while header and not header[-1]:
        header.pop()
    table = Table(path, header, [], decimal_comma)
    _check_header(table, what, len(filled))
    for row in filled[1:]:
        if len(row.cells) == len(header):
            table.rows.append(row)
        elif _has_its_cells(table, row, padded=padded):
            table.rows.append(Row(row.number, (*row.cells, *[""] * (len(header) - len(row.cells)))))
        elif len(table.problems) >= MOST_LISTED:
            break
    return table


def _has_its_cells(table: Table, row: Row, *, padded: bool) -> bool:
    """Whether a row has as many cells as the header, empty ones at its end aside; a problem is noted if not."""
    width, count = len(table.columns), len(row.cells)
    while count > width and not row.cells[count - 1]:
        count -= 1
    if count == width or (count < width and padded):
        return True
    rule = f"the row has {count} cells and the header {width}"
    remedy = (
        extra_cells_remedy(row.cells[:count], width, ";" if table.decimal_comma else ",")
        if count > width
        else "fill it up: an empty cell still needs its comma"
    )
    table.complain(row, "", "", rule, remedy)
    return False


def _check_header(table: Table, what: str, filled: int) -> None:
    if filled == 1 and what != _MAY_BE_EMPTY:
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
