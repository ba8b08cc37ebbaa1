"""CSV as text, by the rules of the standard `csv` module: its delimiter, its records, where each cell stands."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

__all__ = ["BrokenRecordError", "Record", "csv_bytes", "delimiter_of", "places_of", "records", "written"]

_UTF8_MARK = "\ufeff"


class Record(NamedTuple):
    """One record: the line on which it begins, counted from 1, where its text begins, and its cells."""

    number: int
    start: int
    cells: list[str]

    @property
    def filled(self) -> bool:
        """Whether any cell holds more than spaces."""
        return any(cell.strip() for cell in self.cells)


class BrokenRecordError(ValueError):
    """A record that is none, such as one whose quotes never close: the line on which it begins, and why."""

    def __init__(self, number: int, reason: str) -> None:
        self.number, self.reason = number, reason
        super().__init__(reason)


def delimiter_of(text: str) -> str:
    """Comma, semicolon or tab: whichever stands most often in the first line that holds anything."""
    first = next((line for line in io.StringIO(text) if line.strip()), "")
    return max(",;\t", key=first.count)


def records(text: str | Iterable[str], delimiter: str) -> Iterator[Record]:
    """All records of a text, or of its lines with their ends.

    Raises BrokenRecordError: a quote that never closes does not swallow the rest.
    """
    read = 0

    def counted() -> Iterator[str]:
        nonlocal read
        for line in io.StringIO(text, newline="") if isinstance(text, str) else text:
            read += len(line)
            yield line

    reader = csv.reader(counted(), delimiter=delimiter, strict=True)
    number, start = 1, 0
    try:
        for cells in reader:
            yield Record(number, start, cells)
            number, start = reader.line_num + 1, read
    except csv.Error as error:
        raise BrokenRecordError(number, str(error)) from None


def places_of(text: str, start: int, delimiter: str) -> list[tuple[int, int]]:
    """Where the cells of the record that begins at `start` stand, quotes included: text[first:last]."""
    places, at = [], start
    while True:
        end = _end_of_cell(text, at, delimiter)
        places.append((at, end))
        if text[end : end + 1] != delimiter:
            return places
        at = end + 1


def _end_of_cell(text: str, at: int, delimiter: str) -> int:
    if text.startswith('"', at):
        at += 1
        while (close := text.find('"', at)) >= 0:
            at = close + 1
            if not text.startswith('"', at):
                break
            at += 1
    while at < len(text) and text[at] not in (delimiter, "\r", "\n"):
        at += 1
    return at


def written(value: str, delimiter: str, *, quoted: bool = False) -> str:
    """A cell as it is written, with quotes where it needs them or had them."""
    if quoted:
        return '"' + value.replace('"', '""') + '"'
    line = io.StringIO()
    csv.writer(line, delimiter=delimiter, lineterminator="").writerow([value, "x"])
    return line.getvalue()[: -len(delimiter + "x")]


def csv_bytes(
    columns: Sequence[str], rows: Sequence[Mapping[str, object]], *, european: bool = False, mark: bool = False
) -> bytes:
    """A table as a CSV file in UTF-8; what is missing or None is an empty cell.

    Parameters: european, with semicolons, and numbers with a decimal comma; mark, with the byte-order mark by which
    spreadsheets know UTF-8.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=";" if european else ",", lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        cells = [row.get(column) for column in columns]
        writer.writerow([str(c).replace(".", ",") if european and isinstance(c, float) else c for c in cells])
    return ((_UTF8_MARK if mark else "") + text.getvalue()).encode()
