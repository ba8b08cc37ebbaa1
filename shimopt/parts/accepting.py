"""Putting accepted pieces into the drawer: one row a piece, told apart by its tag, so that twice adds nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from shimopt.errors import InputError, Problem
from shimopt.lengths import UNITS, to_nm
from shimopt.parts.measured import MeasuredPiece
from shimopt.tables.edit import EditedTable, read_to_change
from shimopt.tables.locking import locked
from shimopt.tables.read import is_workbook

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
    if is_workbook(drawer):
        plain = ["part", "piece", "on_hand", "measured_mm", "measuring_error_mm", "inner_mm", "outer_mm"]
        return Accepted(tuple(_row(piece, plain, comma=False) for piece in pieces), (), False)
    with locked(drawer):
        file = read_to_change(drawer)
        there = _tags(file)
        new = [p for p in pieces if (p.part.name, p.part.piece or "") not in there]
        old = tuple(f"{p.part.name} [{p.part.piece}]" for p in pieces if p not in new)
        if not new:
            return Accepted((), old, False)
        count = len(file.rows)
        for column in _needed(file.columns, new):
            file = file.with_column(column, "")
        rows = tuple(_row(piece, file.columns, comma=file.uses_comma) for piece in new)
        for row in rows:
            file = file.with_row(row)
        if len(file.rows) != count + len(rows):
            rule, remedy = "the rows cannot be added to this file as it is", "open it in a spreadsheet, save it as CSV"
            raise InputError([Problem(str(drawer), "", f"{len(rows)} rows", rule, remedy)])
        file.save()
    return Accepted(rows, old, True)


def _tags(file: EditedTable) -> set[tuple[str, str]]:
    if not {"part", "piece"} <= set(file.columns):
        return set()
    return {(file.cell(row, "part"), file.cell(row, "piece")) for row in file.rows}


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
        "measured": middle,
        "measuring_error": error,
        "thickness": part.marked,
        "edge": part.edge,
    }
    row = {
        "part": part.name,
        "piece": part.piece or "",
        "on_hand": "1",
        "at": part.at,
        "note": part.note,
        "material": part.material,
        "form": part.form,
        "hardness": part.hardness,
    }
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
