"""Changing single cells of a user's CSV, and nothing else: encoding, delimiter, line ends and all other cells stay.

The way to a changed table, so that two people at two benches don't undo each other's work:

    with locked(path):                       # wait for whoever is writing
        table = read_to_change(path)         # read it again: it may have changed since the plan was made
        table.with_cells({(3, "on_hand"): "2"}).save()
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

from shimopt.errors import InputError
from shimopt.lengths import decimal_text
from shimopt.tables.csv_text import BrokenRecordError, Record, delimiter_of, places_of, records, written
from shimopt.tables.files import MOST_TABLE_BYTES, file_bytes, fingerprint_of
from shimopt.tables.read import is_workbook
from shimopt.tables.replacing import replace_file

_MARKS = {b"\xef\xbb\xbf": "utf-8", b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}


@dataclass(frozen=True)
class EditedTable:
    """The text of a CSV, with the bytes that mark its encoding. Rows are numbered as a spreadsheet does."""

    path: Path
    text: str
    encoding: str = "utf-8"
    mark: bytes = b""
    delimiter: str = field(init=False)
    columns: tuple[str, ...] = field(init=False)  # in lower case, without empty ones at the end
    _lines: tuple[Record, ...] = field(init=False)
    _at: Mapping[int, Record] = field(init=False)

    def __post_init__(self) -> None:
        delimiter = delimiter_of(self.text)
        try:
            lines = tuple(record for record in records(self.text, delimiter) if record.filled)
        except BrokenRecordError as error:
            raise self._refused(
                f"line {error.number}", "", f"it is not a table ({error})", "check its quotes"
            ) from None
        if not lines:
            raise self._refused("", "", "the drawer is empty", "write a header, and rows below it")
        names = [cell.strip().casefold() for cell in lines[0].cells]
        while not names[-1]:
            names.pop()
        for name, value in (
            ("delimiter", delimiter),
            ("columns", tuple(names)),
            ("_lines", lines),
            ("_at", {line.number: line for line in lines[1:]}),
        ):
            # the one moment in which a frozen object may be written to
            object.__setattr__(self, name, value)

    def _refused(self, where: str, value: str, rule: str, remedy: str) -> InputError:
        return InputError.at(self.path, rule, remedy, where=where, value=value)

    @property
    def rows(self) -> list[int]:
        """The numbers of the rows below the header that hold anything."""
        return list(self._at)

    def cell(self, row: int, column: str) -> str:
        """The text of a cell without outer spaces, empty where the row ends before it. Raises InputError."""
        line, at = self._find(row, column)
        return line.cells[at].strip() if at < len(line.cells) else ""

    def _find(self, row: int, column: str) -> tuple[Record, int]:
        if row not in self._at or column not in self.columns:
            raise self._refused(
                f"row {row}, column {column}",
                "",
                "the drawer has no such cell",
                "somebody changed the drawer; plan again",
            )
        return self._at[row], self.columns.index(column)

    def with_cells(self, values: Mapping[tuple[int, str], str]) -> EditedTable:
        """The table with these cells changed, by row number and column name. Raises InputError."""
        text = self.text
        changes: list[tuple[int, int, str]] = []
        for (row, column), value in values.items():
            line, at = self._find(row, column)
            if at >= len(line.cells):
                raise self._refused(
                    f"row {row}, column {column}",
                    "",
                    "the row ends before this column",
                    "fill the row up to the last column",
                )
            start, stop = places_of(text, line.start, self.delimiter)[at]
            changes.append((start, stop, written(value, self.delimiter, quoted=text.startswith('"', start))))
        # from the end, so that earlier places stay where they are
        for start, stop, cell in sorted(changes, reverse=True):
            text = text[:start] + cell + text[stop:]
        return replace(self, text=text)

    def with_column(self, column: str, value: str) -> EditedTable:
        """The table with one more column at its right end, `value` in every row."""
        pieces, end, width = [], 0, len(self._lines[0].cells)
        for number, line in enumerate(self._lines):
            places = places_of(self.text, line.start, self.delimiter)
            # a row may end early, or have empty cells beyond the header: the new cell goes below its header
            first, last = places[min(width, len(places) - 1)]
            start = first if len(places) > width else last
            before = "" if len(places) > width else self.delimiter * (width - len(places) + 1)
            pieces += [self.text[end:start], before, written(value if number else column, self.delimiter)]
            end = last
        return replace(self, text="".join([*pieces, self.text[end:]]))

    def with_row(self, cells: Mapping[str, str]) -> EditedTable:
        """The table with one more row at its end; columns that are not named stay empty. Raises InputError."""
        if unknown := sorted(set(cells) - set(self.columns)):
            raise self._refused(f"column {unknown[0]}", "", "the drawer has no such column", "add the column")
        line_end = next((end for end in ("\r\n", "\n", "\r") if end in self.text), "\n")
        joined = self.delimiter.join(written(cells.get(column, ""), self.delimiter) for column in self.columns)
        before = self.text if self.text.endswith(("\n", "\r")) else self.text + line_end
        return replace(self, text=f"{before}{joined}{line_end}")

    def length(self, nm: Fraction | int, unit: str) -> str:
        """A length as this table writes numbers: alone, in the column's unit, exact, with its decimal sign.

        Lengths that do not end within nine decimals of the unit are rounded there.
        """
        number = decimal_text(nm, unit)
        return number.replace(".", ",") if self.uses_comma else number

    @property
    def uses_comma(self) -> bool:
        """Whether numbers are written with a comma: where a cell says so, or the file is a European spreadsheet's."""
        if self.delimiter == ",":
            return False
        cells = [cell.strip() for line in self._lines for cell in line.cells]
        numbers = [cell for cell in cells if cell.replace(",", "").replace(".", "").isdigit()]
        with_comma, with_point = sum("," in cell for cell in numbers), sum("." in cell for cell in numbers)
        return with_comma > with_point or (with_comma == with_point and self.delimiter == ";")

    @property
    def raw(self) -> bytes:
        """The bytes of the file. Raises InputError where its encoding lacks a character."""
        try:
            return self.mark + self.text.encode(self.encoding)
        except UnicodeEncodeError as error:
            raise self._refused(
                "",
                self.text[error.start : error.end],
                f"the drawer's encoding ({self.encoding}) has no such character",
                "save the drawer as UTF-8 first",
            ) from None

    @property
    def fingerprint(self) -> str:
        """A short name for exactly this content."""
        return fingerprint_of(self.raw)

    def save(self) -> None:
        """Replace the file on disk, whole or not at all. Raises InputError."""
        replace_file(self.path, self.raw, "drawer")


def read_to_change(path: Path) -> EditedTable:
    """Read a CSV to change it. Raises InputError, also for a workbook: those are only read."""
    raw = file_bytes(path, MOST_TABLE_BYTES, "drawer")

    def refused(rule: str, remedy: str) -> InputError:
        return InputError.at(path, rule, remedy)

    if is_workbook(path, raw):
        raise refused("a workbook is only read, never written", "change it by hand, or save it as CSV")
    if not raw:
        # a drawer may be a file without a byte: it gets its header with its first row
        raw = b"part,thickness_mm,on_hand\n"
    mark = next((mark for mark in _MARKS if raw.startswith(mark)), b"")
    body = raw[len(mark) :]
    for encoding in [_MARKS[mark]] if mark else ["utf-8", "cp1252"]:
        try:
            text = body.decode(encoding)
        except UnicodeDecodeError:
            continue
        return EditedTable(path, text, encoding, mark)
    raise refused("the drawer is not text in UTF-8", "save it again as UTF-8")
