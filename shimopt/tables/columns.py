"""Columns of tables that people write: names with a unit at the end, and cells as lengths, counts and texts."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from operator import itemgetter
from typing import Any, TypeVar

from shimopt.errors import RefusedError, nearest_name
from shimopt.lengths import SPELLINGS, UNITS, LengthError, not_negative, parse_number, to_nm
from shimopt.tables.csv_text import comma_remedy
from shimopt.tables.files import MOST_LISTED
from shimopt.tables.read import Row, Table

MOST_PIECES = 10**6
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
# a name that begins that of a length is taken for it from so many letters on
_LEAST_BEGUN = 4
_Value = TypeVar("_Value")


@dataclass(frozen=True, slots=True)
class Columns:
    """Which columns a table has: `unit_of` maps the bare name of a length column to its unit, `at` to its position.

    A column of a hundred thousand cells holds few different texts: each is read once (`_known`).
    """

    table: Table
    unit_of: dict[str, str]
    not_read: list[str]
    at: dict[str, int]
    _known: dict[tuple[str, str], Any] = field(default_factory=dict)

    def has(self, name: str) -> bool:
        """Whether the table has this column, with any unit."""
        return name in self.at

    def _named(self, name: str) -> str:
        return f"{name}_{self.unit_of[name]}" if name in self.unit_of else name

    def text(self, row: Row, name: str) -> str:
        """The cell's text, empty where there is none."""
        at = self.at.get(name)
        return "" if at is None else row.cells[at]

    def cells_of(self, names: Iterable[str]) -> Callable[[tuple[str, ...]], Any]:
        """What picks the cells of these columns out of a row's; columns that the table lacks are left out."""
        at = [self.at[name] for name in names if name in self.at]
        return itemgetter(*at) if at else lambda _: ()

    def texts_of(self, names: Iterable[str]) -> Callable[[tuple[str, ...]], tuple[str, ...]]:
        """What picks the texts of these columns, two or more, out of a row's cells: empty for columns it lacks."""
        pick = itemgetter(*(self.at.get(name, -1) for name in names))
        return lambda cells: pick((*cells, ""))

    def split_by_a_comma(self, row: Row, name: str) -> str:
        """What to do about a cell of nought that a decimal comma cut off from its digits; empty where none did."""
        at = self.at.get(name, len(row.cells))
        cut = not self.table.decimal_comma and not self.table.called and self.table.path.suffix.lower() == ".csv"
        if not cut or at + 1 >= len(row.cells) or row.cells[at] != "0" or not row.cells[at + 1].isdecimal():
            return ""
        return comma_remedy(f"{row.cells[at]},{row.cells[at + 1]}")

    def complain(self, row: Row, name: str, rule: str, remedy: str) -> None:
        """Note that this cell is wrong."""
        self.table.complain(row, self._named(name), self.text(row, name), rule, remedy)

    def read(self, row: Row, name: str, reader: Callable[[str], _Value], remedy: str = "") -> _Value | None:
        """The cell as `reader` reads it; None where it is empty or wrong (then the problem is noted).

        A column is read by one reader. What it raises as RefusedError is told, with `remedy` in place of its own.
        """
        text = self.text(row, name)
        if not text:
            return None
        key = name, text
        if key in self._known:
            known: _Value = self._known[key]
            return known
        try:
            value = self._known[key] = reader(text)
        except RefusedError as error:
            self.complain(row, name, error.rule, remedy or error.remedy)
            return None
        return value

    def pointed(self, text: str) -> str:
        """A cell with a decimal point where this table writes a comma."""
        return text.replace(",", ".") if self.table.decimal_comma else text

    def number(self, text: str) -> Fraction:
        """A number as this table writes it. Raises LengthError."""
        comma = self.table.decimal_comma and "." not in text and text.count(",") == 1
        # a workbook holds numbers as such: in a text among them, 1,234 may as well mean a thousand
        if comma and not (self.table.typed_cells and _THOUSANDS.fullmatch(text)):
            text = text.replace(",", ".")
        return parse_number(text.replace("−", "-"))

    def length(self, row: Row, name: str) -> int | None:
        """The cell as nanometres; None where it is empty or wrong (then the problem is noted)."""
        return self.read(row, name, lambda text: self._nm(text, name))

    def _nm(self, text: str, name: str) -> int:
        try:
            return to_nm(self.number(text), self.unit_of[name])
        except LengthError as error:
            if any(ch.isdigit() for ch in text) and any(text.endswith(unit) for unit in SPELLINGS):
                remedy = "write the number alone: its unit stands in the column's name"
                raise LengthError(error.rule, remedy) from None
            raise

    def limit(self, row: Row, name: str) -> int | str | None:
        """The cell as nanometres or the word "none"."""
        return "none" if self.text(row, name).casefold() == "none" else self.length(row, name)

    def not_negative(self, row: Row, name: str) -> int | None:
        """The cell as a length from 0 up; None where it is empty or wrong (then the problem is noted)."""
        return self.read(row, name, lambda text: not_negative(self._nm(text, name)))

    def count(self, row: Row, name: str, *, least: int) -> int | None:
        """A cell as a whole number of at least `least`; None where it is not (then the problem is noted)."""

        def read(text: str) -> int:
            try:
                number = self.number(text)
            except LengthError:
                number = Fraction(-1)
            if number.denominator != 1 or not least <= number <= MOST_PIECES:
                raise LengthError(f"a count is a whole number from {least} to {MOST_PIECES:,}", "write how many")
            return int(number)

        if not self.text(row, name):
            self.complain(row, name, f"a count is a whole number from {least} to {MOST_PIECES:,}", "write how many")
        return self.read(row, name, read)


