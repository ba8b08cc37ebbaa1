"""The drawer's counts after fitting: what left it, what came back, and whether that was written already."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from shimopt.errors import InputError, Problem
from shimopt.job.record import FittedPiece, matching_line
from shimopt.lengths import spelled
from shimopt.parts import StockLine, load_stock
from shimopt.tables.edit import EditedTable, read_to_change

__all__ = ["Change", "changes_of", "drawer_with"]


@dataclass(frozen=True, slots=True)
class Change:
    """By how much the count of a piece changes: below zero it left the drawer. `count` is what is there before."""

    piece: FittedPiece
    by: int
    count: int
    row: int | None


def changes_of(
    moved: Mapping[FittedPiece, int], drawer: Path, catalogues: list[Path], *, bought: bool = False
) -> list[Change]:
    """The changes to this drawer as it is now. Raises InputError where it holds less than is to leave it.

    Parameters: moved, pieces that went into the machine (above zero) or came out; bought, whether what the drawer lacks
    was bought and never lay in it.
    """
    stock = load_stock(drawer, catalogues).lines
    own = tuple(line for line in stock if line.row is not None)
    changes, problems = [], []
    for piece, into in sorted(
        moved.items(), key=lambda item: (item[0].part, item[0].piece or "", item[0].thickness.low)
    ):
        at = matching_line(piece, own)
        line: StockLine | None = None if at is None else own[at]
        there = line.on_hand if line else 0
        if into > there and bought:
            into = there
        if into > there:
            name = f"{piece.part} [{piece.piece}]" if piece.piece else piece.part
            where, thick = f"row {line.row}" if line else "", spelled(piece.thickness.best, "mm")
            rule = f"{into} x {name} ({thick}) went into the machine, and the drawer does not hold so many"
            problems.append(Problem(str(drawer), where, f"{there} on hand", rule, "count them, or plan again"))
        elif into:
            changes.append(Change(piece, -into, there, line.row if line else None))
    if problems:
        raise InputError(problems)
    return changes


def drawer_with(path: Path, changes: list[Change]) -> EditedTable:
    """The drawer with its counts changed, not yet written. Raises InputError, also for a workbook."""
    drawer = read_to_change(path)
    if "on_hand" not in drawer.columns and changes:
        drawer = drawer.with_column("on_hand", "1")
    cells: dict[tuple[int, str], str] = {}
    by_row: Counter[int] = Counter()
    for change in changes:
        if change.row is not None:
            by_row[change.row] += change.by
            cells[change.row, "on_hand"] = str(change.count + by_row[change.row])
    drawer = drawer.with_cells(cells)
    for change in changes:
        if change.row is None:
            drawer = _with_columns(drawer, change.piece)
            drawer = drawer.with_row(_new_row(drawer, change))
    return drawer


def _with_columns(drawer: EditedTable, piece: FittedPiece) -> EditedTable:
    """The drawer with the columns that tell this piece from others of its part."""
    if piece.piece and "piece" not in drawer.columns:
        drawer = drawer.with_column("piece", "")
    alike = "part" in drawer.columns and _row_of(drawer, piece.part) is not None
    if (alike or not piece.thickness.exact) and not _column(drawer, "measured_"):
        drawer = drawer.with_column("measured_mm", "")
    if not piece.thickness.exact and not _column(drawer, "measuring_error_"):
        drawer = drawer.with_column("measuring_error_mm", "")
    return drawer


def _column(drawer: EditedTable, start: str) -> str | None:
    return next((column for column in drawer.columns if column.startswith(start)), None)


def _row_of(drawer: EditedTable, part: str) -> int | None:
    return next((row for row in drawer.rows if drawer.cell(row, "part") == part), None)


def _new_row(drawer: EditedTable, change: Change) -> dict[str, str]:
    """A row for a piece that came out of the machine and has none; its diameters are those of its part."""
    piece, cells = change.piece, {}
    if "part" in drawer.columns:
        like = _row_of(drawer, piece.part)
        if like is not None:
            cells = {column: drawer.cell(like, column) for column in drawer.columns if column not in ("piece", "at")}
        cells["part"] = piece.part
    cells["on_hand"] = str(change.by)
    if piece.piece:
        cells["piece"] = piece.piece
    size = _column(drawer, "measured_") or _column(drawer, "thickness_")
    if size:
        cells[size] = drawer.length(piece.thickness.best, size.rpartition("_")[2])
    error = _column(drawer, "measuring_error_")
    if error:
        half = (piece.thickness.high - piece.thickness.low) / 2
        cells[error] = drawer.length(half, error.rpartition("_")[2]) if half else ""
    return cells
