"""What is finished of an output, kept beside it until all of it is: a batch that was cut off goes on from there.

The folder OUT.unfinished holds a file per finished piece and a fingerprint of inputs and options. A piece is put in
place at one stroke, with its counts in its name; so a piece that is there is whole. The fingerprint comes first and
goes last: wherever a batch is cut off, its folder is known again.
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
from shimopt.machine import settle_folder

_FINGERPRINT = "fingerprint"
_PIECE = ".piece"
_NEW = ".new"


class Unfinished:
    """The pieces of one output.

    `done` has the counts of those that are finished, `begun_anew` is whether there were others, `stray` counts files
    among them that are none.
    """

    def __init__(self, out: Path, fingerprint: str, form: str) -> None:
        self.form = form
        self.joint: Joint | None = None
        self.out = Path(os.path.realpath(out))
        self.folder = self.out.with_name(f"{self.out.name}.unfinished")
        self.done: dict[int, Counts] = {}
        self.begun_anew = False
        self.stray = 0
        with self._told():
            self._open(fingerprint)

    def _open(self, fingerprint: str) -> None:
        mark = self.folder / _FINGERPRINT
        if self.folder.exists():
            of_another = mark.read_text(encoding="utf-8") if mark.is_file() else ""
            if of_another == fingerprint:
                self._find_pieces()
                return
            files = list(self.folder.iterdir())
            if not mark.is_file() and any(file.suffix not in (_PIECE, _NEW) for file in files):
                raise InputError.at(
                    self.folder,
                    "this folder is not an unfinished output of shimopt",
                    "move it away, or write the output elsewhere",
                )
            self.begun_anew = any(file.suffix == _PIECE for file in files)
            self._clear()
        self.folder.mkdir()
        self._put(mark, fingerprint.encode())

    def _find_pieces(self) -> None:
        found: dict[int, list[Counts]] = {}
        for file in self.folder.iterdir():
            if file.suffix == _NEW:
                file.unlink()
            elif (counted := _counted(file)) is not None:
                found.setdefault(counted[0], []).append(counted[1])
            elif file.name != _FINGERPRINT:
                self.stray += 1
        for index, counts in found.items():
            # of two that say they are the same piece nobody knows which one is
            if len(counts) == 1:
                self.done[index] = counts[0]
            else:
                self.stray += len(counts)

    def only(self, pieces: int) -> None:
        """There are so many pieces: what is kept beyond them is stray."""
        for index in [index for index in self.done if index >= pieces]:
            del self.done[index]
            self.stray += 1

    def _clear(self) -> None:
        """Take all of it away, the fingerprint last."""
        for file in self.folder.iterdir():
            if file.is_dir() and not file.is_symlink():
                shutil.rmtree(file)
            elif file.name != _FINGERPRINT:
                file.unlink()
        (self.folder / _FINGERPRINT).unlink(missing_ok=True)
        self.folder.rmdir()

    def keep(self, index: int, counts: Counts, content: bytes) -> None:
        """Put a finished piece in its place. Raises InputError."""
        with self._told():
            self._put(self._piece(index, counts), content)
            self.done[index] = counts
            self._join_on()

    def _put(self, path: Path, content: bytes) -> None:
        new = self.folder / f"{path.stem}{_NEW}"
        with open(new, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(new, path)

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
            settle_folder(self.out.parent)
        # the output is there: what is left of the pieces harms nobody
        with suppress(OSError):
            self._clear()

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


def _counted(file: Path) -> tuple[int, Counts] | None:
    """The number and the counts that the name of a piece says; None where it is no such name."""
    numbers = file.stem.split("_")
    if file.suffix != _PIECE or len(numbers) != 1 + len(Counts.__slots__) or not all(n.isdecimal() for n in numbers):
        return None
    index, *counts = map(int, numbers)
    return index, Counts(*counts)
