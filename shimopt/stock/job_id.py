"""What tells a job from every other: an id in a small file beside it, which goes with it wherever it is moved.

A copy of a job is another job. So the file says which file it is (the number that its disk gives it): one that is
named anew, or seen from another machine on a share, keeps its number, and a copy has one of its own.
"""

from __future__ import annotations

import json
import os
import platform
from contextlib import suppress
from pathlib import Path
from uuid import uuid4

from shimopt.errors import InputError, writable
from shimopt.tables.locking import locked


def place_of(file: Path) -> str:
    """Where a file lies, and on which machine."""
    return writable(f"{platform.node()}:{os.path.realpath(file)}")


def is_gone(place: str) -> bool:
    """Whether something was at a place of this machine, and lies no longer there."""
    here = writable(f"{platform.node()}:")
    # of a path with escapes in it nobody can tell
    return place.startswith(here) and "\\udc" not in place and not Path(place.removeprefix(here)).exists()


def job_key(file: Path) -> str:
    """A job's own id; where it lies, as long as it has none."""
    return _id_beside(file) or place_of(file)


def lasting_key(file: Path) -> str:
    """A job's own id, made now if it has none; where it lies, where no file can be written beside it.

    Of two who ask at once for a job that has none, one makes it, and the other reads what it wrote.
    """
    beside = _file_beside(file)
    # one that cannot be locked cannot be written either
    with suppress(OSError, InputError):
        if not _id_beside(file):
            with locked(beside, what="job's id"):
                if not _id_beside(file):
                    _write_new(beside)
    return job_key(file)


def _write_new(beside: Path) -> None:
    """Write a new id, whole or not at all."""
    new = beside.with_name(f"{beside.name}.new")
    with new.open("w", encoding="utf-8") as opened:
        json.dump({"id": uuid4().hex, "number": os.fstat(opened.fileno()).st_ino}, opened)
    new.replace(beside)


def _file_beside(file: Path) -> Path:
    real = Path(os.path.realpath(file))
    return real.with_name(f".{real.name}.stock-id")


def _id_beside(file: Path) -> str:
    with suppress(OSError, ValueError, KeyError, TypeError), _file_beside(file).open(encoding="utf-8") as opened:
        told = json.load(opened)
        if told["number"] == os.fstat(opened.fileno()).st_ino and str(told["id"]):
            return writable(str(told["id"]))
    return ""
