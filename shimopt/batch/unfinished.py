"""What is finished of an output, kept beside it until all of it is: a batch that was cut off goes on from there.

The folder OUT.unfinished holds a file per finished piece and a fingerprint of inputs and options. A piece is put in
place at one stroke, with its counts in its name; so a piece that is there is whole.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

import pyarrow as pa
import pyarrow.parquet

from shimopt.batch.answers import Answered, Counts
from shimopt.batch.csv_out import CSV_HEADER, csv_of
from shimopt.errors import InputError, Problem

__all__ = ["FORMATS", "Unfinished", "packed"]

FORMATS = (".csv", ".parquet")
_FINGERPRINT = "fingerprint"
_PIECE = ".piece"
_NEW = ".new"


def packed(answered: Answered, form: str) -> bytes:
    """The answers of a piece as they are kept: lines of CSV, or an Arrow file."""
    if form == ".csv":
        return csv_of(answered)
    table = answered.table().combine_chunks()
    sink = pa.BufferOutputStream()
    with pa.ipc.new_file(sink, table.schema) as file:
        file.write_table(table)
    return bytes(sink.getvalue())


class Unfinished:
    """The pieces of one output. `done` has the counts of those that are finished, `begun_anew` if others were there."""

    def __init__(self, out: Path, fingerprint: str) -> None:
        self.out = Path(os.path.realpath(out))
        self.folder = self.out.with_name(f"{self.out.name}.unfinished")
        self.done: dict[int, Counts] = {}
        self.begun_anew = False
        with self._told():
            self._open(fingerprint)

    def _open(self, fingerprint: str) -> None:
        mark = self.folder / _FINGERPRINT
        if self.folder.exists():
            if not mark.is_file() and any(self.folder.iterdir()):
                raise _refused(self.folder, "this folder is not an unfinished output of shimopt",
                               "move it away, or write the output elsewhere")  # fmt: skip
            if mark.is_file() and mark.read_text(encoding="utf-8") == fingerprint:
                self._find_pieces()
                return
            self.begun_anew = mark.is_file()
            shutil.rmtree(self.folder)
        self.folder.mkdir()
        mark.write_text(fingerprint, encoding="utf-8")

    def _find_pieces(self) -> None:
        for file in self.folder.iterdir():
            if file.suffix == _PIECE:
                index, *counts = map(int, file.stem.split("_"))
                self.done[index] = Counts(*counts)
            elif file.suffix == _NEW:
                file.unlink()

    def keep(self, index: int, counts: Counts, content: bytes) -> None:
        """Put a finished piece in its place. Raises InputError."""
        with self._told():
            new = self.folder / f"{index}{_NEW}"
            with open(new, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            os.replace(new, self._piece(index, counts))
        self.done[index] = counts

    def _piece(self, index: int, counts: Counts) -> Path:
        numbers = (counts.inside, counts.unproven, counts.outside, counts.refused, counts.pieces)
        return self.folder / f"{'_'.join(map(str, (index, *numbers)))}{_PIECE}"

    def finish(self, form: str) -> None:
        """Put all pieces together, in order, as the output, and take them away. Raises InputError."""
        whole = self.folder / f"whole{_NEW}"
        pieces = [self._piece(index, counts) for index, counts in sorted(self.done.items())]
        with self._told():
            with open(whole, "wb") as file:
                (_join_csv if form == ".csv" else _join_parquet)(file, pieces)
                file.flush()
                os.fsync(file.fileno())
            if self.out.exists():
                os.chmod(whole, self.out.stat().st_mode & 0o777)
            os.replace(whole, self.out)
        # the output is there: what is left of the pieces harms nobody
        with suppress(OSError):
            shutil.rmtree(self.folder)

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            kept = f"; {len(self.done)} finished pieces are kept in {self.folder.name}" if self.done else ""
            raise _refused(self.out, f"the output cannot be written ({error.strerror}){kept}",
                           "check folder, rights and disk; the same command then goes on") from None  # fmt: skip


def _join_csv(file: BinaryIO, pieces: list[Path]) -> None:
    file.write(CSV_HEADER)
    for piece in pieces:
        with open(piece, "rb") as part:
            shutil.copyfileobj(part, file, 4 * 1024 * 1024)


def _join_parquet(file: BinaryIO, pieces: list[Path]) -> None:
    writer: pyarrow.parquet.ParquetWriter | None = None
    for piece in pieces:
        with pa.memory_map(str(piece)) as source:
            table = pa.ipc.open_file(source).read_all()
            writer = writer or pyarrow.parquet.ParquetWriter(file, table.schema, use_dictionary=_CODED)
            writer.write_table(table)
    if writer is not None:
        writer.close()


_CODED = ["stack", "verdict", "reason"]


def _refused(path: Path, rule: str, remedy: str) -> InputError:
    return InputError([Problem(str(path), "", "", rule, remedy)])
