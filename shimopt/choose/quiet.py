"""Keeps a solver's own lines off standard output.

HiGHS (in ortools 9.15) prints "transformNewIntegerFeasibleSolution tmpSolver.run()" now and then, whatever it is told.
Standard output carries plans and JSON, so nothing else may stand there.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import sys
from collections.abc import Iterator

from shimopt.machine import c_library

__all__ = ["quiet_stdout"]

_STDOUT = 1


@contextlib.contextmanager
def quiet_stdout() -> Iterator[None]:
    """While it lasts, what C code writes to standard output is dropped; Python's own output waits in its buffer."""
    with contextlib.suppress(AttributeError, OSError, ValueError):
        sys.stdout.flush()
    try:
        saved = os.dup(_STDOUT)
    except OSError:  # standard output is closed: there is nothing to keep clean
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        _flush_c()
        os.dup2(nowhere, _STDOUT)
        yield
    finally:
        _flush_c()
        os.dup2(saved, _STDOUT)
        os.close(saved)
        os.close(nowhere)


def _flush_c() -> None:
    """Empty the C library's buffers, or the solver's line comes out at the end of the program."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(c_library).fflush(None)
