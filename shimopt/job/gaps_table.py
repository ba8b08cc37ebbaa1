"""Many gaps from a table: one row per gap, with the columns low, high, best, min, max, target, seat, balance."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from shimopt.errors import Problem
from shimopt.job.model import Window
from shimopt.parts.columns import Columns, read_columns
from shimopt.parts.table import Row, read_table
from shimopt.readings import Reading, ReadingError
from shimopt.readings.value import bracket_reading

__all__ = ["GapRow", "read_gaps_table"]

_LENGTHS = ("low", "high", "best", "min", "max", "target")
_PLAIN = ("gap", "seat", "balance")


@dataclass(frozen=True, slots=True)
class GapRow:
    """One gap of a table; `window` is None where the job's own window holds."""

    name: str
    reading: Reading
    window: Window | None
    seat: str
    balance: str
    where: str


def read_gaps_table(
    path: Path, job_window: Window | None, problems: list[Problem]
) -> tuple[list[GapRow], list[tuple[str, str]]]:
    """All gaps of a table, and its columns that are not read. Problems are added to `problems`; raises InputError."""
    table = read_table(path, "gaps table")
    columns = read_columns(table, _LENGTHS, _PLAIN, ["gap", "low", "high"])
    rows: list[GapRow] = []
    if not table.problems:
        rows = [found for row in table.rows if (found := _gap_row(columns, row, job_window, path)) is not None]
    problems += table.problems
    return rows, [(path.name, column) for column in columns.not_read]


def _gap_row(columns: Columns, row: Row, job_window: Window | None, path: Path) -> GapRow | None:
    before = len(columns.table.problems)
    name = columns.text(row, "gap")
    if not name:
        columns.complain(row, "gap", "a gap has a name", "fill in the column gap")
    low, high, best = (_length(columns, row, key) for key in ("low", "high", "best"))
    for key, value in (("low", low), ("high", high)):
        if value is None and not columns.text(row, key):
            columns.complain(row, key, "a gap is read from low to high", f"fill in {key}")
    window = _window(columns, row, job_window, path)
    if low is None or high is None or len(columns.table.problems) > before:
        return None
    try:
        reading = bracket_reading(low, high, best)
    except ReadingError as error:
        columns.complain(row, "best" if best is not None and low <= high else "low", error.rule, error.remedy)
        return None
    return GapRow(name, reading, window, columns.text(row, "seat"), columns.text(row, "balance"), f"row {row.number}")


def _length(columns: Columns, row: Row, key: str) -> int | None:
    return columns.length(row, key) if columns.has(key) else None


def _window(columns: Columns, row: Row, job_window: Window | None, path: Path) -> Window | None:
    """The row's own window; what it leaves blank comes from the job's window."""
    if not any(columns.has(key) and columns.text(row, key) for key in ("min", "max", "target")):
        return None
    limits: dict[str, int | None] = {}
    for key in ("min", "max"):
        if columns.has(key) and columns.text(row, key):
            limit = columns.limit(row, key)
            limits[key] = None if isinstance(limit, str) else limit
        elif job_window is not None:
            limits[key] = getattr(job_window, key)
        else:
            column = f"{key}_{columns.unit_of.get(key, 'mm')}"
            columns.table.complain(row, column, "", f"the window has no {key}",
                                   'fill it in ("none" for no limit), or give the job a [window]')  # fmt: skip
            return None
    target = _length(columns, row, "target")
    low, high = limits["min"], limits["max"]
    if low is None and high is None:
        columns.complain(row, "min" if columns.has("min") else "max",
                         "a window with neither min nor max allows everything", "state at least one of them")  # fmt: skip
    elif low is not None and high is not None and low > high:
        columns.complain(row, "min" if columns.has("min") else "max", "min is above max", "swap them")
    elif target is not None and not ((low is None or low <= target) and (high is None or target <= high)):
        columns.complain(row, "target", "the target lies outside min and max", "aim inside the window")
    if target is None and job_window is not None and limits == {"min": job_window.min, "max": job_window.max}:
        target = job_window.stated_target
    return Window(low, high, job_window.source if job_window else f"{path.name}, row {row.number}", target)
