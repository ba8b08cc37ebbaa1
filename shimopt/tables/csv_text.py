"""CSV as text, by the rules of the standard `csv` module: its delimiter, its records, where each cell stands."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

_UTF8_MARK = "\ufeff"
# a first line by which a spreadsheet names the delimiter
_NAMED = re.compile(r'\s*"?sep=(?P<delimiter>[,;\t])"?\s*', re.IGNORECASE)
_DIGITS = re.compile(r"\s*[+-]?\d+\s*")


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
    """Comma, semicolon or tab: as a first line `sep=;` says, else whichever stands most often in the first line that
    holds anything.
    """
    first = next((line for line in io.StringIO(text, newline="") if line.strip()), "")
    return delimiter_named(first) or max(",;\t", key=first.count)


def delimiter_named(line: str) -> str:
    """The delimiter that a line such as `sep=;` names; empty for any other line."""
    found = _NAMED.fullmatch(line)
    return found["delimiter"] if found else ""


def records(text: str | Iterable[str], delimiter: str) -> Iterator[Record]:
    """All records of a text, or of its lines with their ends; a first line `sep=;` of a text is none.

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
            if start or not isinstance(text, str) or not delimiter_named(text[:read]):
                yield Record(number, start, cells)
            number, start = reader.line_num + 1, read
    except csv.Error as error:
        raise BrokenRecordError(number, str(error)) from None


def decimal_commas(cells: Sequence[str], width: int) -> str:
    """The numbers with a decimal comma that made more cells than the header has out of a row parted by commas.

    `S-05,0,2,3` under three columns is `0,2`; empty where no such numbers account for the cells too many.
    """
    pairs = [f"{cells[at]},{cells[at + 1]}" for at in range(len(cells) - 1) if _is_number(cells, at)]
    return pairs[0] if pairs and len(cells) - len(pairs) <= width else ""


def extra_cells_remedy(cells: Sequence[str], width: int, delimiter: str) -> str:
    """What to do about a row of more cells than the header has: the decimal comma that made them, where one did."""
    if delimiter == "," and (number := decimal_commas(cells, width)):
        return comma_remedy(number)
    return "take out the extra cells; a cell that holds a comma needs quotes round it"


def comma_remedy(number: str) -> str:
    """What to do about a number with a decimal comma in a file whose cells are parted by commas."""
    point = number.replace(",", ".")
    return f"{number} looks like a decimal comma, and commas part the cells of this file: write {point}"


def _is_number(cells: Sequence[str], at: int) -> bool:
    return bool(_DIGITS.fullmatch(cells[at]) and re.fullmatch(r"\d+", cells[at + 1].strip()))


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
    # what stands in the line end decides which characters get quotes
    csv.writer(line, delimiter=delimiter, lineterminator="\r\n").writerow([value, "x"])
    return line.getvalue()[: -len(f"{delimiter}x\r\n")]


def csv_of(
    head: Sequence[str], rows: Iterable[Iterable[object]], *, semicolons: bool = False, exact_names: bool = False
) -> str:
    """A table as CSV; None is an empty cell, and a text is none that a spreadsheet runs unless `exact_names`.

    With `semicolons`, as spreadsheets of most European languages read it: numbers with a decimal comma, and a
    byte-order mark before it all, by which they know UTF-8.
    """
    delimiter = ";" if semicolons else ","

    def text(cell: object) -> str:
        if isinstance(cell, str):
            return written(cell if exact_names else harmless(cell), delimiter)
        number = isinstance(cell, float) and semicolons
        return written("" if cell is None else str(cell).replace(".", ",") if number else str(cell), delimiter)

    lines = (delimiter.join(map(text, row)) for row in (head, *rows))
    return (_UTF8_MARK if semicolons else "") + "".join(f"{line}\n" for line in lines)


# text that acts: a spreadsheet runs a cell that begins with one of these as a formula, so in every table that people
# open such a text gets an apostrophe before it; who asks for `--exact-names` gets every text as it is.
# A pattern for all texts of a column at once; the wide forms count where a spreadsheet is set to an East Asian language
DANGEROUS = "^(?:[\\s\\pZ\x0b\x1c-\x1f\x85]*[=+\\-@\uff1d\uff0b\uff0d\uff20]|[\t\r\n])"
_SIGNS = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def harmless(text: str) -> str:
    """A text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.lstrip().startswith(_SIGNS) or text.startswith(("\t", "\r", "\n")) else text
