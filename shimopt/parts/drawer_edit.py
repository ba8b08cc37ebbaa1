"""Changing single cells of a drawer, and nothing else: encoding, delimiter, line ends and all other cells stay.

The way to a changed drawer, so that two people at two benches don't undo each other's work:

    with locked(path):                       # wait for whoever is writing
        drawer = read_drawer(path)           # read it again: it may have changed since the plan was made
        drawer.with_cells({(3, "on_hand"): "2"}).save()
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from pathlib import Path

from shimopt.errors import InputError, Problem
from shimopt.lengths import UNITS
from shimopt.parts.csv_cells import Cell, CsvLine, csv_lines
from shimopt.parts.files import MOST_TABLE_BYTES, file_bytes
from shimopt.parts.replacing import replace_file

__all__ = ["DrawerFile", "fingerprint_of", "is_workbook", "read_drawer"]

_MARKS = {b"\xef\xbb\xbf": "utf-8", b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
_WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")


def fingerprint_of(raw: bytes) -> str:
    """A short name for exactly this content of a file."""
    return hashlib.sha256(raw).hexdigest()


def is_workbook(path: Path) -> bool:
    """Whether a drawer is an XLSX workbook, which is only read and never written. Raises InputError."""
    return path.suffix.lower() == ".xlsx" or file_bytes(path, MOST_TABLE_BYTES, "drawer").startswith(_WORKBOOKS)


@dataclass(frozen=True)
class DrawerFile:
    """The text of a drawer in CSV, with the bytes that mark its encoding. Rows are numbered as a spreadsheet does."""

    path: Path
    text: str
    encoding: str = "utf-8"
    mark: bytes = b""

    @cached_property
    def delimiter(self) -> str:
        """Comma, semicolon or tab, as `read_table` sees it."""
        return max(",;\t", key=next((line for line in self.text.splitlines() if line.strip()), "").count)

    @cached_property
    def _lines(self) -> list[CsvLine]:
        return [line for line in csv_lines(self.text, self.delimiter) if line.filled]

    @property
    def columns(self) -> list[str]:
        """The column names, in lower case, without empty ones at the end."""
        names = [cell.value.strip().casefold() for cell in self._lines[0].cells]
        while names and not names[-1]:
            names.pop()
        return names

    @property
    def rows(self) -> list[int]:
        """The numbers of the rows below the header that hold anything."""
        return [line.number for line in self._lines[1:]]

    def cell(self, row: int, column: str) -> str:
        """The text of a cell without outer spaces, empty where the row ends before it. Raises InputError."""
        found = self._find(row, column)
        return found.value.strip() if found else ""

    def _find(self, row: int, column: str) -> Cell | None:
        line = next((line for line in self._lines[1:] if line.number == row), None)
        if line is None or column not in self.columns:
            raise _problem(
                self.path,
                f"row {row}, column {column}",
                "",
                "the drawer has no such cell",
                "somebody changed the drawer; plan again",
            )
        at = self.columns.index(column)
        return line.cells[at] if at < len(line.cells) else None

    def with_cells(self, values: Mapping[tuple[int, str], str]) -> DrawerFile:
        """The drawer with these cells changed, by row number and column name. Raises InputError."""
        text = self.text
        places: list[tuple[int, int, str]] = []
        for (row, column), value in values.items():
            cell = self._find(row, column)
            if cell is None:
                raise _problem(
                    self.path,
                    f"row {row}, column {column}",
                    "",
                    "the row ends before this column",
                    "fill the row up to the last column",
                )
            was_quoted = text.startswith('"', cell.start)
            places.append((cell.start, cell.stop, self._written(value, quoted=was_quoted)))
        # from the end, so that earlier places stay where they are
        for start, stop, written in sorted(places, reverse=True):
            text = text[:start] + written + text[stop:]
        return replace(self, text=text)

    def with_column(self, column: str, value: str) -> DrawerFile:
        """The drawer with one more column at its right end, `value` in every row."""
        text, width = self.text, len(self._lines[0].cells)
        for at in range(len(self._lines) - 1, -1, -1):
            cells, written = self._lines[at].cells, self._written(value if at else column)
            # a row may end early, or have empty cells beyond the header: the new cell goes below its header
            place = cells[min(width, len(cells) - 1)]
            start = place.start if len(cells) > width else place.stop
            before = "" if len(cells) > width else self.delimiter * (width - len(cells) + 1)
            text = f"{text[:start]}{before}{written}{text[place.stop :]}"
        return replace(self, text=text)

    def with_row(self, cells: Mapping[str, str]) -> DrawerFile:
        """The drawer with one more row at its end; columns that are not named stay empty. Raises InputError."""
        if unknown := sorted(set(cells) - set(self.columns)):
            raise _problem(self.path, f"column {unknown[0]}", "", "the drawer has no such column", "add the column")
        line_end = next((end for end in ("\r\n", "\n", "\r") if end in self.text), "\n")
        joined = self.delimiter.join(self._written(cells.get(column, "")) for column in self.columns)
        before = self.text if self.text.endswith(("\n", "\r")) else self.text + line_end
        return replace(self, text=f"{before}{joined}{line_end}")

    def length(self, nm: Fraction | int, unit: str) -> str:
        """A length as this drawer writes numbers: alone, in the column's unit, exact, with its decimal sign.

        Lengths that do not end within nine decimals of the unit are rounded there.
        """
        text = f"{round(Fraction(nm) / UNITS[unit] * 10**9)}"
        sign, digits = ("-", text[1:]) if text.startswith("-") else ("", text)
        digits = digits.rjust(10, "0")
        number = f"{sign}{digits[:-9]}.{digits[-9:]}".rstrip("0").rstrip(".")
        return number.replace(".", ",") if self.uses_comma else number

    @cached_property
    def uses_comma(self) -> bool:
        """Whether numbers are written with a comma: where a cell says so, or the file is a European spreadsheet's."""
        if self.delimiter == ",":
            return False
        cells = [cell.value.strip() for line in self._lines for cell in line.cells]
        numbers = [cell for cell in cells if cell.replace(",", "").replace(".", "").isdigit()]
        with_comma, with_point = sum("," in cell for cell in numbers), sum("." in cell for cell in numbers)
        return with_comma > with_point or (with_comma == with_point and self.delimiter == ";")

    def _written(self, value: str, *, quoted: bool = False) -> str:
        if not quoted:
            line = io.StringIO()
            csv.writer(line, delimiter=self.delimiter, lineterminator="").writerow([value, "x"])
            return line.getvalue()[: -len(self.delimiter + "x")]
        return '"' + value.replace('"', '""') + '"'

    @property
    def raw(self) -> bytes:
        """The bytes of the file. Raises InputError where its encoding lacks a character."""
        try:
            return self.mark + self.text.encode(self.encoding)
        except UnicodeEncodeError as error:
            raise _problem(
                self.path,
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


def read_drawer(path: Path) -> DrawerFile:
    """Read a drawer to change it. Raises InputError, also for a workbook: those are only read."""
    raw = file_bytes(path, MOST_TABLE_BYTES, "drawer")
    if path.suffix.lower() == ".xlsx" or raw.startswith(_WORKBOOKS):
        raise _problem(path, "", "", "a workbook is only read, never written", "change it by hand, or save it as CSV")
    mark = next((mark for mark in _MARKS if raw.startswith(mark)), b"")
    body = raw[len(mark) :]
    for encoding in [_MARKS[mark]] if mark else ["utf-8", "cp1252"]:
        try:
            drawer = DrawerFile(path, body.decode(encoding), encoding, mark)
        except UnicodeDecodeError:
            continue
        if drawer._lines:
            return drawer
    raise _problem(path, "", "", "the drawer is empty, or not text in UTF-8", "save it again as UTF-8")


def _problem(path: Path, where: str, value: str, rule: str, remedy: str) -> InputError:
    return InputError([Problem(str(path), where, value, rule, remedy)])
