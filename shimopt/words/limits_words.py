"""Readings and windows in words, in one unit or in both unit systems."""

from __future__ import annotations

from fractions import Fraction

from shimopt.job import Gap, Window
from shimopt.readings import Reading
from shimopt.words.speaker import Speaker

__all__ = [
    "both_clearance",
    "both_units",
    "limits_both",
    "limits_text",
    "other_unit",
    "read_how",
    "reading_text",
    "window_and_aim",
]

_LONG = 5_000_000  # from 5 mm on the other system speaks of inches, not of thousandths
_HOW = {
    "value": "as stated",
    "feeler": "by feeler gauge",
    "indicator": "by dial indicator",
    "built_up": "built up of measured parts",
    "cover_gap": "under the cover",
    "table": "as the table of gaps states",
    "record": "as predicted when it was fitted, not measured since",
    "record after fitting": "after fitting",
}


def read_how(reading: Reading) -> str:
    """By which instrument, or from where."""
    return _HOW[reading.kind]


def reading_text(gap: Gap, say: Speaker) -> str:
    """`17 to 18 thou by feeler gauge; best estimate 17.5 thou`."""
    read = gap.reading.bracket
    said = f"{say.clearance(read.low, read.high)} {read_how(gap.reading)}"
    if gap.reading.taken_as_exact:
        return f"{said}, taken as exact"
    basis = "" if gap.reading.basis == "worst case" else f" ({gap.reading.basis})"
    return f"{said}{basis}; best estimate {say.clearance(read.best, read.best)}"


def limits_text(window: Window, say: Speaker) -> str:
    """`4 to 12 thou`, `at most 12 thou` or `at least 4 thou`."""
    return say.window(window.min, window.max)


def window_and_aim(window: Window, say: Speaker) -> str:
    """The window with what is aimed at."""
    aim = ""
    if window.target is not None:
        middle = "" if window.stated_target is not None else ", the middle"
        aim = f"; aim at {say.clearance(window.target, window.target)}{middle}"
    return f"{limits_text(window, say)}{aim}"


def other_unit(say: Speaker) -> str:
    """The unit that stands in brackets beside this one."""
    return "mm" if say.unit in ("thou", "in") else "thou"


def both_units(low: Fraction | int, high: Fraction | int, say: Speaker) -> str:
    """`17 to 18 thou (0.432 to 0.457 mm)`: as people read it in `unit`, and rounded in the other system."""
    return f"{say.bracket(low, high)} ({_there(low, high, say)})"


def both_clearance(low: Fraction | int, high: Fraction | int, say: Speaker) -> str:
    """A clearance in both systems; below zero it is a preload and called so."""
    if low >= 0:
        return both_units(low, high, say)
    if high <= 0:
        return f"preload {both_units(-high, -low, say)}"
    return f"preload {both_units(-low, -low, say)} to play {both_units(high, high, say)}"


def limits_both(window: Window, say: Speaker) -> str:
    """The window's limits in both unit systems."""
    if window.min is not None and window.max is not None:
        return both_clearance(window.min, window.max, say)
    limit = window.max if window.max is not None else window.min or 0
    inside = f" ({_there(abs(limit), abs(limit), say)})"
    return f"{limits_text(window, say)}{inside}"


def _there(low: Fraction | int, high: Fraction | int, say: Speaker) -> str:
    """A length or two in the other system, rounded."""
    other = other_unit(say)
    if other == "thou" and abs(Fraction(high)) >= _LONG:
        other = "in"
    low_there, high_there = _rounded(low, other), _rounded(high, other)
    there = low_there if low_there == high_there else f"{low_there} to {high_there}"
    return f"{there} {other}"


def _rounded(nm: Fraction | int, unit: str) -> str:
    """To a micrometre or a tenth of a thou, finer where that would leave nothing."""
    step = {"mm": 1_000, "thou": 2_540, "in": 25_400}[unit]
    rounded = round(Fraction(nm) / step) * step
    return Speaker(unit).bare(nm if rounded == 0 and nm else rounded)
