"""Where systems differ, and how this process ends at once: the only file that asks which system it runs on.

Whatever is written beside the file that it becomes is named here while it is there, so that an end at once, without
Python's own order of ending, leaves nothing of it behind.
"""

from __future__ import annotations

import errno
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Thread
from time import monotonic, sleep
from typing import Any, NoReturn

# what to do before an end at once; a set of closures, for each is its own
_TO_TIDY: set[Callable[[], object]] = set()
# on Windows a file that somebody holds open keeps its name
_POSIX = os.name == "posix"
names_can_go_while_open = _POSIX
# never wait for a pipe's other end, never turn line ends into others
flags_of_a_plain_read = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


@contextmanager
def tidied(tidy: Callable[[], object]) -> Iterator[None]:
    """While it lasts, an end at once calls `tidy` first: takes away a file half written, ends a process."""
    _TO_TIDY.add(tidy)
    try:
        yield
    finally:
        _TO_TIDY.discard(tidy)


class BrokenOff(BaseException):
    """Thrown into whoever computes what nobody waits for any longer."""


# seconds that a thread has to load what it is in the midst of loading, before it is left alone
_TO_LOAD = 0.3


def break_off(thread: Thread) -> None:
    """Have a thread compute no longer: it ends at its next step in Python, and takes no time from others.

    For a process that is about to end, and nothing else: thrown into a destructor it is lost, which nobody is told.
    Never thrown into the loading of a module: its locks would stay held, and whoever loads one would wait for ever.
    """
    import ctypes

    told_before = sys.unraisablehook
    # Python's own hook, there to be replaced
    sys.unraisablehook = lambda lost: None if isinstance(lost.exc_value, BrokenOff) else told_before(lost)

    throw, it = ctypes.pythonapi.PyThreadState_SetAsyncExc, ctypes.py_object(BrokenOff)
    which, ends = ctypes.c_ulong(thread.ident or 0), monotonic() + _TO_LOAD
    while monotonic() < ends:
        # fresh from a sleep nobody takes Python from us for its switch interval: it is thrown where it was looked
        sleep(0.005)
        if not _loads(thread):
            throw(which, it)
            return


def _loads(thread: Thread) -> bool:
    """Whether a thread is in the midst of loading a module, or of the bookkeeping of that."""
    frame = sys._current_frames().get(thread.ident or 0)
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False


def end_at_once(code: int) -> NoReturn:
    """End this process now, whatever its other threads are in the midst of, with nothing left behind."""
    for tidy in list(_TO_TIDY):
        with suppress(Exception):
            tidy()
    for stream in (sys.stdout, sys.stderr):
        with suppress(Exception):
            stream.flush()
    os._exit(code)


def beside(folder: Path, name: str) -> Path:
    """The file of a name that somebody wrote, relative to a folder unless it says where it lies.

    `..\\drawer.csv`, as it is written on Windows, means the same everywhere, unless there is a file of that very name.
    """
    path = folder / name
    if "\\" in name and os.sep == "/":
        with suppress(OSError, ValueError):
            if not path.exists():
                return folder / name.replace("\\", "/")
    return path


def is_folder(path: Path) -> bool:
    """Whether this is a folder; one that cannot even be looked at, for its name or its rights, is none."""
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


def seen_from(folder: Path, file: Path) -> str:
    """A file's way from a folder, with /; from its root where it lies on another drive."""
    try:
        return Path(os.path.relpath(file, folder)).as_posix()
    except ValueError:
        return file.resolve().as_posix()


def reader_has_gone(error: OSError) -> bool:
    """Whether output failed because whoever read it has quit; Windows calls that an invalid argument."""
    return isinstance(error, BrokenPipeError) or (not _POSIX and error.errno == errno.EINVAL)


def settle_folder(folder: Path) -> None:
    """Bring a new name to the disk, so that files written one after the other get there in that order.

    Where a folder cannot be opened, as on Windows, the system keeps the order by itself.
    """
    if _POSIX:
        with suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)


