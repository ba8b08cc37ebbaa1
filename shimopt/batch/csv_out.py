"""Answers as lines of CSV: quotes only where a cell needs them, numbers as short as they are exact."""

from __future__ import annotations

import pyarrow as pa
import pyarrow.compute as pc

from shimopt.batch.answers import COLUMNS, Answered
from shimopt.batch.cells import text_bytes

__all__ = ["CSV_HEADER", "csv_of"]

CSV_HEADER = (",".join(COLUMNS) + "\n").encode()
_SPECIAL = (b'"', b",", b"\n", b"\r")


def csv_of(answered: Answered) -> bytes:
    """The lines of a chunk, in UTF-8."""
    texts = [_texts(column) for column in answered.different.columns]
    ends = pc.binary_join_element_wise(*texts, ",", null_handling="replace", null_replacement="")
    ends = pc.binary_join_element_wise(ends, "\n", "")
    if answered.code is not None:
        ends = ends.take(pa.array(answered.code))
    names = _quoted(pc.fill_null(answered.names, ""))
    return text_bytes(pc.binary_join_element_wise(names, ends, ","))


def _texts(column: pa.ChunkedArray) -> pa.Array:
    array = column.combine_chunks()
    if pa.types.is_dictionary(array.type):
        return pa.DictionaryArray.from_arrays(array.indices, _quoted(array.dictionary)).dictionary_decode()
    return pc.cast(array, pa.string())


def _quoted(texts: pa.Array) -> pa.Array:
    """Texts with quotes where a comma, a quote or a line end asks for them."""
    if not any(sign in text_bytes(texts) for sign in _SPECIAL):
        return texts
    inner = pc.replace_substring(texts, '"', '""')
    quoted = pc.binary_join_element_wise('"', inner, '"', "")
    return pc.if_else(pc.match_substring_regex(texts, '[",\r\n]'), quoted, texts)
