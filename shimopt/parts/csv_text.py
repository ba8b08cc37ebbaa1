"""A CSV file that is changed as little as can be: rows and columns are added, every other byte stays as it is."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from shimopt.errors import InputError, Problem
from shimopt.parts.files import decoded

__all__ = ["CsvText"]

_MARKS = ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"), (b"\xef\xbb\xbf", "utf-8"))


@dataclass(slots=True)
class _Record:
    """One record as it stands in the file, its line end and its cells."""

    text: str
    end: str
    cells: list[str]


@dataclass(slots=True)
class CsvText:
    """The records of a CSV file, with everything that is needed to write it back as it was."""

    path: Path
    mark: bytes
    encoding: str
    delimiter: str
    line_end: str
    records: list[_Record] = field(default_factory=list)

    @classmethod
    def of(cls, raw: bytes, path: Path) -> CsvText:
        """Take a file apart. Raises InputError where it is no text."""
        text = decoded(raw, path, "drawer").removeprefix("\ufeff")
        mark, encoding = next(((m, e) for m, e in _MARKS if raw.startswith(m)), (b"", ""))
        if not encoding:
            encoding = "utf-8" if _is_utf8(raw) else "cp1252"
        first = next((line for line in text.splitlines() if line.strip()), "")
        line_end = "\r\n" if "\r\n" in text else "\n" if "\n" in text or "\r" not in text else "\r"
        found = cls(path, mark, encoding, max(",;\t", key=first.count), line_end)
        lines = list(io.StringIO(text, newline=""))
        reader = csv.reader(lines, delimiter=found.delimiter, strict=True)
        start = 0
        for cells in reader:
            whole = "".join(lines[start : reader.line_num])
            body = whole.rstrip("\r\n")
            found.records.append(_Record(body, whole[len(body) :], cells))
            start = reader.line_num
        return found

    @property
    def header(self) -> _Record:
        """The first record that holds anything."""
        return next(record for record in self.records if any(cell.strip() for cell in record.cells))

    @property
    def columns(self) -> list[str]:
        """The header's names as tables are read: folded, without outer spaces."""
        return [cell.strip().casefold() for cell in self.header.cells]

    def uses_comma(self) -> bool:
        """Whether numbers are written with a comma: where a cell says so, or the file is a European spreadsheet's."""
        if self.delimiter == ",":
            return False
        cells = [cell.strip() for record in self.records for cell in record.cells]
        numbers = [cell for cell in cells if cell.replace(",", "").replace(".", "").isdigit()]
        with_comma = sum("," in cell for cell in numbers)
        with_point = sum("." in cell for cell in numbers)
        return with_comma > with_point or (with_comma == with_point and self.delimiter == ";")

    def add_columns(self, names: Sequence[str]) -> None:
        """Add columns at the right, empty in all rows."""
        if not names:
            return
        header, width = self.header, len(self.header.cells)
        for record in self.records:
            if not any(cell.strip() for cell in record.cells):
                continue
            cells = [self._written(name) for name in names] if record is header else [""] * len(names)
            # a row may already have empty cells beyond the header
            missing = max(0, width + len(names) - len(record.cells)) if record is not header else len(names)
            added = cells[len(names) - missing :] if missing <= len(names) else [""] * (missing - len(names)) + cells
            record.text += "".join(self.delimiter + cell for cell in added)
        header.cells += names

    def add_row(self, cells: Mapping[str, str]) -> None:
        """Add a row at the end; columns that are not named stay empty."""
        last = self.records[-1]
        last.end = last.end or self.line_end
        values = [cells.get(column, "") for column in self.columns]
        self.records.append(_Record(self.delimiter.join(map(self._written, values)), self.line_end, values))

    def _written(self, cell: str) -> str:
        """A cell as the file writes it, quoted where it must be."""
        if any(ch in cell for ch in (self.delimiter, '"', "\r", "\n")):
            return '"' + cell.replace('"', '""') + '"'
        return cell

    def encoded(self) -> bytes:
        """The file as bytes. Raises InputError where its encoding lacks a character."""
        text = "".join(record.text + record.end for record in self.records)
        try:
            return self.mark + text.encode(self.encoding)
        except UnicodeEncodeError as error:
            rule = f"the drawer's encoding ({self.encoding}) has no {text[error.start]!r}"
            raise InputError([Problem(str(self.path), "", "", rule, "save the drawer as UTF-8 first")]) from None


def _is_utf8(raw: bytes) -> bool:
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True
