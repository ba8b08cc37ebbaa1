"""Pieces as rows of a user's drawer: the columns that they need, and their cells as that file writes numbers."""

from __future__ import annotations

from collections.abc import Container, Sequence
from fractions import Fraction

from shimopt.errors import FaultError
from shimopt.lengths import UNITS, decimal_text, to_nm
from shimopt.parts.drawer import FittedPiece
from shimopt.parts.measured import MeasuredPiece
from shimopt.tables.edit import EditedTable


def with_returned(drawer: EditedTable, piece: FittedPiece, count: int) -> EditedTable:
    """The drawer with one more row, for pieces that came out of the machine and have none.

    What the row says beside them is taken from a row of the same part. Raises InputError.
    """
    like = (
        next((row for row in drawer.rows if drawer.cell(row, "part") == piece.part), None)
        if ("part" in drawer.columns)
        else None
    )
    exact = piece.thickness.exact
    if piece.piece and "piece" not in drawer.columns:
        drawer = drawer.with_column("piece", "")
    # the columns that tell this piece from others of its part
    if (like is not None or not exact) and not _column(drawer, "measured_"):
        drawer = drawer.with_column("measured_mm", "")
    if not exact and not _column(drawer, "measuring_error_"):
        drawer = drawer.with_column("measuring_error_mm", "")
    cells = {}
    if like is not None:
        cells = {
            column: drawer.cell(like, column)
            for column in drawer.columns
            if column not in ("piece", "at", "supplier", "lot")
        }
    if "part" in drawer.columns:
        cells["part"] = piece.part
    cells["on_hand"] = str(count)
    cells |= {name: told for name in ("supplier", "lot") if name in drawer.columns and (told := getattr(piece, name))}
    if piece.piece:
        cells["piece"] = piece.piece
    if size := _column(drawer, "measured_") or _column(drawer, "thickness_"):
        cells[size] = drawer.length(piece.thickness.best, size.rpartition("_")[2])
    if error := _column(drawer, "measuring_error_"):
        half = (piece.thickness.high - piece.thickness.low) / 2
        cells[error] = drawer.length(half, error.rpartition("_")[2]) if half else ""
    return drawer.with_row(cells)


def _column(drawer: EditedTable, start: str) -> str | None:
    return next((column for column in drawer.columns if column.startswith(start)), None)


def _unit(columns: Sequence[str], name: str) -> str | None:
    return next((unit for unit in UNITS if f"{name}_{unit}" in columns), None)


def columns_needed(
    columns: Sequence[str], pieces: Sequence[MeasuredPiece], printed_elsewhere: Container[str] = ()
) -> list[str]:
    """The columns that a drawer lacks and accepted pieces need.

    Parameter: printed_elsewhere, parts whose marking and tolerance stand in a catalogue.
    """
    unit = _unit(columns, "measured") or _unit(columns, "thickness") or "mm"
    needed = [name for name in ("part", "piece") if name not in columns]
    measured, marked = [p for p in pieces if p.spots], [p.part for p in pieces if not p.spots]
    if any(piece.count > 1 for piece in pieces) and "on_hand" not in columns:
        needed.append("on_hand")
    if measured and _unit(columns, "measured") is None:
        needed.append(f"measured_{unit}")
    if _unit(columns, "measuring_error") is None and any(not piece.part.thickness.exact for piece in measured):
        needed.append(f"measuring_error_{unit}")
    told = [part for part in (piece.part for piece in measured) if part.printed and part.marked is not None]
    if _unit(columns, "thickness") is not None:
        printed = bool(told)
    else:
        # beside a measure a tolerance says something only where the marking stands, too
        printed = any(part.name not in printed_elsewhere for part in told)
        if marked or printed:
            needed.append(f"thickness_{unit}")
    if _unit(columns, "tolerance") is None and (printed or any(not part.thickness.exact for part in marked)):
        needed.append(f"tolerance_{unit}")
    for name in ("inner", "outer"):
        known = any(name in piece.measured for piece in pieces) or any(getattr(part, name) for part in marked)
        if _unit(columns, name) is None and known:
            needed.append(f"{name}_{unit}")
    as_typed = ("at", "note", "supplier", "lot")
    texts = [name for name in as_typed if any(getattr(piece.part, name) for piece in pieces)]
    return needed + [name for name in texts if name not in columns]


def accepted_row(piece: MeasuredPiece, columns: Sequence[str], *, comma: bool) -> dict[str, str]:
    """The cells of an accepted piece, numbers with a decimal comma if `comma`.

    One that is taken as marked says how far that may be off: jobs without its catalogue share the drawer.
    """
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
    if not piece.spots:
        del lengths["measured"], lengths["measuring_error"]
    row = {
        "part": part.name,
        "piece": part.piece or "",
        "on_hand": str(piece.count),
        "at": part.at,
        "note": part.note,
        "material": part.material,
        "form": part.form,
        "hardness": part.hardness,
        "supplier": part.supplier,
        "lot": part.lot,
    }
    for name, length in lengths.items():
        if length is not None and (unit := _unit(columns, name)) is not None:
            row[f"{name}_{unit}"] = _number(int(length), unit, comma=comma)
    printed = part.printed if piece.spots else part.thickness
    unit = _unit(columns, "tolerance")
    if printed is not None and part.marked is not None and unit is not None:
        ends = (printed.high - part.marked, part.marked - printed.low)
        above, below = (_number(int(off), unit, comma=comma) for off in ends)
        row[f"tolerance_{unit}"] = above if above == below else f"+{above}/-{below}"
    for name, bracket in (("inner", part.inner), ("outer", part.outer)):
        unit = _unit(columns, name)
        if bracket is not None and unit is not None:
            half = (bracket.high - bracket.low).__ceil__() // 2
            text = _number(bracket.low.__ceil__() + half, unit, comma=comma)
            row[f"{name}_{unit}"] = f"{text} ± {_number(half, unit, comma=comma)}" if half else text
    return {column: row[column] for column in columns if row.get(column)}


def _number(nm: int, unit: str, *, comma: bool) -> str:
    """The shortest decimal number of units that reads back as the same nanometres."""
    for digits in range(13):
        text = decimal_text(nm, unit, digits)
        if to_nm(Fraction(text), unit) == nm:
            return text.replace(".", ",") if comma else text
    raise FaultError(f"{nm} nm has no decimal number in {unit}")
