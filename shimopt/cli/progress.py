"""A sign of life on a terminal when planning takes over a second."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

__all__ = ["sign_of_life"]

_WAIT = 1.0


@contextmanager
def sign_of_life(doing: str = "planning") -> Iterator[Callable[[str], None] | None]:
    """Give a function that is told each level; after a second it shows on standard error, if that is a terminal.

    Parameter: doing, what is going on.
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console

    status = Console(stderr=True, markup=False).status(f"{doing} ...")
    timer = threading.Timer(_WAIT, status.start)
    timer.daemon = True
    timer.start()
    try:
        yield lambda level: status.update(f"{doing}: {level} ...")
    finally:
        timer.cancel()
        timer.join()
        status.stop()
