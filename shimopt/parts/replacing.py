"""Changing a file that others may be changing too: a lock beside it, and the new content put in place at one stroke."""

from __future__ import annotations

import os
import stat
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from shimopt.errors import InputError, Problem

__all__ = ["locked", "replace_file"]

_LONGEST_WAIT = 20.0
_BETWEEN_TRIES = 0.05


@contextmanager
def locked(path: Path, longest_wait: float = _LONGEST_WAIT, what: str = "drawer") -> Iterator[None]:
    """Hold the lock file beside `path`; whoever else asks for it waits. The system lets go of it if we are killed.

    Raises InputError where the lock cannot be made, or somebody else holds it for `longest_wait` seconds.
    """
    target = Path(os.path.realpath(path))
    lock = target.with_name(f".{target.name}.lock")
    deadline = time.monotonic() + longest_wait
    while True:
        try:
            handle = os.open(lock, os.O_RDWR | os.O_CREAT, 0o666)
        except OSError as error:
            raise _refused(
                path, f"no lock can be made beside the {what} ({error.strerror})", "check the folder and its rights"
            ) from None
        if _take(handle) and _still_there(handle, lock):
            break
        os.close(handle)
        if time.monotonic() > deadline:
            raise _refused(path, f"another program is changing the {what}", "wait for it to finish, and try again")
        time.sleep(_BETWEEN_TRIES)
    try:
        yield
    finally:
        # taken away while it is still held: whoever waits for it sees that it is gone, and makes a new one
        lock.unlink(missing_ok=True)
        os.close(handle)


def _take(handle: int) -> bool:
    try:
        import fcntl
    except ImportError:  # Windows
        import msvcrt

        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined, unused-ignore]
        except OSError:
            return False
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _still_there(handle: int, lock: Path) -> bool:
    """Whether the lock that we hold is the one that others will find."""
    try:
        return os.path.samestat(os.fstat(handle), os.stat(lock))
    except OSError:
        return False


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
        kept = "; it is as it was" if target.exists() else ""
        raise _refused(
            path, f"the {what} cannot be written ({error.strerror}){kept}", "check the folder, its rights and the disk"
        ) from None
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


def _refused(path: Path, rule: str, remedy: str) -> InputError:
    return InputError([Problem(str(path), "", "", rule, remedy)])
