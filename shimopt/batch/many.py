"""`plan_many`: a batch from Python, pandas in and pandas out; a Dask frame in gives a Dask frame."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from shimopt.batch.answers import COLUMNS, Answers
from shimopt.batch.pieces import header_of
from shimopt.batch.terms import Terms, load_terms

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["plan_many"]


def plan_many(
    frame: pd.DataFrame,
    *,
    parts: str | os.PathLike[str] | None = None,
    job: str | os.PathLike[str] | None = None,
    min: str | None = None,
    max: str | None = None,
    target: str | None = None,
    most_pieces: int | None = None,
    seat: str | None = None,
) -> Any:
    """Choose a stack for every gap of a frame, each by itself and with every size in supply.

    Parameters: frame, with the columns of gaps.csv (`gap, low_mm, high_mm` ...); parts, a parts table or the name of a
    catalogue that comes with shimopt; job, a job file whose window, seats, stacks and parts are used; min, max,
    target, lengths such as "0.10 mm" (or "none" for no limit), where no row says one. Gives a frame of the same index
    with the columns `gap, stack, after_low_mm, after_best_mm, after_high_mm, verdict, chance, reason`. A Dask frame is
    answered partition by partition. Raises InputError.

    >>> import pandas, shimopt
    >>> gaps = pandas.DataFrame({"gap": ["a"], "low_mm": [0.30], "high_mm": [0.32]})
    >>> shimopt.plan_many(gaps, job="demo_data/pump-line/line.toml")["stack"][0]
    'P-15'
    """
    terms = load_terms(parts, job, min=min, max=max, target=target, most_pieces=most_pieces, seat=seat)
    if type(frame).__module__.partition(".")[0].startswith("dask"):
        header_of("frame", [str(name) for name in frame.columns], terms)
        return frame.map_partitions(_of_frame, terms, meta=_of_frame(frame.head(0), terms))
    return _of_frame(frame, terms)


def _of_frame(frame: pd.DataFrame, terms: Terms) -> pd.DataFrame:
    """The answers to one frame."""
    header = header_of("frame", [str(name) for name in frame.columns], terms)
    cells = {key: _cells(frame.iloc[:, at]) for key, at in header.at.items()}
    table = _answers(terms).of(cells, header.unit_of).table()
    # plain texts: a frame of few rows and one of many have the same types
    texts = {name: table[name].cast(pa.string()) for name in ("gap", "stack", "verdict", "reason")}
    for name, column in texts.items():
        table = table.set_column(COLUMNS.index(name), name, column)
    found: pd.DataFrame = table.to_pandas()
    found.index = frame.index
    return found


def _cells(column: pd.Series[Any]) -> pa.Array:
    try:
        array = pa.array(column, from_pandas=True)
    except (pa.ArrowInvalid, pa.ArrowTypeError, pa.ArrowNotImplementedError):
        # cells of several kinds: each as it is written
        array = pa.array([None if cell is None or cell != cell else str(cell) for cell in column], pa.string())
    return array.combine_chunks() if isinstance(array, pa.ChunkedArray) else array


_kept: dict[str, Answers] = {}


def _answers(terms: Terms) -> Answers:
    """The stacks of these terms, worked out once in every process."""
    key = repr(terms)
    if key not in _kept:
        _kept.clear()
        _kept[key] = Answers(terms)
    return _kept[key]
