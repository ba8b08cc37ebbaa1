"""Columns of tables that people write: names with a unit at the end, and cells as lengths, counts and texts."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from shimopt.errors import nearest_name
from shimopt.lengths import SPELLINGS, UNITS, Bracket, LengthError, parse_number, to_nm
from shimopt.parts.files import MOST_LISTED
from shimopt.parts.hardness import hardness_of
from shimopt.parts.iso286 import classed
from shimopt.parts.part import FORMS
from shimopt.parts.table import Row, Table

__all__ = ["Columns", "complain_of_no_column", "read_columns"]

_TOLERANCE = re.compile(r"\+\s*(?P<plus>[\d.]+)\s*/\s*-\s*(?P<minus>[\d.]+)|(?P<zero>0)\s*/\s*-\s*(?P<below>[\d.]+)")
_MOST_PIECES = 10**6


@dataclass(frozen=True, slots=True)
class Columns:
    """Which columns a table has: `unit_of` maps the bare name of a length column to its unit."""

    table: Table
    unit_of: dict[str, str]
    not_read: list[str]

    def has(self, name: str) -> bool:
        """Whether the table has this column, with any unit."""
        return name in self.unit_of or name in self.table.columns

    def _named(self, name: str) -> str:
        return f"{name}_{self.unit_of[name]}" if name in self.unit_of else name

    def text(self, row: Row, name: str) -> str:
        """The cell's text, empty where there is none."""
        return row.get(self._named(name))

    def complain(self, row: Row, name: str, rule: str, remedy: str) -> None:
        """Note that this cell is wrong."""
        self.table.complain(row, self._named(name), self.text(row, name), rule, remedy)

    def number(self, text: str) -> Fraction:
        """A number as this table writes it. Raises LengthError."""
        if self.table.decimal_comma and "," in text and "." not in text and text.count(",") == 1:
            text = text.replace(",", ".")
        return parse_number(text.replace("−", "-"))

    def length(self, row: Row, name: str) -> int | None:
        """The cell as nanometres; None where it is empty or wrong (then the problem is noted)."""
        text = self.text(row, name)
        if not text:
            return None
        try:
            return to_nm(self.number(text), self.unit_of[name])
        except LengthError as error:
            own_unit = any(ch.isdigit() for ch in text) and any(text.endswith(unit) for unit in SPELLINGS)
            remedy = "write the number alone: its unit stands in the column's name" if own_unit else error.remedy
            self.complain(row, name, error.rule, remedy)
            return None

    def limit(self, row: Row, name: str) -> int | str | None:
        """The cell as nanometres or the word "none"."""
        return "none" if self.text(row, name).casefold() == "none" else self.length(row, name)

    def tolerance(self, row: Row, name: str) -> tuple[int, int] | None:
        """A cell such as `0.05` or `+0/-0.05` as (above, below), both from 0 up [nm]."""
        text = self.text(row, name).replace("−", "-").removeprefix("±").removeprefix("+/-").strip()
        if self.table.decimal_comma:
            text = text.replace(",", ".")
        if not text:
            return None
        pair = _TOLERANCE.fullmatch(text)
        try:
            if pair:
                above, below = pair["plus"] or pair["zero"], pair["minus"] or pair["below"]
            else:
                above = below = text
            found = to_nm(self.number(above), self.unit_of[name]), to_nm(self.number(below), self.unit_of[name])
        except LengthError as error:
            self.complain(row, name, error.rule, "write it like 0.05 or +0/-0.05")
            return None
        if min(found) < 0:
            self.complain(row, name, "a tolerance is not negative", "write it like 0.05 or +0/-0.05")
            return None
        return found

    def diameter(self, row: Row, name: str) -> Bracket | None:
        """A cell such as `15.2`, `15.2 ± 0.05` or, by ISO 286, `15 D12` (outside: `21 d12`) as a bracket."""
        text = self.text(row, name).replace("+/-", "±")
        if not text:
            return None
        middle, _, half = text.partition("±")
        try:
            unit = self.unit_of[name]
            plain = text.replace(",", ".") if self.table.decimal_comma else text
            if limits := classed(plain, "shaft" if name == "outer" else "hole", unit):
                return limits
            nm, half_nm = to_nm(self.number(middle.strip()), unit), to_nm(self.number(half.strip() or "0"), unit)
        except LengthError as error:
            self.complain(row, name, error.rule, error.remedy)
            return None
        if half_nm < 0 or nm - half_nm <= 0:
            self.complain(row, name, "a diameter is above zero and its tolerance not negative", "measure it again")
            return None
        return Bracket.between(nm - half_nm, nm + half_nm)

    def chamfer(self, row: Row, name: str) -> int | None:
        """A cell as a length from 0 up; None where it is empty or wrong (then the problem is noted)."""
        nm = self.length(row, name) if self.has(name) else None
        if nm is not None and nm < 0:
            self.complain(row, name, "this length is not negative", "write it without a sign")
            return None
        return nm

    def form(self, row: Row) -> str:
        """The form of a part, empty where nobody said."""
        text = self.text(row, "form").casefold()
        if text and text not in FORMS:
            meant = nearest_name(text, FORMS)
            remedy = f"did you mean {meant}?" if meant else "write one of these, or leave the cell blank"
            self.complain(row, "form", f"a form is one of {', '.join(FORMS)}", remedy)
            return ""
        return text

    def hardness(self, row: Row) -> str:
        """The hardness of a part as a text that can be read, empty where nobody said."""
        text = self.text(row, "hardness")
        try:
            return str(hardness_of(text.replace(",", ".") if self.table.decimal_comma else text)) if text else ""
        except LengthError as error:
            self.complain(row, "hardness", error.rule, error.remedy)
            return ""

    def count(self, row: Row, name: str, *, least: int) -> int | None:
        """A cell as a whole number of at least `least`; None where it is wrong (then the problem is noted)."""
        try:
            number = self.number(self.text(row, name))
        except LengthError:
            number = None
        if number is None or number.denominator != 1 or not least <= number <= _MOST_PIECES:
            self.complain(row, name, f"a count is a whole number from {least} to {_MOST_PIECES:,}", "write how many")
            return None
        return int(number)


