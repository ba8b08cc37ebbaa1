"""Gaps in a parquet file, a row group at a time."""

from __future__ import annotations

import os
from collections.abc import Iterator
from functools import lru_cache

import pyarrow as pa
import pyarrow.parquet

from shimopt.batch.headers import Header, header_of
from shimopt.batch.pieces import Cells, Piece
from shimopt.batch.terms import Terms
from shimopt.errors import InputError, Problem

__all__ = ["PIECE_ROWS", "ParquetSource"]

PIECE_ROWS = 100_000


class ParquetSource:
    """A parquet file; its lengths may be numbers, decimals or texts."""

    decimal_comma = False

    def __init__(self, path: str, terms: Terms) -> None:
        self.path = path
        self.size = os.path.getsize(path)
        try:
            file = pyarrow.parquet.ParquetFile(path)
        except pa.ArrowInvalid as error:
            raise InputError(
                [
                    Problem(
                        path, "", "", f"this is not a parquet file ({str(error)[:80]})", "write it anew, or name a CSV"
                    )
                ]
            ) from None
        with file:
            names = file.schema_arrow.names
            self.header: Header = header_of(path, names, terms)
            self.names = {key: names[at] for key, at in self.header.at.items()}
            counted = (file.metadata.row_group(at).num_rows for at in range(file.metadata.num_row_groups))
            self.groups: list[int] = list(counted)
        if not sum(self.groups):
            raise InputError([Problem(path, "", "", "the gaps table has a header and no rows", "write rows below it")])

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
        raise InputError(
            [Problem(path, f"row group {group}", "", f"it cannot be read ({str(error)[:80]})", "write the file anew")]
        ) from None
