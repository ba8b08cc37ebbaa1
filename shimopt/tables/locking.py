"""A lock beside a file that others may be changing too, so that two people at two benches undo nobody's work."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from shimopt.errors import InputError
from shimopt.machine import names_can_go_while_open, tidied

if TYPE_CHECKING:
    from filelock import BaseFileLock

_LONGEST_WAIT = 20.0
_BETWEEN_TRIES = 0.05
# seconds that nobody is told of: two who pass each other at a file
_IN_PASSING = 0.3
# who is told of a wait, for as long as `telling_waits` lasts
_told: ContextVar[Callable[[Path], object] | None] = ContextVar("_told", default=None)


@contextmanager
def telling_waits(tell: Callable[[Path], object]) -> Iterator[None]:
    """While it lasts, `tell` gets the path of each file that somebody else holds, as soon as it is waited for."""
    before = _told.set(tell)
    try:
        yield
    finally:
        _told.reset(before)


@contextmanager
def locked(path: Path, longest_wait: float = _LONGEST_WAIT, what: str = "drawer") -> Iterator[None]:
    """Hold the lock file beside `path`; whoever else asks for it waits, be it a thread or another process.

    The system lets go of a lock whose holder dies. On a file system without locks the file's being there is the lock;
    one whose holder died on this machine is taken over, one from elsewhere is named with its age. Raises InputError
    where the lock cannot be made, or somebody else holds it for `longest_wait` seconds.
    """
    target = Path(os.path.realpath(path))
    file = target.with_name(f".{target.name}.lock")
    held, by_system = _taken(path, file, longest_wait, what)
    try:
        # of an end at once the system takes its lock back by itself, not the file
        with tidied(partial(Path(held.lock_file).unlink, missing_ok=True)):
            yield
    finally:
        # what was done is done: a lock that cannot be taken away is no failure of it
        with suppress(OSError):
            if by_system and names_can_go_while_open:
                # taken away while it is held: whoever waits for it sees that it is gone, and makes a new one
                file.unlink(missing_ok=True)
        with suppress(OSError):
            held.release()


def _taken(path: Path, file: Path, longest_wait: float, what: str) -> tuple[BaseFileLock, bool]:
    """The lock, held, and whether it is one of the system's."""
    from filelock import FileLock, SoftFileLock, Timeout

    def refused(found: str, rule: str, remedy: str) -> InputError:
        return InputError.at(path, rule, remedy, value=found)

    busy = f"another program is changing the {what}"
    # on a file system without locks, that this file is there says as much
    instead = file.with_suffix(".held")
    try:
        os.stat(file.parent)  # filelock would make the folder
        lock: BaseFileLock = FileLock(file, mode=0o666, thread_local=False, fallback_to_soft=False)
        try:
            _acquire(lock, path, longest_wait)
            return lock, True
        except Timeout:
            raise refused(_named(file), busy, "wait for it to finish, and try again") from None
        except PermissionError:
            if not file.exists():
                raise
            # whether somebody holds it cannot be seen: it must not be passed by
            rule = f"the lock beside the {what} belongs to another user, and cannot be opened"
            remedy = f"if that user is not at it, its lock was left behind: have {file} deleted"
            raise refused(_named(file), rule, remedy) from None
        except OSError:
            with suppress(OSError):
                file.unlink()
        lock = SoftFileLock(instead, thread_local=False)
        _acquire(lock, path, longest_wait)
        return lock, False
    except Timeout:
        remedy = f"wait for it to finish; if nobody is at it, its lock was left behind: delete {instead}"
        raise refused(_named(instead), f"{busy}, or was cut off while it did", remedy) from None
    except OSError as error:
        rule = f"no lock can be made beside the {what} ({error.strerror})"
        raise refused("", rule, "check the folder and its rights") from None


def _acquire(lock: BaseFileLock, path: Path, longest_wait: float) -> None:
    """Take the lock; a wait that is more than passing is told when it begins. Raises Timeout, OSError."""
    from filelock import Timeout

    at_first = min(longest_wait, _IN_PASSING)
    try:
        lock.acquire(timeout=at_first, poll_interval=_BETWEEN_TRIES)
    except Timeout:
        if longest_wait <= at_first:
            raise
        if (tell := _told.get()) is not None:
            tell(path)
        lock.acquire(timeout=longest_wait - at_first, poll_interval=_BETWEEN_TRIES)


def _named(file: Path) -> str:
    """The lock's path and age."""
    try:
        seconds = max(0.0, time.time() - file.stat().st_mtime)
    except OSError:
        return str(file)
    for unit, length in (("days", 86_400), ("hours", 3_600), ("minutes", 60)):
        if seconds >= 2 * length:
            return f"{file}, {seconds // length:.0f} {unit} old"
    return f"{file}, {seconds:.0f} seconds old"
