"""Putting accepted pieces into the drawer: one row a piece, told apart by its tag, so that twice adds nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from shimopt.errors import InputError, Problem
from shimopt.lengths import UNITS, to_nm
from shimopt.parts.csv_text import CsvText
from shimopt.parts.files import MOST_TABLE_BYTES, file_bytes
from shimopt.parts.measured import MeasuredPiece
from shimopt.parts.replacing import locked, replace_bytes

__all__ = ["Accepted", "accept"]


@dataclass(frozen=True, slots=True)
class Accepted:
    """What was done: the rows as column and cell, pieces there already, and whether the drawer was written."""

    rows: tuple[dict[str, str], ...]
    there_already: tuple[str, ...]
    written: bool


def accept(drawer: Path, pieces: Sequence[MeasuredPiece]) -> Accepted:
    """Add pieces to a drawer, under a lock, from what the drawer holds at this moment.

    An XLSX drawer is not written: the rows that it should get are handed back. Raises InputError; the drawer is then as
    it was.
    """
    if file_bytes(drawer, MOST_TABLE_BYTES, "drawer").startswith(b"PK\x03\x04") or drawer.suffix.lower() == ".xlsx":
        plain = ["part", "piece", "on_hand", "measured_mm", "measuring_error_mm", "inner_mm", "outer_mm"]
        return Accepted(tuple(_row(piece, plain, comma=False) for piece in pieces), (), False)
    with locked(drawer):
        text = CsvText.of(file_bytes(drawer, MOST_TABLE_BYTES, "drawer"), drawer)
        there = _tags(text)
        new = [p for p in pieces if (p.part.name, p.part.piece or "") not in there]
        old = tuple(f"{p.part.name} [{p.part.piece}]" for p in pieces if p not in new)
        if not new:
            return Accepted((), old, False)
        text.add_columns(_needed(text.columns, new))
        comma = text.uses_comma()
        rows = tuple(_row(piece, text.columns, comma=comma) for piece in new)
        for row in rows:
            text.add_row(row)
        content = text.encoded()
        _refuse_unreadable(content, text, drawer, len(new))
        replace_bytes(drawer, content, "drawer")
    return Accepted(rows, old, True)


def _tags(text: CsvText) -> set[tuple[str, str]]:
    columns = text.columns
    at = {name: columns.index(name) for name in ("part", "piece") if name in columns}
    if len(at) < 2:
        return set()
    cells = [[cell.strip() for cell in record.cells] for record in text.records if record is not text.header]
    return {(row[at["part"]], row[at["piece"]]) for row in cells if len(row) > max(at.values())}


def _unit(columns: Sequence[str], name: str) -> str | None:
    return next((unit for unit in UNITS if f"{name}_{unit}" in columns), None)


def _needed(columns: Sequence[str], pieces: Sequence[MeasuredPiece]) -> list[str]:
    """The columns that the drawer lacks and the pieces need."""
    unit = _unit(columns, "measured") or _unit(columns, "thickness") or "mm"
    needed = [name for name in ("part", "piece") if name not in columns]
    if _unit(columns, "measured") is None:
        needed.append(f"measured_{unit}")
    if _unit(columns, "measuring_error") is None and any(not piece.part.thickness.exact for piece in pieces):
        needed.append(f"measuring_error_{unit}")
    for name in ("inner", "outer"):
        if _unit(columns, name) is None and any(name in piece.measured for piece in pieces):
            needed.append(f"{name}_{unit}")
    return needed


def _row(piece: MeasuredPiece, columns: Sequence[str], *, comma: bool) -> dict[str, str]:
    part = piece.part
    low, high = part.thickness.low, part.thickness.high
    # the middle in whole nanometres, and an error that covers both ends
    middle = (low + high).__floor__() // 2
    error = max(high - middle, middle - low).__ceil__()
    lengths: dict[str, Fraction | int | None] = {
        "measured": middle, "measuring_error": error, "thickness": part.marked, "edge": part.edge,
    }  # fmt: skip
    row = {"part": part.name, "piece": part.piece or "", "on_hand": "1", "at": part.at, "note": part.note,
           "material": part.material, "form": part.form, "hardness": part.hardness}  # fmt: skip
    for name, length in lengths.items():
        if length is not None and (unit := _unit(columns, name)) is not None:
            row[f"{name}_{unit}"] = _number(int(length), unit, comma=comma)
    for name in ("inner", "outer"):
        bracket, unit = getattr(part, name), _unit(columns, name)
        if bracket is not None and unit is not None:
            half = (bracket.high - bracket.low).__ceil__() // 2
            text = _number(bracket.low.__ceil__() + half, unit, comma=comma)
            row[f"{name}_{unit}"] = f"{text} ± {_number(half, unit, comma=comma)}" if half else text
    return {column: row[column] for column in columns if row.get(column)}


def _number(nm: int, unit: str, *, comma: bool) -> str:
    """The shortest decimal number of units that reads back as the same nanometres."""
    value = Fraction(nm) / UNITS[unit]
    for digits in range(13):
        rounded = round(value, digits)
        if to_nm(rounded, unit) == nm:
            text = f"{Decimal(rounded.numerator) / Decimal(rounded.denominator):.{digits}f}"
            return text.replace(".", ",") if comma else text
    raise AssertionError("every nanometre has a decimal number")


def _refuse_unreadable(content: bytes, text: CsvText, drawer: Path, added: int) -> None:
    """The new content must read as the old did, and the new rows; else nothing is written."""
    again = CsvText.of(content, drawer)
    if len(again.records) != len(text.records) or again.columns != text.columns:
        raise InputError([Problem(str(drawer), "", f"{added} rows", "the rows cannot be added to this file as it is",
                                  "open it in a spreadsheet, and save it again as CSV")])  # fmt: skip
