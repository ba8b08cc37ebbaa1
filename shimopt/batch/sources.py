"""The files of a batch: one table, or a folder of them."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Mapping
from pathlib import Path

from shimopt.batch.csv_source import CsvSource
from shimopt.batch.parquet_source import ParquetSource
from shimopt.batch.pieces import Source
from shimopt.batch.terms import Terms
from shimopt.errors import InputError, Problem
from shimopt.parts import natural_key
from shimopt.tables.files import nearby_remedy

__all__ = ["KINDS", "sources_of"]

KINDS: Mapping[str, Callable[[str, Terms], Source]] = {".csv": CsvSource, ".parquet": ParquetSource}


def sources_of(path: Path, terms: Terms) -> list[Source]:
    """The gaps table, or all CSV and parquet files of a folder in natural order. Raises InputError."""
    if path.is_dir():
        files = [file for file in path.iterdir() if file.suffix.lower() in KINDS and file.is_file()]
        if not files:
            raise _refused(path, "the folder holds no CSV and no parquet file", "name a table, or a folder of tables")
        files.sort(key=lambda file: (natural_key(file.name), file.name))
    else:
        files = [path]
    problems: list[Problem] = []
    sources: list[Source] = []
    for file in files:
        try:
            sources.append(_source(file, terms))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return sources


def _source(path: Path, terms: Terms) -> Source:
    try:
        kind = os.stat(path).st_mode
    except FileNotFoundError:
        raise _refused(path, "there is no such gaps table", nearby_remedy(path)) from None
    except (OSError, ValueError) as error:
        raise _refused(path, f"the gaps table cannot be opened ({error})", "check the path") from None
    if not stat.S_ISREG(kind):
        raise _refused(path, "the gaps table is not an ordinary file", "name a file, not a device or pipe")
    if path.suffix.lower() not in KINDS:
        raise _refused(path, "the gaps table is neither CSV nor parquet", "save it as .csv or .parquet")
    try:
        return KINDS[path.suffix.lower()](str(path), terms)
    except OSError as error:
        raise _refused(path, f"the gaps table cannot be read ({error.strerror})", "check its permissions") from None


def _refused(path: Path, rule: str, remedy: str) -> InputError:
    return InputError([Problem(str(path), "", "", rule, remedy)])
