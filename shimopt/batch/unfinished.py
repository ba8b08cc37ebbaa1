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

    def __init__(self, out: Path, fingerprint: str, form: str) -> None:
        self.form = form
        self.joint: _Joint | None = None
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
                raise _refused(
                    self.folder,
                    "this folder is not an unfinished output of shimopt",
                    "move it away, or write the output elsewhere",
                )
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
            self._join_on()

    def _piece(self, index: int, counts: Counts) -> Path:
        numbers = (counts.inside, counts.unproven, counts.outside, counts.refused, counts.pieces)
        return self.folder / f"{'_'.join(map(str, (index, *numbers)))}{_PIECE}"

    def _join_on(self) -> None:
        """Put together what has come without a gap so far, while others are at work on the rest."""
        self.joint = self.joint or (_CsvJoint if self.form == ".csv" else _ParquetJoint)(self.folder / f"whole{_NEW}")
        while self.joint.count in self.done:
            self.joint.add(self._piece(self.joint.count, self.done[self.joint.count]))

    def finish(self) -> None:
        """Put the pieces, all of them now, in the output's place, and take them away. Raises InputError."""
        with self._told():
            self._join_on()
            assert self.joint is not None
            assert self.joint.count == len(self.done)
            self.joint.close()
            if self.out.exists():
                os.chmod(self.joint.path, self.out.stat().st_mode & 0o777)
            os.replace(self.joint.path, self.out)
        # the output is there: what is left of the pieces harms nobody
        with suppress(OSError):
            shutil.rmtree(self.folder)

    def stop(self) -> None:
        """Let go of the file that was being put together."""
        if self.joint is not None:
            with suppress(OSError):
                self.joint.drop()

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            kept = f"; {len(self.done)} finished pieces are kept in {self.folder.name}" if self.done else ""
            raise _refused(
                self.out,
                f"the output cannot be written ({error.strerror}){kept}",
                "check folder, rights and disk; the same command then goes on",
            ) from None


class _Joint:
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


class _CsvJoint(_Joint):
    def _append(self, piece: Path) -> None:
        if not self.count:
            self.file.write(CSV_HEADER)
        with open(piece, "rb") as part:
            shutil.copyfileobj(part, self.file, 4 * 1024 * 1024)


class _ParquetJoint(_Joint):
    writer: pyarrow.parquet.ParquetWriter | None = None

    def _append(self, piece: Path) -> None:
        with pa.memory_map(str(piece)) as source:
            table = pa.ipc.open_file(source).read_all()
            if self.writer is None:
                self.writer = pyarrow.parquet.ParquetWriter(self.file, table.schema, use_dictionary=_CODED)
            self.writer.write_table(table)

    def close(self) -> None:
        if self.writer is not None:
            self.writer.close()
        super().close()

    def drop(self) -> None:
        # else it would write to the closed file when it is thrown away
        if self.writer is not None and self.writer.is_open:
            self.writer.is_open = False
        super().drop()


_CODED = ["stack", "verdict", "reason"]


def _refused(path: Path, rule: str, remedy: str) -> InputError:
    return InputError([Problem(str(path), "", "", rule, remedy)])
