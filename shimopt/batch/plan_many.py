"""`plan_many`: a batch from Python, pandas in and pandas out; a Dask frame in gives a Dask frame."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from shimopt.batch.terms import Terms, load_terms
from shimopt.errors import InputError, Problem
from shimopt.lengths import UNITS
from shimopt.tables.binary import need_pyarrow

if TYPE_CHECKING:
    import pandas as pd
    import pyarrow as pa

    from shimopt.batch.answers import Answers
    from shimopt.batch.table_pieces import Header

# the thickest blade that goes, the thinnest that does not
_BLADES = {"go": "low", "no_go": "high"}


# whatever a call of the command can say in its options can be said here, each by its name
def plan_many(
    frame: pd.DataFrame,
    *,
    parts: str | os.PathLike[str] | pd.DataFrame | None = None,
    job: str | os.PathLike[str] | None = None,
    min: str | float | None = None,
    max: str | float | None = None,
    target: str | float | None = None,
    most_pieces: int | None = None,
    seat: str | None = None,
) -> Any:
    """Choose a stack for every gap of a frame, each by itself and with every size in supply.

    Parameters: frame, with the columns of gaps.csv (`gap, low_mm, high_mm` ..., or `go_mm, no_go_mm` for low and high:
    the thickest blade that goes and the thinnest that does not); parts, a parts table (a file, or a frame with its
    columns) or the name of a catalogue that comes with shimopt; job, a job file whose window, seats, stacks and parts
    are used; min, max, target, lengths such as "0.10 mm" (or "none" for no limit; a bare number is in the job's unit),
    where no row says one. A float counts as its shortest decimal text, 0.1 as 0.1.

    Gives a frame of the same index with the columns `gap, stack, after_low_mm, after_best_mm, after_high_mm, verdict,
    chance, reason`: texts as pandas strings, lengths and chances as floats, missing where a row is refused, and
    `verdict` a category of inside, unproven, outside and refused. A Dask frame is answered partition by partition.
    Needs the extra `batch`. Raises InputError.

    >>> import pandas, shimopt
    >>> gaps = pandas.DataFrame({"gap": ["a"], "low_mm": [0.30], "high_mm": [0.32]})
    >>> shimopt.plan_many(gaps, job="demo_data/pump-line/line.toml")["stack"][0]
    'P-15'
    """
    need_pyarrow("plan_many")
    limits = {key: None if value is None else str(value) for key, value in (("min", min), ("max", max))}
    terms = load_terms(
        parts,
        job,
        **limits,
        target=None if target is None else str(target),
        most_pieces=most_pieces,
        seat=seat,
        from_python=True,
    )
    if type(frame).__module__.partition(".")[0].startswith("dask"):
        _header(frame, terms)
        return frame.map_partitions(_of_frame, terms, meta=_of_frame(frame.head(0), terms))
    return _of_frame(frame, terms)


def _header(frame: pd.DataFrame, terms: Terms) -> Header:
    """The frame's columns, those of blades by what they say: the gap is above one and below the other.

    Raises InputError in the names that the frame uses: who writes of blades is asked for a blade.
    """
    from shimopt.batch.table_pieces import header_of

    names = [str(name).strip().casefold() for name in frame.columns]
    blades = {f"{blade}_{unit}": f"{end}_{unit}" for blade, end in _BLADES.items() for unit in UNITS}
    try:
        # an end that stands there already is the one that counts
        return header_of("frame", [blades[name] if _is_end(name, names) else name for name in names], terms)
    except InputError as error:
        if not any(_is_end(name, names) for name in names):
            raise
        asked = {end: blade for blade, end in blades.items() if end not in names}
        raise InputError([_renamed(problem, asked) for problem in error.problems]) from None


def _renamed(problem: Problem, names: Mapping[str, str]) -> Problem:
    for name, asked in names.items():
        texts = {key: re.sub(rf"\b{name}\b", asked, getattr(problem, key)) for key in ("where", "remedy")}
        problem = replace(problem, **texts)
    return problem


def _in_words_of(frame: pd.DataFrame) -> Callable[[str], str]:
    """What says of a refused row's low and high what it says of the blades that the frame has in their place."""
    names = [str(name).strip().casefold() for name in frame.columns]
    ends = {_BLADES[name.rpartition("_")[0]]: name.rpartition("_")[0] for name in names if _is_end(name, names)}
    asked = ends | {f"{end}_{unit}": f"{blade}_{unit}" for end, blade in ends.items() for unit in UNITS}

    def told(reason: str) -> str:
        return re.sub(r"\b(low|high)(_\w+)?\b", lambda found: asked.get(found[0], found[0]), reason)

    return told


def _is_end(name: str, names: Sequence[str]) -> bool:
    """Whether this column says a blade, where its end of the gap is not said outright."""
    blade, _, unit = name.rpartition("_")
    return blade in _BLADES and unit in UNITS and f"{_BLADES[blade]}_{unit}" not in names


def _of_frame(frame: pd.DataFrame, terms: Terms) -> pd.DataFrame:
    """The answers to one frame."""
    import pandas as pd
    import pyarrow as pa

    from shimopt.batch.answers import COLUMNS, VERDICTS

    header = _header(frame, terms)
    cells = {key: _cells(frame.iloc[:, at]) for key, at in header.at.items()}
    table = _answers(terms).of(cells, header.unit_of).table()
    # one type whatever the rows: a frame of few and one of many can be put together
    types = dict.fromkeys(("gap", "stack", "reason"), "string")
    for name in (*types, "verdict"):
        table = table.set_column(COLUMNS.index(name), name, table[name].cast(pa.string()))
    found: pd.DataFrame = table.to_pandas()
    refused = found["verdict"] == "refused"
    found.loc[refused, "reason"] = found.loc[refused, "reason"].map(_in_words_of(frame))
    found.index = frame.index
    return found.astype({**types, "verdict": pd.CategoricalDtype(VERDICTS)})


def _cells(column: pd.Series[Any]) -> pa.Array:
    import pyarrow as pa

    try:
        array = pa.array(column, from_pandas=True)
    except (pa.ArrowInvalid, pa.ArrowTypeError, pa.ArrowNotImplementedError):
        # cells of several kinds: each as it is written
        array = pa.array([None if cell is None or cell != cell else str(cell) for cell in column], pa.string())
    return array.combine_chunks() if isinstance(array, pa.ChunkedArray) else array


# one entry: the partitions of a frame come one after the other, each in whatever process is free
_kept: dict[str, Answers] = {}


def _answers(terms: Terms) -> Answers:
    """The stacks of these terms, worked out once in every process."""
    from shimopt.batch.answers import Answers

    key = repr(terms)
    found = _kept.get(key)
    if found is None:
        found = Answers(terms)
        _kept.clear()
        _kept[key] = found
    return found
