"""The cells of a CSV text with their places in it, read by the rules of the standard `csv` module."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

__all__ = ["Cell", "CsvLine", "csv_lines"]


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell: its text as `csv` reads it, and where its characters, quotes included, stand: text[start:stop]."""

    value: str
    start: int
    stop: int


@dataclass(frozen=True, slots=True)
class CsvLine:
    """One record: the number of the line on which it begins, counted from 1, and its cells."""

    number: int
    cells: tuple[Cell, ...]

    @property
    def filled(self) -> bool:
        """Whether any cell holds more than spaces."""
        return any(cell.value.strip() for cell in self.cells)


def csv_lines(text: str, delimiter: str) -> Iterator[CsvLine]:
    """All records of a text that the strict `csv` reader accepts."""
    at, number = 0, 1
    while at < len(text):
        cells = []
        first = at
        while True:
            cell = _cell(text, at, delimiter)
            cells.append(cell)
            at = cell.stop
            if text[at : at + 1] != delimiter:
                break
            at += 1
        after = at + (2 if text.startswith("\r\n", at) else 1)
        yield CsvLine(number, tuple(cells))
        number += _line_ends(text[first:after])
        at = after


def _cell(text: str, start: int, delimiter: str) -> Cell:
    at, value = start, ""
    if text[at : at + 1] == '"':
        at += 1
        while (close := text.find('"', at)) >= 0:
            value += text[at:close]
            at = close + 1
            if text[at : at + 1] != '"':
                break
            value, at = value + '"', at + 1
    end = at
    while end < len(text) and text[end] not in (delimiter, "\r", "\n"):
        end += 1
    return Cell(value + text[at:end], start, end)


def _line_ends(text: str) -> int:
    return text.count("\n") + text.count("\r") - text.count("\r\n")
