"""How a gap was read, in words."""

from __future__ import annotations

from fractions import Fraction

from shimopt.job import Gap, Window
from shimopt.lengths import spelled
from shimopt.readings import Reading
from shimopt.render.words.names import bracket_text

__all__ = ["both_units", "limits_both", "limits_text", "other_unit", "read_how", "reading_text", "window_text"]

_LONG = 5_000_000  # from 5 mm on the other system speaks of inches, not of thousandths
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


def other_unit(unit: str) -> str:
    """The unit that stands in brackets beside this one."""
    return "mm" if unit in ("thou", "in") else "thou"


def both_units(low: Fraction | int, high: Fraction | int, unit: str) -> str:
    """`17 to 18 thou (0.432 to 0.457 mm)`: as people read it in `unit`, and rounded in the other system."""
    other = other_unit(unit)
    if other == "thou" and abs(Fraction(high)) >= _LONG:
        other = "in"
    low_there, high_there = _rounded(low, other), _rounded(high, other)
    there = low_there if low_there == high_there else f"{low_there} to {high_there}"
    return f"{bracket_text(low, high, unit)} ({there} {other})"


def limits_both(window: Window, unit: str) -> str:
    """The window's limits in both unit systems."""
    if window.min is None or window.max is None:
        limit = window.max if window.max is not None else window.min
        return f"{'at most' if window.max is not None else 'at least'} {both_units(limit or 0, limit or 0, unit)}"
    return both_units(window.min, window.max, unit)


def _rounded(nm: Fraction | int, unit: str) -> str:
    """To a micrometre or a tenth of a thou, finer where that would leave nothing."""
    step = {"mm": 1_000, "thou": 2_540, "in": 25_400}[unit]
    rounded = round(Fraction(nm) / step) * step
    return spelled(nm if rounded == 0 and nm else rounded, unit, with_unit=False)
