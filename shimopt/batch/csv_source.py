"""Gaps in a CSV of any size: cut at line ends, read by Arrow, and line by line where a piece is not as it should be."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pyarrow as pa
import pyarrow.csv

from shimopt.batch.table_pieces import Cells, Header, Piece, header_of
from shimopt.batch.terms import Terms
from shimopt.errors import InputError, shown
from shimopt.tables.csv_text import BrokenRecordError, delimiter_named, delimiter_of, extra_cells_remedy, records

PIECE_BYTES = 2 * 1024 * 1024
_LONGEST_LINE = 64 * 1024 * 1024
_BLOCK = 256 * 1024
_UTF8_MARK = b"\xef\xbb\xbf"


class CsvSource:
    """A CSV with commas, semicolons or tabs, in UTF-8 (else lines are taken as Windows-1252)."""

    def __init__(self, path: str, terms: Terms) -> None:
        self.path = path
        self.size = Path(path).stat().st_size
        first, self.start = self._first_line(0)
        self.delimiter = delimiter_of(first)
        if delimiter_named(first):
            first, self.start = self._first_line(self.start)
        self.decimal_comma = self.delimiter != ","
        try:
            names = next(records(first, self.delimiter)).cells
        except BrokenRecordError as error:
            raise self._refused("line 1", f"the gaps table's header is broken ({error})", "check its quotes") from None
        self.columns = len(names)  # with any without a name at the end
        self.header: Header = header_of(path, names, terms)
        if self.start >= self.size:
            raise self._refused("", "the gaps table has a header and no rows", "write rows below it")

    def _refused(self, where: str, rule: str, remedy: str) -> InputError:
        return InputError.at(self.path, rule, remedy, where=where)

    def _first_line(self, at: int) -> tuple[str, int]:
        """The first line from a place on that holds anything, and where the next begins."""
        with open(self.path, "rb") as file:
            file.seek(at)
            for raw in _lines_of(file):
                at += len(raw)
                if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in raw:
                    raise self._refused("line 1", "the gaps table is not text in UTF-8", "save it again as UTF-8")
                text = _decoded_line(raw.removeprefix(_UTF8_MARK)).strip("\r\n")
                if text.strip(" ,;\t"):
                    return text, at
        raise self._refused("", "the gaps table is empty", "write a header, and rows below it")

    def pieces(self) -> Iterator[Piece]:
        """Pieces of about PIECE_BYTES that end where a line ends, not inside a quoted cell."""
        at = self.start
        with open(self.path, "rb") as file:
            while at < self.size:
                length = self._length(file, at)
                yield Piece(self.path, at, at + length)
                at += length

    def _length(self, file: io.BufferedReader, at: int) -> int:
        wide = PIECE_BYTES
        while True:
            file.seek(at)
            block = file.read(wide)
            if at + len(block) >= self.size:
                return len(block)
            if cut := _last_line_end(block):
                return cut
            if wide > _LONGEST_LINE:
                raise self._refused(f"byte {at:,}", "a line is at most 64 MiB long", "is it the right file?")
            wide *= 2

    def share(self, piece: Piece) -> float:
        """What share of the rows a piece is, about."""
        return (piece.stop - piece.start) / (self.size - self.start)

    def read(self, piece: Piece) -> Cells:
        """The cells of a piece as texts."""
        with open(self.path, "rb") as file:
            file.seek(piece.start)
            raw = file.read(piece.stop - piece.start)
        try:
            columns = self._by_arrow(raw)
        except pa.ArrowInvalid:
            return self._line_by_line(raw)
        return Cells(_without_blank_rows(columns))

    def _by_arrow(self, raw: bytes) -> dict[str, pa.Array]:
        if b"\0" in raw:
            raise pa.ArrowInvalid("zero bytes")
        names = [str(number) for number in range(self.columns)]
        read = {str(at): key for key, at in self.header.at.items()}
        table = pyarrow.csv.read_csv(
            pa.BufferReader(raw),
            read_options=pyarrow.csv.ReadOptions(use_threads=False, block_size=len(raw) + 1, column_names=names),
            parse_options=pyarrow.csv.ParseOptions(delimiter=self.delimiter, newlines_in_values=b'"' in raw),
            convert_options=pyarrow.csv.ConvertOptions(
                column_types=dict.fromkeys(names, pa.string()),
                include_columns=list(read),
                strings_can_be_null=True,
                null_values=[""],
            ),
        )
        return {read[name]: _whole(table[name]) for name in table.column_names}

    def _line_by_line(self, raw: bytes) -> Cells:
        """Every record by itself, so that a wrong one spoils no other."""
        columns: dict[str, list[str | None]] = {key: [] for key in self.header.at}
        broken: dict[int, str] = {}
        for count, record in enumerate(self._records(raw)):
            if isinstance(record, str):
                broken[count] = record
            for key, at in self.header.at.items():
                columns[key].append(None if isinstance(record, str) else record[at] or None)
            if isinstance(record, str):
                columns["gap"][-1] = None
        return Cells({key: pa.array(values, pa.string()) for key, values in columns.items()}, broken)

    def _records(self, raw: bytes) -> Iterator[list[str] | str]:
        """The cells of each row, or what is wrong with it; blank rows are none."""
        lines = [_decoded_line(line) for line in raw.splitlines(keepends=True)]
        while lines:
            try:
                for record in records(lines, self.delimiter):
                    if record.filled:
                        yield self._checked(record.cells)
                return
            except BrokenRecordError as error:
                # only the line on which it begins is given up
                yield f"the line is no row of a table ({shown(error)}). Check its quotes."
                lines = lines[error.number :]

    def _checked(self, cells: list[str]) -> list[str] | str:
        """The cells of a row, as many as the header has, or what is wrong with it."""
        width = self.header.width
        while len(cells) > width and not cells[-1].strip():
            cells.pop()
        if any("\0" in cell for cell in cells):
            return "the row holds a zero byte, which is no text. Take it out, or save the table again as UTF-8."
        if len(cells) == width:
            return cells
        extra = extra_cells_remedy(cells, width, self.delimiter)
        remedy = (
            f"{extra[:1].upper()}{extra[1:]}."
            if len(cells) > width
            else "Fill it up: an empty cell still needs its comma."
        )
        return f"the row has {len(cells)} cells and the header {width}. {remedy}"


def _lines_of(file: io.BufferedReader) -> Iterator[bytes]:
    """Lines with their ends, be they \\n, \\r\\n or \\r alone, from where a file is; none is longer than may be."""
    rest = b""
    while block := file.read(_BLOCK):
        *whole, rest = (rest + block).splitlines(keepends=True)
        yield from whole
        if len(rest) > _LONGEST_LINE:
            break
    if rest:
        yield rest


def _last_line_end(block: bytes) -> int:
    """Where the last line that is not inside quotes ends; the very last where no such line is found; 0 for none.

    Cut between \\r and \\n, what is left for the next piece is a blank line, which is no row.
    """
    last = _line_end_before(block, len(block))
    cut, quotes = last, block.count(b'"', 0, last)
    while cut and quotes % 2:
        before = _line_end_before(block, cut - 1)
        quotes -= block.count(b'"', before, cut)
        cut = before
    return cut or last


def _line_end_before(block: bytes, stop: int) -> int:
    newline = block.rfind(b"\n", 0, stop)
    return max(newline, block.rfind(b"\r", max(newline, 0), stop)) + 1


def _decoded_line(raw: bytes) -> str:
    for encoding in ("utf-8", "cp1252"):
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError:
            continue
    return "\0"


def _whole(column: pa.ChunkedArray) -> pa.Array:
    return column.chunk(0) if column.num_chunks == 1 else column.combine_chunks()


def _without_blank_rows(columns: dict[str, pa.Array]) -> dict[str, pa.Array]:
    """Rows of nothing but commas are no rows."""
    if columns["gap"].null_count == 0:
        return columns
    filled = pa.compute.is_valid(columns["gap"])
    for column in columns.values():
        filled = pa.compute.or_(filled, pa.compute.is_valid(column))
    return {key: column.filter(filled) for key, column in columns.items()}
