"""How many cores there are to work with."""

from __future__ import annotations

import os

__all__ = ["cores"]


def cores() -> int:
    """The cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
