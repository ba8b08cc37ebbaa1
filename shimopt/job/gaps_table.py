"""Many gaps from a table: one row per gap, with the columns low, high, best, min, max, target, seat, balance."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from pathlib import Path

from shimopt.errors import InputError, Problem, RefusedError
from shimopt.job.gap import AT_ODDS, Window
from shimopt.lengths import Bracket
from shimopt.readings import Reading
from shimopt.readings.value import bracket_reading
from shimopt.tables.columns import Columns, read_columns
from shimopt.tables.files import MOST_LISTED
from shimopt.tables.read import Row, Source, Table, read_table

_LENGTHS = ("low", "high", "best", "min", "max", "target")
_PLAIN = ("gap", "seat", "balance", "checked")
YES = ("yes", "true", "y", "x", "1")
NO = ("", "no", "false", "n", "0")


@dataclass(frozen=True, slots=True)
class GapRow:
    """One gap of a table; `window` is None where the job's own window holds.

    `unit` is that of its column low; `checked` whether somebody looked again at a reading that seems a slip.
    """

    name: str
    reading: Reading
    window: Window | None
    seat: str
    balance: str
    row: Row
    table: Table
    _: KW_ONLY
    unit: str = "mm"
    checked: bool = False

    @property
    def where(self) -> str:
        """Where it stands in its table."""
        return f"row {self.row.number}"

    def problem(self, column: str, value: str, rule: str, remedy: str) -> Problem:
        """What is wrong in a column of this row."""
        return self.table.problem(self.row, column, value, rule, remedy)


@dataclass(frozen=True, slots=True)
class GapRows:
    """The gaps of a table, whether these are all of them, and the columns that are not read."""

    rows: tuple[GapRow, ...] = ()
    complete: bool = True
    not_read: tuple[tuple[str, str], ...] = ()


def read_gaps_table(source: Source, job_window: Window | None, problems: list[Problem]) -> GapRows:
    """All gaps of a table. Problems are added to `problems`.

    A row that cannot be read still gives its names, with a stand-in for its reading.
    """
    try:
        return _read(source, job_window, problems)
    except InputError as error:
        problems += error.problems
        return GapRows(complete=False)


def _read(source: Source, job_window: Window | None, problems: list[Problem]) -> GapRows:
    table = read_table(source, "gaps table")
    path = table.path
    columns = read_columns(table, _LENGTHS, _PLAIN, ["gap", "low", "high"])
    if columns is None:
        raise InputError(table.problems)
    complete = not table.problems
    rows: list[GapRow] = []
    for row in table.rows:
        rows.append(_gap_row(columns, row, job_window, path))
        if len(table.problems) >= MOST_LISTED:
            table.complain(None, "", "", "more may be wrong than is listed here", "mend these first")
            complete = False
            break
    problems += table.problems
    named = tuple(row for row in rows if row.name)
    return GapRows(named, complete, tuple((path.name, column) for column in columns.not_read))


def _gap_row(columns: Columns, row: Row, job_window: Window | None, path: Path) -> GapRow:
    before = len(columns.table.problems)
    name = columns.text(row, "gap")
    if not name:
        columns.complain(row, "gap", "a gap has a name", "fill in the column gap")
    low, high, best = (_length(columns, row, key) for key in ("low", "high", "best"))
    for key in ("low", "high"):
        if not columns.text(row, key):
            columns.complain(row, key, "a gap is read from low to high", f"fill in {key}")
    window = _window(columns, row, job_window, path)
    reading = Reading(Bracket.between(0, 0), "table")
    if low is not None and high is not None and len(columns.table.problems) == before:
        try:
            reading = bracket_reading(low, high, best)
        except RefusedError as error:
            columns.complain(row, "best" if best is not None and low <= high else "low", error.rule, error.remedy)
    seat, balance = columns.text(row, "seat"), columns.text(row, "balance")
    unit = columns.unit_of["low"]
    return GapRow(name, reading, window, seat, balance, row, columns.table, unit=unit, checked=_checked(columns, row))


def _checked(columns: Columns, row: Row) -> bool:
    said = columns.text(row, "checked").casefold()
    if said not in (*YES, *NO):
        columns.complain(row, "checked", "a reading was checked or not", "write yes, or leave it blank")
    return said in YES


def _length(columns: Columns, row: Row, key: str) -> int | None:
    return columns.length(row, key) if columns.has(key) else None


def _window(columns: Columns, row: Row, job_window: Window | None, path: Path) -> Window | None:
    """The row's own window; what it leaves blank comes from the job's window."""
    if not any(columns.has(key) and columns.text(row, key) for key in ("min", "max", "target")):
        return None
    before = len(columns.table.problems)
    limits: dict[str, int | None] = {}
    for key in ("min", "max"):
        if columns.has(key) and columns.text(row, key):
            limit = columns.limit(row, key)
            limits[key] = None if isinstance(limit, str) else limit
        elif job_window is not None:
            limits[key] = getattr(job_window, key)
        else:
            column = f"{key}_{columns.unit_of.get(key, columns.unit_of['low'])}"
            columns.table.complain(
                row,
                column,
                "",
                f"the window has no {key}",
                'fill it in ("none" for no limit), or give the job a [window]',
            )
    target = _length(columns, row, "target")
    # a stand-in: the row is refused, but it does have a window
    if len(columns.table.problems) > before:
        return Window(0, None, "")
    source = job_window.source if job_window else f"{path.name}, row {row.number}"
    window = Window(limits["min"], limits["max"], source, target)
    if window.at_odds:
        limit = "min" if columns.has("min") and columns.text(row, "min") else "max"
        columns.complain(row, "target" if window.at_odds == "target" else limit, *AT_ODDS[window.at_odds])
    if target is None and job_window is not None and limits == {"min": job_window.min, "max": job_window.max}:
        return replace(window, stated_target=job_window.stated_target)
    return window
