"""Heat, the state of the trial assembly and torques in words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from shimopt.assembly import Torque, tool_error
from shimopt.assembly.torque import SMALL_TOOL, UNITS
from shimopt.errors import shown
from shimopt.job import Gap, Job, Tightening
from shimopt.job.gap import Heat
from shimopt.lengths import Bracket, as_decimal
from shimopt.words.speaker import Speaker, begun, listed

_STATE = {
    "clamped": "clamped: {}",
    "gasket": "gasket: {}",
    "surfaces": "faces {}",
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
    lines = [f"{begun(told)}."] if job.state else []
    return lines + [
        f"{shown(gap.name)}: {_told([told for told in gap.state if told not in job.state])}."
        for gap in job.gaps
        if any(told not in job.state for told in gap.state)
    ]


def _told(state: Sequence[tuple[str, str]]) -> str:
    return ", ".join(
        _STATE[key].format(_degrees(value) if key == "temperature" else shown(value)) for key, value in state
    )


def _degrees(text: str) -> str:
    """A temperature as somebody typed it, in degrees Celsius as they are written."""
    return re.sub(r"(?<=\d)\s*(?:deg(?:rees)?\s?)?C\b", " °C", shown(text))


def heat_words(gap: Gap, heat: Heat, after: Bracket, say: Speaker) -> str:
    """What heat makes of a gap after shimming, and of its window when hot."""
    change = "grows" if heat.growth >= 0 else "shrinks"
    hot = say.clearance(after.low + heat.growth, after.high + heat.growth)
    said = f"from {_degrees(heat.cold)} to {_degrees(heat.hot)} it {change} by {say(abs(heat.growth))}, to {hot} hot"
    known = f" {_coefficients(heat)}"
    if heat.window is None:
        return f"{said}; no window is stated for that.{known}"
    said += f"; allowed hot: {say.window(heat.window.stated_min, heat.window.max)}"
    if gap.cold_window is None:
        return f"{said}. The window cold is the narrower one.{known}"
    cold = say.window(gap.cold_window.stated_min, gap.cold_window.max)
    allowed = say.window(gap.window.stated_min, gap.window.max)
    return f"{said}. So cold it has to be {allowed} (window cold: {cold}).{known}"


def _coefficients(heat: Heat) -> str:
    """Which coefficients of expansion were taken, and from where."""
    by_source: dict[str, list[str]] = {}
    for part in (*heat.housing, *heat.shaft):
        told = (
            f"{shown(part.material)}: {_millionths(part.coefficient)}"
            if part.material
            else _millionths(part.coefficient)
        )
        names = by_source.setdefault("as the job states" if part.source == "given" else part.source, [])
        if told not in names:
            names.append(told)
    told = "; ".join(f"{listed(names)} ({source})" for source, names in by_source.items())
    return f"Expansion in millionths per °C: {told}."


def _millionths(coefficient: Fraction) -> str:
    return f"{float(coefficient * 10**6):g}"


def tightening_words(entry: Tightening) -> str:
    """A torque called for, the setting in the middle in every common unit, and what the tool may be off by."""
    torque, setting = entry.torque, entry.torque.setting
    in_units = " = ".join(f"{number_text(setting / UNITS[unit])} {unit}" for unit in ("lbf·ft", "lbf·in", "N·m"))
    said = f"{shown(entry.name)}: set to {in_units}. "
    if entry.tool_max is not None:
        which = f"A tool that goes to {number_text(entry.tool_max)} N·m"
        return said + _off(which, torque, tool_error(entry.tool_max))
    if setting > SMALL_TOOL:
        # whatever is set to more than that goes further
        return said + _off("A tool", torque, tool_error(setting))
    small = _off(f"A tool that goes to {SMALL_TOOL} N·m at most", torque, tool_error(Fraction(SMALL_TOOL)))
    return f"{said}{small} {_off('A larger one', torque, tool_error(Fraction(SMALL_TOOL + 1)))}"


def _off(which: str, torque: Torque, share: Fraction) -> str:
    """What a tool of a class may be off by, and whether that stays within what is called for."""
    least, most = torque.setting * (1 - share), torque.setting * (1 + share)
    said = f"{which} may be off by {number_text(share * 100)} % (ISO 6789): {_both(least, most)} N·m"
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
    return as_decimal(value, max(0, 4 - len(str(int(value)))))
