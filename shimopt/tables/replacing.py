"""New content put in a file's place at one stroke: a reader sees the old content or the new, never half.

Several files that belong together are all written beside their places first, and then put there: all, or none.
"""

from __future__ import annotations

import os
import secrets
import shutil
import stat
from collections.abc import Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path

from shimopt.errors import InputError
from shimopt.machine import settle_folder, tidied

# who is told of each file that was put in its place, for as long as `noting_files` lasts
_noted: ContextVar[list[Path] | None] = ContextVar("_noted", default=None)


@contextmanager
def noting_files() -> Iterator[list[Path]]:
    """While it lasts, the list that it gives gets the path of each file that was put in its place."""
    noted: list[Path] = []
    before = _noted.set(noted)
    try:
        yield noted
    finally:
        _noted.reset(before)


def replace_file(path: Path, content: bytes, what: str = "output") -> None:
    """Write a file atomically. Raises InputError.

    A file that its owner made read-only is left alone, though the folder would allow its replacement.
    """
    with _replaced({path: content}, what, keep_old=False):
        pass


@contextmanager
def replacing_files(contents: Mapping[Path, bytes], what: str = "output") -> Iterator[None]:
    """Write files in their places; where one of them cannot be written, or what is done then goes wrong, none is.

    Raises InputError; all files are as they were then.
    """
    with _replaced(contents, what, keep_old=True):
        yield


def new_file(path: Path, content: bytes) -> None:
    """Write a file that must not be there yet, at one stroke. Raises OSError, FileExistsError where it is there."""
    with _beside(path) as part:
        _write(part, content)
        try:
            # unlike a rename, a link never takes another file's place
            path.hardlink_to(part)
        except FileExistsError:
            raise
        except OSError:
            # no links on this file system
            with open(path, "xb") as file:
                file.write(content)
        settle_folder(path.parent)


def new_folder(path: Path, contents: Mapping[str, bytes]) -> None:
    """Make a folder with files in it at one stroke. Raises OSError, FileExistsError where something is there."""
    with _beside(path) as part:
        part.mkdir()
        for name, content in contents.items():
            _write(part / name, content)
        # a folder in which somebody else has put something meanwhile is not replaced
        os.rename(part, path)
        settle_folder(path.parent)


@contextmanager
def _beside(path: Path) -> Iterator[Path]:
    """A name beside another, under which there is nothing before and after."""
    part = path.with_name(f".{path.name[:40]}.{secrets.token_hex(4)}.part")

    def drop() -> None:
        with suppress(OSError):
            if part.is_dir():
                shutil.rmtree(part)
            elif part.exists():
                part.unlink()

    try:
        with tidied(drop):
            yield part
    finally:
        drop()


def _write(path: Path, content: bytes) -> None:
    with open(path, "xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


@contextmanager
def _replaced(contents: Mapping[Path, bytes], what: str, *, keep_old: bool) -> Iterator[None]:
    new, there = [_New.of(path) for path in contents], list[_New]()
    with ExitStack() as ending:
        for one in new:
            ending.enter_context(tidied(one.drop))
            ending.callback(one.drop)
            with _told(one, what):
                one.write(contents[one.path], what, keep_old=keep_old)
        try:
            for one in new:
                there.append(one)
                with _told(one, what):
                    one.put()
            yield
        except BaseException:
            for one in there if keep_old else ():
                with suppress(OSError):
                    one.put_back()
            raise
    if (noted := _noted.get()) is not None:
        noted += contents


@dataclass(frozen=True, slots=True)
class _New:
    """A file that is to be: `target` is what is replaced, `new` what is written beside it, `old` what was there."""

    path: Path
    target: Path
    new: Path
    old: Path

    @classmethod
    def of(cls, path: Path) -> _New:
        target = Path(os.path.realpath(path))
        name = f".{target.name[:40]}.{secrets.token_hex(4)}"
        return cls(path, target, target.with_name(f"{name}.part"), target.with_name(f"{name}.old.part"))

    def write(self, content: bytes, what: str, *, keep_old: bool) -> None:
        there = self.target.exists()
        mode = stat.S_IMODE(self.target.stat().st_mode) if there else None
        if mode is not None and not mode & stat.S_IWUSR:
            raise InputError.at(self.path, f"the {what} is read-only", "allow writing to it, or copy it")
        _write(self.new, content)
        if mode is not None:
            os.chmod(self.new, mode)
        if there and keep_old:
            shutil.copy2(self.target, self.old)

    def put(self) -> None:
        os.replace(self.new, self.target)
        settle_folder(self.target.parent)

    def put_back(self) -> None:
        if self.old.exists():
            os.replace(self.old, self.target)
        elif not self.new.exists():
            self.target.unlink(missing_ok=True)

    def drop(self) -> None:
        for file in (self.new, self.old):
            if file.exists():
                with suppress(OSError):
                    file.unlink()


@contextmanager
def _told(one: _New, what: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        kept = "; it is as it was" if one.target.exists() else ""
        # what a spreadsheet has open cannot be replaced on some systems
        open_there = "; if it is open in another program, close it there" if isinstance(error, PermissionError) else ""
        remedy = f"check the folder, its rights and the disk{open_there}"
        raise InputError.at(one.path, f"the {what} cannot be written ({error.strerror}){kept}", remedy) from None


def refuse_ending(output: Path, known: tuple[str, ...], where: str = "") -> None:
    """Raise InputError where a name does not end in one of the endings that are known here."""
    if output.suffix.lower() not in known:
        raise InputError.at(
            output,
            f"the name ends in {' or '.join(known)}",
            f"name it {output.stem or 'out'}{known[0]}",
            where=where,
            value=output.suffix,
        )


def refuse_input(path: Path, inputs: Iterable[str], where: str = "") -> None:
    """Raise InputError where the result would replace a file that it was made from, or something that is no file."""
    for name in inputs:
        try:
            same = path.exists() and os.path.samefile(path, name)
        except OSError:
            same = False
        if same:
            raise InputError.at(path, "the output is one of the job's own files", "choose another name", where=where)
    if path.is_dir() or (path.exists() and not stat.S_ISREG(path.stat().st_mode)):
        raise InputError.at(path, "the output is not an ordinary file", "name a file, or - for standard output")
