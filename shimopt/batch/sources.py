"""The files of a batch: one table, or a folder of them; parquet a row group at a time."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet

from shimopt.batch.csv_source import CsvSource
from shimopt.batch.table_pieces import Cells, Header, Piece, Source, header_of
from shimopt.batch.terms import Terms
from shimopt.errors import InputError, Problem
from shimopt.parts import natural_key
from shimopt.tables.files import nearby_remedy

PIECE_ROWS = 100_000


class ParquetSource:
    """A parquet file; its lengths may be numbers, decimals or texts."""

    decimal_comma = False

    def __init__(self, path: str, terms: Terms) -> None:
        self.path = path
        self.size = Path(path).stat().st_size
        try:
            file = pyarrow.parquet.ParquetFile(path)
        except pa.ArrowInvalid as error:
            raise InputError.at(
                path, f"this is not a parquet file ({str(error)[:80]})", "write it anew, or name a CSV"
            ) from None
        with file:
            names = file.schema_arrow.names
            self.header: Header = header_of(path, names, terms)
            self.names = {key: names[at] for key, at in self.header.at.items()}
            counted = (file.metadata.row_group(at).num_rows for at in range(file.metadata.num_row_groups))
            self.groups: list[int] = list(counted)
        if not sum(self.groups):
            raise InputError.at(path, "the gaps table has a header and no rows", "write rows below it")

    def pieces(self) -> Iterator[Piece]:
        """At most PIECE_ROWS rows of one row group each."""
        for group, rows in enumerate(self.groups):
            for start in range(0, rows, PIECE_ROWS):
                yield Piece(self.path, start, min(start + PIECE_ROWS, rows), group)

    def share(self, piece: Piece) -> float:
        """What share of the rows a piece is."""
        return (piece.stop - piece.start) / sum(self.groups)

    def read(self, piece: Piece) -> Cells:
        """The cells of a piece as they are typed."""
        group = _row_group(self.path, piece.group, tuple(self.names.values()))
        rows = group.slice(piece.start, piece.stop - piece.start)
        return Cells({key: rows[name].combine_chunks() for key, name in self.names.items()})


@lru_cache(maxsize=2)
def _row_group(path: str, group: int, names: tuple[str, ...]) -> pa.Table:
    """A row group; the last ones are kept, for the pieces of one are asked for one after the other."""
    try:
        with pyarrow.parquet.ParquetFile(path) as file:
            return file.read_row_group(group, columns=list(names), use_threads=False)
    except (pa.ArrowInvalid, OSError) as error:
        raise InputError.at(
            path, f"it cannot be read ({str(error)[:80]})", "write the file anew", where=f"row group {group}"
        ) from None


_KINDS: Mapping[str, Callable[[str, Terms], Source]] = {".csv": CsvSource, ".parquet": ParquetSource}


def sources_of(path: Path, terms: Terms) -> list[Source]:
    """The gaps table, or all CSV and parquet files of a folder in natural order. Raises InputError."""
    if path.is_dir():
        files = [file for file in path.iterdir() if file.suffix.lower() in _KINDS and file.is_file()]
        if not files:
            raise InputError.at(
                path, "the folder holds no CSV and no parquet file", "name a table, or a folder of tables"
            )
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
        raise InputError.at(path, "there is no such gaps table", nearby_remedy(path)) from None
    except (OSError, ValueError) as error:
        raise InputError.at(path, f"the gaps table cannot be opened ({error})", "check the path") from None
    if not stat.S_ISREG(kind):
        raise InputError.at(path, "the gaps table is not an ordinary file", "name a file, not a device or pipe")
    if path.suffix.lower() not in _KINDS:
        raise InputError.at(path, "the gaps table is neither CSV nor parquet", "save it as .csv or .parquet")
    try:
        return _KINDS[path.suffix.lower()](str(path), terms)
    except OSError as error:
        raise InputError.at(
            path, f"the gaps table cannot be read ({error.strerror})", "check its permissions"
        ) from None