def read_columns(table: Table, lengths: Iterable[str], plain: Iterable[str], needed: Iterable[str]) -> Columns | None:
    """Match a table's header with the known columns; None where it does not, with the problems noted on the table."""
    before = len(table.problems)
    lengths, plain = list(lengths), list(plain)
    known = plain + [f"{name}_{unit}" for name in lengths for unit in UNITS]
    columns = Columns(table, {}, [])
    for column in table.columns:
        base, _, unit = column.rpartition("_")
        if column in plain:
            continue
        if base in lengths and unit in UNITS:
            if base in columns.unit_of:
                table.complain(None, column, "", f"`{base}` stands in two units", "keep one of the two columns")
            columns.unit_of[base] = unit
        elif base in lengths or column in lengths:
            table.complain(
                None,
                column,
                "",
                "a length column ends in its unit: mm, um, in or thou",
                f"name it {base if base in lengths else column}_mm, or the unit it is in",
            )
        elif meant := nearest_name(column.replace(" ", "_"), known):
            table.complain(None, column, "", "this column is not known", f"did you mean {meant}?")
        elif column or any(row.get(column) for row in table.rows):
            columns.not_read.append(column or "(without a name)")
    header_problems = table.problems[before:]
    for name in needed:
        if not columns.has(name) and not any(name in problem.where + problem.remedy for problem in header_problems):
            complain_of_no_column(table, name, is_length=name in lengths)
    if len(table.problems) > before:
        return None
    _set_spoilt_rows_aside(columns)
    return columns


def complain_of_no_column(table: Table, name: str, *, is_length: bool) -> None:
    """Note that the table lacks a column."""
    column, others = (f"{name}_mm", " (or _um, _in, _thou)") if is_length else (name, "")
    table.complain(None, column, "", "this column is missing", f"add the column {column}{others}")


def _set_spoilt_rows_aside(columns: Columns) -> None:
    """Note the spoilt cells of columns that are read, and read the other rows only."""
    table = columns.table
    read = set(table.columns) - set(columns.not_read)
    spoilt_rows = set()
    cells = {row.number: row for row in table.rows}
    for (number, column), (rule, remedy) in table.spoilt.items():
        if number in cells and column in read and len(table.problems) < MOST_LISTED:
            table.complain(cells[number], column, cells[number].get(column), rule, remedy)
            spoilt_rows.add(number)
    table.rows = [row for row in table.rows if row.number not in spoilt_rows]
