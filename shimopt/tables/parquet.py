"""Rows of a parquet file as text; needs the extra `batch`."""

from __future__ import annotations

import io
import sys
from importlib.abc import MetaPathFinder
from pathlib import Path

from shimopt.errors import InputError

__all__ = ["arrow_alone", "need_pyarrow", "read_parquet"]


def need_pyarrow(where: str) -> None:
    """Raise InputError where pyarrow is not installed, with what installs it."""
    try:
        import pyarrow  # noqa: F401 - only asked whether it is there
    except ImportError:
        rule = "this needs pyarrow, which is not installed"
        remedy = "install it from shimopt's folder: pip install '.[batch]'"
        raise InputError.at(where, rule, remedy) from None


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
