"""A job from plain values: what a form, a notebook or another program holds in place of files."""

from __future__ import annotations

import datetime
import os
from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from numbers import Integral, Real
from pathlib import Path
from typing import Any

from shimopt.errors import InputError, Problem
from shimopt.job.build import Named, job_of
from shimopt.job.from_files import catalogue_file, named_files
from shimopt.job.gap import Window
from shimopt.job.gaps_table import read_gaps_table
from shimopt.job.job_errors import DEEPEST, Keys, Written
from shimopt.job.model import Job
from shimopt.parts.csv_drawer import CsvDrawer
from shimopt.parts.drawer import Drawer, MemoryDrawer
from shimopt.parts.drawer_and_catalogues import Stock
from shimopt.parts.drawer_and_catalogues import load_stock as stock_of
from shimopt.tables.read import Source


def job_from(
    mapping: Mapping[str, Any],
    stock: Stock | Drawer | Source | str | None = None,
    *,
    gaps: Source | str | None = None,
    folder: str | os.PathLike[str] = "",
    from_start: bool = False,
) -> Job:
    """The job that a mapping describes, with the keys of job.toml; the same Job as `load_job` makes of such a file.

    Parameters: stock, the parts, from `load_stock`, or a table of the parts on hand (a path, or a pandas frame with the
    columns of a drawer), or the `drawer_of` another job, to go on with what was left there: it holds in place of the
    `drawer` and the `catalogues` that the mapping names, which are read where it is not given. What is recorded changes
    a drawer in a file where a path was given, else a copy in memory, the job's `drawer_of`. gaps, a table of gaps in
    place of the one that the mapping names; folder, where named files lie (the current folder if not given);
    from_start, whether to pass over `record`. Bare numbers are in the mapping's `unit`; a float counts as its shortest
    decimal text, 0.1 as 0.1. What is None counts as left out. Raises InputError with every problem, each with its
    `field`.

    >>> import shimopt
    >>> gap = {"name": "drum", "feeler": {"go": 0.40, "no_go": 0.45}}
    >>> window = {"min": 0.1, "max": 0.3, "source": "sheet 7"}
    >>> job = shimopt.job_from({"unit": "mm", "window": window, "gap": [gap]}, shimopt.load_stock())
    >>> job.gaps[0].reading.bracket.low
    Fraction(400000, 1)
    """
    refused: list[tuple[Keys, str, str, str]] = []
    plain = _plain(mapping, (), refused)
    if not isinstance(plain, dict):
        rule, remedy = "a job is a mapping with the keys of job.toml", 'give {"unit": ..., "gap": [...]}'
        raise InputError.at("", rule, remedy, where="mapping", value=type(mapping).__name__)
    written = Written(plain)
    if refused:
        raise InputError(written.problem(*one) for one in refused)

    def named(window: Window | None, problems: list[Problem]) -> Named:
        found = named_files(written, Path(folder), window, problems) if stock is None else _given(stock, problems)
        table = None if gaps is None else _table(gaps)
        if table is None and stock is not None and (name := written.text("gaps")):
            table = Path(folder) / name
        # there is no job file to write into
        found = replace(found, sources=None)
        return found if table is None else replace(found, rows=read_gaps_table(table, window, problems))

    return job_of(written, named, from_start=from_start)


def load_stock(drawer: Source | str | None = None, catalogues: str | Iterable[Source | str] = ()) -> Stock:
    """What is on hand, and what could be bought, from tables.

    Parameters: drawer, the parts on hand; catalogues, parts on offer: each a path, a pandas frame with the columns that
    such a file has, or the name of a catalogue that comes with shimopt. Raises InputError.

    >>> import shimopt
    >>> shimopt.load_stock(catalogues=["din988"]).lines[0].on_hand
    0
    """
    problems: list[Problem] = []
    nowhere, found = Written({}), []
    for one in [catalogues] if isinstance(catalogues, str) else catalogues:
        table = catalogue_file(one, Path(), nowhere, problems) if isinstance(one, str) else one
        found += [] if table is None else [table]
    if problems:
        raise InputError(problems)
    return stock_of(None if drawer is None else _table(drawer), found)


def _given(stock: Stock | Drawer | Source | str, problems: list[Problem]) -> Named:
    """Stock, and the drawer that it lies in, from any of the shapes in which it may be given."""
    if isinstance(stock, Stock):
        return Named(stock, drawer=MemoryDrawer(stock.lines))
    try:
        if isinstance(stock, str | os.PathLike):
            path = Path(stock)
            return Named(stock_of(path, ()), inputs=(str(path),), drawer=CsvDrawer(path))
        # a drawer holds pieces, a frame rows
        if isinstance(stock, Drawer):
            return Named(Stock(stock.stock()), drawer=stock)
        read = stock_of(stock, ())
        return Named(read, drawer=MemoryDrawer(read.lines))
    except InputError as error:
        problems += error.problems
        return Named()


def _table(table: Source | str) -> Source:
    return Path(table) if isinstance(table, str | os.PathLike) else table


def _plain(value: Any, at: Keys, refused: list[tuple[Keys, str, str, str]]) -> Any:
    """A value as a TOML file would have given it; what no job can hold is added to `refused`."""
    if len(at) > DEEPEST:
        refused.append((at[:1], "", "the tables are nested deeper than a job can be", "flatten them"))
        return None
    match value:
        case None | str() | bool() | Decimal() | datetime.date() | datetime.time():
            return value
        case Fraction():
            return str(value)
        case Integral():
            return int(value)
        case Real():
            # the shortest text that gives this float again; nan and infinities are refused where a number is asked for
            return Decimal(str(value))
        case Mapping():
            names = [key for key in value if not isinstance(key, str)]
            refused += [(at, str(key), "the name of a key is a text", "write it in quotes") for key in names]
            pairs = ((key, _plain(inner, (*at, key), refused)) for key, inner in value.items() if key not in names)
            return {key: inner for key, inner in pairs if inner is not None}
        case list() | tuple():
            return [_plain(inner, (*at, number), refused) for number, inner in enumerate(value)]
        case os.PathLike():
            return os.fspath(value)
    if hasattr(value, "tolist"):
        # an array or a column of a frame
        return _plain(value.tolist(), at, refused)
    refused.append((at, type(value).__name__, "this is nothing that a job can hold", "give a number, text or list"))
    return None
