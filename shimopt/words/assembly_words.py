"""Heat, the state of the trial assembly and torques in words."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from shimopt.assembly import tool_error
from shimopt.assembly.torque import UNITS
from shimopt.errors import shown
from shimopt.job import Gap, Job, Tightening
from shimopt.lengths import Bracket, spelled
from shimopt.words.names import clearance_text, window_text

__all__ = ["heat_words", "number_text", "state_words", "tightening_words"]

_STATE = {
    "clamped": "clamped at {}",
    "gasket": "gasket: {}",
    "surfaces": "{}",
    "temperature": "at {}",
    "hardware": "{} hardware",
    "turns": "turned {} times to seat it",
    "who": "read by {}",
    "when": "on {}",
    "instrument": "with {}",
    "note": "{}",
}


def state_words(job: Job) -> list[str]:
    """How the trial assembly stood: of the whole job, then of the gaps where it was not the same."""
    told = _told(job.state)
    lines = [f"{told[:1].upper()}{told[1:]}."] if job.state else []
    return lines + [
        f"{shown(gap.name)}: {_told([told for told in gap.state if told not in job.state])}."
        for gap in job.gaps
        if any(told not in job.state for told in gap.state)
    ]


def _told(state: Sequence[tuple[str, str]]) -> str:
    return ", ".join(_STATE[key].format(shown(value)) for key, value in state)


def heat_words(gap: Gap, after: Bracket, unit: str) -> str:
    """What heat makes of a gap after shimming, and of its window when hot."""
    heat = gap.heat
    assert heat is not None
    change = "grows" if heat.growth >= 0 else "shrinks"
    hot = clearance_text(after.low + heat.growth, after.high + heat.growth, unit)
    said = (
        f"{shown(gap.name)}: from {shown(heat.cold)} to {shown(heat.hot)} it {change} by "
        f"{spelled(abs(heat.growth), unit)}, to {hot} hot"
    )
    if heat.window is None:
        return f"{said}; no window is stated for that."
    said += f"; allowed hot: {window_text(heat.window.min, heat.window.max, unit)}"
    if gap.cold_window is None:
        return f"{said}. The window cold is the narrower one."
    cold = window_text(gap.cold_window.min, gap.cold_window.max, unit)
    return f"{said}. So cold it has to be {window_text(gap.window.min, gap.window.max, unit)} (window cold: {cold})."


def tightening_words(entry: Tightening) -> str:
    """A torque called for, the setting in the middle in every common unit, and what the tool may be off by."""
    torque, setting = entry.torque, entry.torque.setting
    share = tool_error(setting)
    least, most = setting * (1 - share), setting * (1 + share)
    in_units = " = ".join(f"{number_text(setting / UNITS[unit])} {unit}" for unit in ("lbf·ft", "lbf·in", "N·m"))
    said = f"{shown(entry.name)}: set to {in_units}. "
    said += f"A tool may be off by {number_text(share * 100)} % (ISO 6789): {_both(least, most)} N·m"
    if torque.low == torque.high:
        return f"{said}."
    inside = torque.low <= least and most <= torque.high
    return f"{said}, {'within' if inside else 'not within'} the {_both(torque.low, torque.high)} N·m called for."


def _both(low: Fraction, high: Fraction) -> str:
    return f"{number_text(low)} to {number_text(high)}"


def number_text(value: Fraction) -> str:
    """A number with four significant digits, whole numbers whole."""
    if value.denominator == 1:
        return str(value.numerator)
    digits = max(0, 4 - len(str(int(value))))
    return f"{float(value):.{digits}f}".rstrip("0").rstrip(".") if digits else f"{float(value):.0f}"
