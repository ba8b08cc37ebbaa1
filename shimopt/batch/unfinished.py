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

from shimopt.batch.answers import Counts
from shimopt.batch.packing import CsvJoint, Joint, ParquetJoint
from shimopt.errors import FaultError, InputError

__all__ = ["Unfinished"]

_FINGERPRINT = "fingerprint"
_PIECE = ".piece"
_NEW = ".new"


class Unfinished:
    """The pieces of one output. `done` has the counts of those that are finished, `begun_anew` if others were there."""

    def __init__(self, out: Path, fingerprint: str, form: str) -> None:
        self.form = form
        self.joint: Joint | None = None
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
                raise InputError.at(
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

    def _join_on(self) -> Joint:
        """Put together what has come without a gap so far, while others are at work on the rest."""
        self.joint = self.joint or (CsvJoint if self.form == ".csv" else ParquetJoint)(self.folder / f"whole{_NEW}")
        while self.joint.count in self.done:
            self.joint.add(self._piece(self.joint.count, self.done[self.joint.count]))
        return self.joint

    def finish(self) -> None:
        """Put the pieces, all of them now, in the output's place, and take them away. Raises InputError."""
        with self._told():
            joint = self._join_on()
            if joint.count != len(self.done):
                raise FaultError(f"{joint.count} of {len(self.done)} pieces were put together")
            joint.close()
            if self.out.exists():
                os.chmod(joint.path, self.out.stat().st_mode & 0o777)
            os.replace(joint.path, self.out)
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
            raise InputError.at(
                self.out,
                f"the output cannot be written ({error.strerror}){kept}",
                "check folder, rights and disk; the same command then goes on",
            ) from None
