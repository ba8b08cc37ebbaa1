"""Writing a result: whole or not at all, and never over an input."""

from __future__ import annotations

import os
import stat
import tempfile
from collections.abc import Iterable
from pathlib import Path

from shimopt.errors import InputError, Problem

__all__ = ["refuse_input", "write_bytes", "write_text"]


def refuse_input(path: Path, inputs: Iterable[str]) -> None:
    """Raise InputError where the result would replace a file that it was made from, or something that is no file."""
    for name in inputs:
        try:
            same = path.exists() and os.path.samefile(path, name)
        except OSError:
            same = False
        if same:
            raise _refused(path, "the output is one of the job's own files", "choose another name")
    if path.is_dir() or (path.exists() and not stat.S_ISREG(path.stat().st_mode)):
        raise _refused(path, "the output is not an ordinary file", "name a file, or - for standard output")


def write_text(path: Path, text: str) -> None:
    """Write a text file atomically, in UTF-8. Raises InputError."""
    write_bytes(path, text.encode())


def write_bytes(path: Path, content: bytes) -> None:
    """Write a file atomically: a reader sees the old content or the new, never half. Raises InputError."""
    target = Path(os.path.realpath(path))
    temporary: str | None = None
    try:
        handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:40]}.", suffix=".part")
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, stat.S_IMODE(target.stat().st_mode) if target.exists() else 0o666 & ~_umask())
        os.replace(temporary, target)
        temporary = None
    except OSError as error:
        raise _refused(path, f"the output cannot be written ({error.strerror})", "check folder, rights and disk") from None
    finally:
        if temporary is not None and os.path.exists(temporary):
            os.unlink(temporary)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _refused(path: Path, rule: str, remedy: str) -> InputError:
    return InputError([Problem(str(path), "", "", rule, remedy)])
