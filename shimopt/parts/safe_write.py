"""Writing a file whole or not at all."""

from __future__ import annotations

import os
import stat
import tempfile
from contextlib import suppress
from pathlib import Path

from shimopt.errors import InputError, Problem

__all__ = ["replace_file"]


def replace_file(path: Path, content: bytes, what: str = "output") -> None:
    """Write a file atomically: a reader sees the old content or the new, never half. Raises InputError.

    A file that its owner made read-only is left alone, though the folder would allow its replacement.
    """
    target = Path(os.path.realpath(path))
    temporary: str | None = None
    try:
        old_mode = stat.S_IMODE(target.stat().st_mode) if target.exists() else None
        if old_mode is not None and not old_mode & stat.S_IWUSR:
            raise InputError(
                [Problem(str(path), "", "", f"the {what} is read-only", "allow writing to it, or copy it")]
            )
        handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:40]}.", suffix=".part")
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, 0o666 & ~_umask() if old_mode is None else old_mode)
        os.replace(temporary, target)
        temporary = None
        _settle(target.parent)
    except OSError as error:
        raise InputError([Problem(str(path), "", "", f"the {what} cannot be written ({error.strerror})",
                                  "check folder, rights and disk")]) from None  # fmt: skip
    finally:
        if temporary is not None and os.path.exists(temporary):
            os.unlink(temporary)


def _settle(folder: Path) -> None:
    """Bring the new name to the disk, so that two files written one after the other also get there in that order."""
    if os.name == "posix":
        with suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
