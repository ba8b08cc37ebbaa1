"""Whether files are still as they were: told by the system's own marks of them, which cost next to nothing."""

from __future__ import annotations

import os
from collections.abc import Sequence
from hashlib import sha256

# when each file was last written, how long it is, and which one it is; None for one that is not there
Signature = tuple[tuple[int, int, int] | None, ...]


def signature_of(files: Sequence[str]) -> Signature:
    """The marks of these files, and of the journals that databases keep beside theirs."""
    return tuple(marks for name in files for marks in (_marks(name), _marks(f"{name}-wal", empty=False)))


def _marks(name: str, *, empty: bool = True) -> tuple[int, int, int] | None:
    """The marks of a file; an empty journal is as good as none: whoever only reads the database makes one."""
    try:
        found = os.stat(name)
    except (OSError, ValueError):
        return None
    if not found.st_size and not empty:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def named(signature: Signature, more: str = "") -> str:
    """A short name for exactly these marks."""
    return sha256(f"{signature}{more}".encode()).hexdigest()[:16]
