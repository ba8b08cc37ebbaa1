"""Whether files are still as they were: told by the system's own marks of them, which cost next to nothing."""

from __future__ import annotations

import os
from collections.abc import Sequence
from hashlib import sha256

# when each file was last written, how long it is, and which one it is; None for one that is not there
Signature = tuple[tuple[int, int, int] | None, ...]


def signature_of(files: Sequence[str]) -> Signature:
    """The marks of these files, and of the journals that databases keep beside theirs."""
    return tuple(_marks(name + ending) for name in files for ending in ("", "-wal"))


def _marks(name: str) -> tuple[int, int, int] | None:
    try:
        found = os.stat(name)
    except (OSError, ValueError):
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def named(signature: Signature, more: str = "") -> str:
    """A short name for exactly these marks."""
    return sha256(f"{signature}{more}".encode()).hexdigest()[:16]