def silence_output() -> None:
    """Send standard output nowhere: whoever read it has gone, and the interpreter still flushes at its end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def started_apart() -> dict[str, Any]:
    """How a process is started that Ctrl-C passes by, and that can give way to others: what `Popen` is told.

    In the same session: Linux shares its cores out among sessions first, and `give_way` would count for nothing.
    """
    if _POSIX:
        return {"process_group": 0}
    return {"creationflags": _NEW_GROUP}


# by how much, on a scale to 19; and Windows's own words
_GIVES_WAY, _BELOW_NORMAL, _NEW_GROUP = 2, 0x4000, 0x200


def give_way() -> None:
    """Let other processes have the cores first, from now on."""
    if _POSIX:
        os.nice(_GIVES_WAY)
        return
    import ctypes

    kernel = getattr(ctypes, "windll").kernel32  # noqa: B009 (mypy knows no windll elsewhere)
    kernel.SetPriorityClass(kernel.GetCurrentProcess(), _BELOW_NORMAL)


def deaf_to_interrupts() -> None:
    """Let Ctrl-C pass by this process: whoever started it hears it, and ends it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def deaf_for_a_while() -> Iterator[None]:
    """While it lasts Ctrl-C passes by this process: a program that it waits for, and that hears it, decides."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def cores() -> int:
    """The cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class ByteLocks:
    """Locks on bytes of an open file, each a process's own; the system takes them back where the process ends."""

    def __init__(self, system: Any) -> None:
        self._system = system

    def alone(self, file: int, first: int, count: int) -> bool:
        """Hold these bytes so that nobody else has any lock on one of them; False where somebody has."""
        return self._try(file, self._system.LOCK_EX, first, count)

    def beside_others(self, file: int, first: int, count: int) -> bool:
        """Hold these bytes so that nobody can hold one of them alone; False where somebody does."""
        return self._try(file, self._system.LOCK_SH, first, count)

    def let_go(self, file: int, first: int, count: int) -> None:
        """Let go of these bytes."""
        self._system.lockf(file, self._system.LOCK_UN, count, first)

    def _try(self, file: int, how: int, first: int, count: int) -> bool:
        try:
            self._system.lockf(file, how | self._system.LOCK_NB, count, first)
        except OSError as error:
            if error.errno in (errno.EACCES, errno.EAGAIN):
                return False
            raise
        return True


def byte_locks() -> ByteLocks | None:
    """The system's locks on bytes; None where it has none that can be shared."""
    try:
        import fcntl
    except ImportError:
        return None
    return ByteLocks(fcntl)


# file systems that lie on another machine
_SHARES = ("nfs", "nfs4", "cifs", "smb3", "smbfs", "afs", "davfs", "fuse.sshfs", "fuse.davfs", "fuse.rclone")
_REMOTE_DRIVE = 4


def network_share(path: Path) -> str:
    """What kind of network share a file lies on; empty where it lies on this machine, or nobody can tell."""
    full = os.path.realpath(path)
    if not _POSIX:
        import ctypes

        drive = os.path.splitdrive(full)[0]
        kernel = getattr(ctypes, "windll").kernel32  # noqa: B009 (mypy knows no windll elsewhere)
        return (
            "a network drive" if drive.startswith("\\\\") or kernel.GetDriveTypeW(f"{drive}\\") == _REMOTE_DRIVE else ""
        )
    # the deepest mount, and of several at one point the last, is where it lies
    above = [
        (len(at), kind) for _, at, kind, *_ in _mounts() if at == "/" or f"{full}/".startswith(f"{at.rstrip('/')}/")
    ]
    kind = max(reversed(above), key=lambda mount: mount[0])[1] if above else ""
    return kind if kind in _SHARES else ""


def _mounts() -> list[list[str]]:
    """What lies where, as Linux tells it; nothing where it is not told."""
    try:
        return [
            line.split() for line in Path("/proc/mounts").read_text(encoding="utf-8", errors="replace").splitlines()
        ]
    except OSError:
        return []
