"""Signs of life on a terminal: when planning takes over a second, and how far a batch is."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shimopt.batch.answers import Counts

__all__ = ["gaps_done", "sign_of_life"]

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


@contextmanager
def gaps_done() -> Iterator[Callable[[float, Counts], None] | None]:
    """Give a function that is told the share that is done and the counts so far; it shows a bar on a terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

    console = Console(stderr=True, markup=False)
    # no colour that means good or bad
    shape = BarColumn(style="dim", complete_style="bold", finished_style="bold")
    shown = (TextColumn("{task.description}", markup=False), shape, TaskProgressColumn(), TimeRemainingColumn())
    with Progress(*shown, console=console, transient=True) as bar:
        task = bar.add_task("gaps", total=1.0)
        yield lambda share, counts: bar.update(
            task, completed=share, description=f"{counts.gaps:,} gaps, {counts.refused:,} refused"
        )
