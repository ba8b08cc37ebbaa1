"""Whether a drawer is one of a stock, such as `stock:main`, or a file: asked of every job, so it loads nothing."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar

from shimopt.errors import InputError

_START = "stock:"
# who is told that a clock goes behind the stock's last entry, for as long as `telling_of_clock` lasts
_told: ContextVar[Callable[[str], object] | None] = ContextVar("_told", default=None)
# a part that was let go, for whom it was held, and until when
Over = tuple[str, str, str]
# who is told of holds whose last day is over, as long
_over: ContextVar[Callable[[Sequence[Over]], object] | None] = ContextVar("_over", default=None)


def drawer_meant(name: str | os.PathLike[str] | None) -> str | None:
    """The drawer of the stock that a job's `drawer` names, such as `stock:main`; None where it names a file.

    Raises InputError where it names none.
    """
    text = "" if name is None else os.fspath(name)
    if not text.startswith(_START):
        return None
    if not (drawer := text.removeprefix(_START).strip()):
        rule, remedy = "a drawer of the stock has a name", 'write it like drawer = "stock:main"'
        raise InputError.at("", rule, remedy, where="drawer", value=text)
    return drawer


@contextmanager
def telling_of_clock(tell: Callable[[str], object], over: Callable[[Sequence[Over]], object]) -> Iterator[None]:
    """While it lasts, `tell` gets the moment of a stock's last entry where the clock is behind it; once.

    And `over` gets what was let go because its last day is over by the clock.
    """
    before, before_over = _told.set(tell), _over.set(over)
    try:
        yield
    finally:
        _told.reset(before)
        _over.reset(before_over)


def holds_are_over(held: Sequence[Over]) -> None:
    """Tell of what was let go to whoever wants to know."""
    if (tell := _over.get()) is not None:
        tell(held)


def clock_is_behind(last: str) -> None:
    """Tell it to whoever wants to know, if nobody did yet."""
    if (tell := _told.get()) is not None:
        _told.set(None)
        tell(last)
