"""How a gap was read, in words."""

from __future__ import annotations

from shimopt.job import Gap, Window
from shimopt.lengths import spelled
from shimopt.readings import Reading
from shimopt.render.words.names import bracket_text

__all__ = ["limits_text", "read_how", "reading_text", "window_text"]

_HOW = {"feeler": "by feeler gauge", "value": "as stated", "table": "as the table of gaps states"}


def read_how(reading: Reading) -> str:
    """By which instrument."""
    return _HOW.get(reading.kind, f"by {reading.kind}")


def reading_text(gap: Gap, unit: str) -> str:
    """`17 to 18 thou by feeler gauge; best estimate 17.5 thou`."""
    read = gap.reading.bracket
    said = f"{bracket_text(read.low, read.high, unit)} {read_how(gap.reading)}"
    return f"{said}, taken as exact" if read.exact else f"{said}; best estimate {spelled(read.best, unit)}"


def limits_text(window: Window, unit: str) -> str:
    """`4 to 12 thou`, `at most 12 thou` or `at least 4 thou`."""
    if window.min is None or window.max is None:
        limit = window.max if window.max is not None else window.min
        return f"{'at most' if window.max is not None else 'at least'} {spelled(limit or 0, unit)}"
    return bracket_text(window.min, window.max, unit)


def window_text(window: Window, unit: str) -> str:
    """The window with what is aimed at."""
    aim = ""
    if window.target is not None:
        aim = f"; aim at {spelled(window.target, unit)}{'' if window.stated_target is not None else ', the middle'}"
    return f"{limits_text(window, unit)}{aim}"