def read_columns(table: Table, lengths: Iterable[str], plain: Iterable[str], needed: Iterable[str]) -> Columns | None:
    """Match a table's header with the known columns; None where it does not, with the problems noted on the table."""
    before = len(table.problems)
    lengths, plain = list(lengths), list(plain)
    known = plain + [f"{name}_{unit}" for name in lengths for unit in UNITS]
    unit_of: dict[str, str] = {}
    not_read: list[str] = []
    position: dict[str, int] = {}
    for at, column in enumerate(table.columns):
        base, _, unit = column.rpartition("_")
        if column in plain:
            position[column] = at
            continue
        if base in lengths and unit in UNITS:
            if base in unit_of:
                table.complain(None, column, "", f"`{base}` stands in two units", "keep one of the two columns")
            unit_of[base] = unit
            position[base] = at
        elif base in lengths or column in lengths:
            table.complain(
                None,
                column,
                "",
                "a length column ends in its unit: mm, um, in or thou",
                f"name it {base if base in lengths else column}_mm, or the unit it is in",
            )
        elif meant := nearest_name(column.replace(" ", "_"), known) or _begun(column, lengths):
            table.complain(None, column, "", "this column is not known", f"did you mean {meant}?")
        elif column or any(table.cell(row, column) for row in table.rows):
            not_read.append(column or "(without a name)")
    columns = Columns(table, unit_of, not_read, position)
    header_problems = table.problems[before:]
    for name in needed:
        if not columns.has(name) and not any(name in problem.where + problem.remedy for problem in header_problems):
            complain_of_no_column(table, name, is_length=name in lengths)
    if len(table.problems) > before:
        return None
    _set_spoilt_rows_aside(columns)
    return columns


def _begun(column: str, lengths: Iterable[str]) -> str:
    """The length column whose name this one begins, `thick` of `thickness_mm`; empty where there is none."""
    begun = (name for name in lengths if len(column) >= _LEAST_BEGUN and name.startswith(column.casefold()))
    return next((f"{name}_mm" for name in begun), "")


def complain_of_no_column(table: Table, name: str, *, is_length: bool) -> None:
    """Note that the table lacks a column."""
    column, others = (f"{name}_mm", " (or _um, _in, _thou)") if is_length else (name, "")
    table.complain(None, column, "", "this column is missing", f"add the column {column}{others}")


def _set_spoilt_rows_aside(columns: Columns) -> None:
    """Note the spoilt cells of columns that are read, and read the other rows only."""
    table = columns.table
    read = set(table.columns) - set(columns.not_read)
    if not table.spoilt:
        return
    spoilt_rows = set()
    cells = {row.number: row for row in table.rows}
    for (number, column), (rule, remedy) in table.spoilt.items():
        if number in cells and column in read and len(table.problems) < MOST_LISTED:
            table.complain(cells[number], column, table.cell(cells[number], column), rule, remedy)
            spoilt_rows.add(number)
    table.leave_out(spoilt_rows)
