"""Answers as bytes: pieces as they are kept, and put together in one file; numbers as short as they are exact."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet

from shimopt.batch.answers import COLUMNS, Answered
from shimopt.batch.decimals import text_bytes
from shimopt.tables.csv_text import DANGEROUS

FORMATS = (".csv", ".parquet")
_HEADER = (",".join(COLUMNS) + "\n").encode()
_SPECIAL = (b'"', b",", b"\n", b"\r")
_CODED = ["stack", "verdict", "reason"]


def packed(answered: Answered, form: str, *, exact_names: bool = False) -> bytes:
    """The answers of a piece as they are kept: lines of CSV (formulas only if `exact_names`), or an Arrow file."""
    if form == ".csv":
        return csv_of(answered, exact_names=exact_names)
    table = answered.table().combine_chunks()
    sink = pa.BufferOutputStream()
    with pa.ipc.new_file(sink, table.schema) as file:
        file.write_table(table)
    return bytes(sink.getvalue())


def csv_of(answered: Answered, *, exact_names: bool = False) -> bytes:
    """The lines of a chunk, in UTF-8; a text is none that a spreadsheet runs unless `exact_names`."""
    texts = [_texts(column, exact_names) for column in answered.different.columns]
    ends = pc.binary_join_element_wise(*texts, ",", null_handling="replace", null_replacement="")
    ends = pc.binary_join_element_wise(ends, "\n", "")
    if answered.code is not None:
        ends = ends.take(pa.array(answered.code))
    names = _quoted(_acting_on_nobody(pc.fill_null(answered.names, ""), exact_names))
    return text_bytes(pc.binary_join_element_wise(names, ends, ","))


def _texts(column: pa.ChunkedArray, exact_names: bool) -> pa.Array:
    array = column.combine_chunks()
    if pa.types.is_dictionary(array.type):
        texts = _quoted(_acting_on_nobody(array.dictionary, exact_names))
        return pa.DictionaryArray.from_arrays(array.indices, texts).dictionary_decode()
    return pc.cast(array, pa.string())


def _acting_on_nobody(texts: pa.Array, exact_names: bool) -> pa.Array:
    """Texts as `tables.csv_text.harmless` makes them, all at once."""
    if exact_names:
        return texts
    acts = pc.match_substring_regex(texts, DANGEROUS)
    return pc.if_else(acts, pc.binary_join_element_wise("'", texts, ""), texts) if pc.any(acts).as_py() else texts


def _quoted(texts: pa.Array) -> pa.Array:
    """Texts with quotes where a comma, a quote or a line end asks for them."""
    if not any(sign in text_bytes(texts) for sign in _SPECIAL):
        return texts
    inner = pc.replace_substring(texts, '"', '""')
    quoted = pc.binary_join_element_wise('"', inner, '"', "")
    return pc.if_else(pc.match_substring_regex(texts, '[",\r\n]'), quoted, texts)


class Joint:
    """Pieces put together in one file, `count` of them so far."""

    def __init__(self, path: Path) -> None:
        self.path, self.count = path, 0
        self.file = open(path, "wb")  # noqa: SIM115 - open until the last piece has come

    def add(self, piece: Path) -> None:
        """Put the next piece after the others."""
        self._append(piece)
        self.count += 1

    def close(self) -> None:
        """Bring all of it to the disk."""
        self.file.flush()
        os.fsync(self.file.fileno())
        self.file.close()

    def drop(self) -> None:
        """Let go of the file, whatever is in it; it is made anew the next time."""
        self.file.close()

    def _append(self, piece: Path) -> None:
        raise NotImplementedError


class CsvJoint(Joint):
    """Lines of CSV below one header."""

    def _append(self, piece: Path) -> None:
        if not self.count:
            self.file.write(_HEADER)
        with open(piece, "rb") as part:
            shutil.copyfileobj(part, self.file, 4 * 1024 * 1024)


class ParquetJoint(Joint):
    """A parquet file, a row group a piece."""

    writer: pyarrow.parquet.ParquetWriter | None = None

    def _append(self, piece: Path) -> None:
        with pa.memory_map(str(piece)) as source:
            table = pa.ipc.open_file(source).read_all()
            if self.writer is None:
                self.writer = pyarrow.parquet.ParquetWriter(self.file, table.schema, use_dictionary=_CODED)
            self.writer.write_table(table)

    def close(self) -> None:
        """Write what is at the end of such a file, and bring all of it to the disk."""
        if self.writer is not None:
            self.writer.close()
        super().close()

    def drop(self) -> None:
        """Let go of the file, whatever is in it."""
        # else it would write to the closed file when it is thrown away
        if self.writer is not None and self.writer.is_open:
            self.writer.is_open = False  # Arrow has no other way to be told
        super().drop()
