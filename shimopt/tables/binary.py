"""Cells of XLSX and parquet files as text, with the traps of spreadsheets: formulas, dates, several sheets, bombs."""

from __future__ import annotations

import datetime
import io
import sys
import warnings
import zipfile
from importlib.abc import MetaPathFinder
from pathlib import Path
from typing import Any

from shimopt.errors import InputError, get_extra

# cells that are something else than they should be: by row number and cell index, with rule and remedy
Spoilt = dict[tuple[int, int], tuple[str, str]]

_MOST_UNPACKED = 64 * 1024 * 1024
_MOST_CELLS = 1_000_000
_MOST_ROWS = 100_000
_FAILED_FORMULAS = {"#REF!", "#N/A", "#VALUE!", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!"}


def read_sheet(raw: bytes, path: Path, what: str) -> tuple[list[tuple[int, list[str]]], Spoilt]:
    """The rows of the workbook's only sheet with data, as text, with their numbers. Raises InputError."""
    _check_size(raw, path, what)
    values, formulas = _workbook(raw, path, what, data_only=True), _workbook(raw, path, what, data_only=False)
    try:
        filled = [name for name in values.sheetnames if _has_data(values[name]) or _has_data(formulas[name])]
        if not filled:
            raise InputError.at(path, f"the {what} is empty", "write a header, and rows below it")
        if len(filled) > 1:
            raise InputError.at(
                path,
                "several sheets hold data, and which one is meant is not said",
                "keep one sheet in this file, or save the right one as CSV",
                value=", ".join(filled),
            )
        return _rows(values[filled[0]], formulas[filled[0]])
    except InputError:
        raise
    except _TooManyCellsError:
        rule = f"a workbook has at most {_MOST_ROWS:,} rows and {_MOST_CELLS:,} cells"
        raise InputError.at(path, rule, "is it the right file? If so, save it as CSV") from None
    except Exception:
        raise _not_a_workbook(path, what) from None
    finally:
        values.close()
        formulas.close()


def _check_size(raw: bytes, path: Path, what: str) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            unpacked = sum(entry.file_size for entry in archive.infolist())
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        raise _not_a_workbook(path, what) from None
    if unpacked > _MOST_UNPACKED:
        raise InputError.at(
            path,
            f"the {what} unpacks to more than it can be",
            "save it again from a spreadsheet, or as CSV",
            value=f"{unpacked:,} bytes unpacked",
        )


def _workbook(raw: bytes, path: Path, what: str, *, data_only: bool) -> Any:
    from openpyxl import load_workbook

    try:
        with warnings.catch_warnings():
            # openpyxl warns of styles and extensions that it drops; only the cells matter here
            warnings.simplefilter("ignore")
            return load_workbook(io.BytesIO(raw), read_only=True, data_only=data_only)
    except Exception:
        raise _not_a_workbook(path, what) from None


def _has_data(sheet: Any) -> bool:
    return hasattr(sheet, "iter_rows") and any(
        value is not None and str(value).strip() for row in _limited(sheet) for value in row
    )


class _TooManyCellsError(Exception):
    """More cells than any parts table has."""


def _limited(sheet: Any) -> Any:
    """Rows of plain values, up to a number of them that is read in a few seconds."""
    # what a sheet says of its own size may be wrong, and pads every row
    sheet.reset_dimensions()
    cells = 0
    for rows, row in enumerate(sheet.iter_rows(values_only=True), start=1):
        cells += len(row)
        if cells > _MOST_CELLS or rows > _MOST_ROWS:
            raise _TooManyCellsError
        yield row


def _rows(values: Any, formulas: Any) -> tuple[list[tuple[int, list[str]]], Spoilt]:
    rows: list[tuple[int, list[str]]] = []
    spoilt: Spoilt = {}
    for number, (row, raw_row) in enumerate(zip(_limited(values), _limited(formulas), strict=True), start=1):
        cells = []
        for index, (value, raw) in enumerate(zip(row, raw_row, strict=True)):
            text, words = _cell_text(value, raw)
            if words:
                spoilt[number, index] = words
            cells.append(text)
        rows.append((number, cells))
    return rows, spoilt


def _cell_text(value: Any, raw: Any) -> tuple[str, tuple[str, str] | None]:
    """A cell as text, and what is wrong with it."""
    if value is None and raw is not None:
        words = ("a formula has no stored result", "open and save the file in a spreadsheet, or write the number")
        return str(raw) if isinstance(raw, str) else "a formula", words
    if isinstance(value, datetime.date | datetime.time | datetime.timedelta):
        return str(value), ("a date stands where text or a number belongs", "format the cell as text and type it again")
    if isinstance(value, bool):
        return str(value).upper(), ("a truth value stands where text or a number belongs", "write the number")
    if value in _FAILED_FORMULAS:
        return value, ("the formula in this cell failed", "mend the formula, or write the number")
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value)), None
    return ("" if value is None else str(value)), None


def _not_a_workbook(path: Path, what: str) -> InputError:
    return InputError.at(path, f"the {what} is not a readable XLSX workbook", "save it again, or save it as CSV")


def need_pyarrow(where: str) -> None:
    """Raise InputError where pyarrow is not installed, with what installs it."""
    try:
        import pyarrow  # noqa: F401 - only asked whether it is there
    except ImportError:
        raise InputError.at(where, "this needs pyarrow, which is not installed", get_extra("batch")) from None


class _WithoutPandas(MetaPathFinder):
    def find_spec(self, name: str, *_: object) -> None:
        if name == "pandas":
            raise ModuleNotFoundError(name)


def arrow_alone() -> None:
    """Keep pyarrow from loading pandas, as it does for its first array: a quarter of a small batch's time.

    For a command, which makes no frames. Where one is asked for in the same process all the same, pyarrow looks again.
    """
    import pyarrow as pa

    finder = _WithoutPandas()
    sys.meta_path.insert(0, finder)
    try:
        pa.scalar(0)
    finally:
        sys.meta_path.remove(finder)


def read_parquet(raw: bytes, path: Path, what: str) -> list[tuple[int, list[str]]]:
    """The header as row 1 and the rows below it, numbered as a spreadsheet would. Raises InputError."""
    need_pyarrow(str(path))
    import pyarrow as pa
    import pyarrow.parquet

    try:
        table = pyarrow.parquet.read_table(io.BytesIO(raw))
    except (pa.ArrowException, OSError):
        rule, remedy = f"the {what} is not a readable parquet file", "write it anew, or save it as CSV"
        raise InputError.at(path, rule, remedy) from None
    columns = [[_text(cell) for cell in column.to_pylist()] for column in table.columns]
    return [(1, list(table.column_names)), *((n, list(cells)) for n, cells in enumerate(zip(*columns, strict=True), 2))]


def _text(cell: object) -> str:
    """A cell as it would be typed; a number by its shortest decimal text."""
    if cell is None or cell != cell:
        return ""
    return str(int(cell)) if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15 else str(cell)
