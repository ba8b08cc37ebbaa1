"""Is the gauge good enough, in one plain sentence per gap; and the guard bands of what decides."""

from __future__ import annotations

from fractions import Fraction

from shimopt.arithmetic.needed import Span, guarded
from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.lengths import spelled
from shimopt.reasons import Gauge
from shimopt.words.names import bracket_text, clearance_text

__all__ = ["gauge_words", "guard_words"]


def gauge_words(gauge: Gauge, unit: str) -> str:
    """Whether reading and sizes are good enough, and if not, what would be."""
    about = shown(gauge.gap)
    off, window = f"±{spelled(gauge.uncertainty, unit)}", spelled(gauge.window, unit)
    known = f"reading and pieces are known to {off}" if gauge.pieces else f"the reading is known to {off}"
    if gauge.chance is not None and gauge.code != "reading":
        known = f"a chance of {_per_cent(gauge.chance)} takes guard bands of {spelled(gauge.uncertainty, unit)}"
    match gauge.code:
        case "one_sided":
            return f"{about}: good enough: its window has one limit only."
        case "as_read":
            return f"{about}: good enough: {known}, the window is {window} wide, and it is inside as read."
        case "good":
            assert gauge.step is not None
            both = spelled(gauge.step + 2 * gauge.uncertainty, unit)
            return (
                f"{about}: good enough: {known}, the sizes step by {spelled(gauge.step, unit)} here, together "
                f"{both} of a window {window} wide."
            )
        case "end":
            return f"{about}: good enough: {known}, the window is {window} wide, and a stack on hand serves."
        case "no_sizes":
            return (
                f"{about}: {known}, so stacks up to {spelled(gauge.window - 2 * gauge.uncertainty, unit)} apart "
                "are sure to hit; but the sizes do not reach on both sides of where it has to come."
            )
        case "steps":
            assert gauge.step is not None
            sizes = f"; or have a stack of {_span(gauge.stack, unit)}" if gauge.stack is not None else ""
            reading = (
                f"read it to ±{spelled(gauge.would_do, unit)}"
                if gauge.would_do is not None
                else "no reading alone makes up for that"
            )
            room = spelled(max(Fraction(0), gauge.window - 2 * gauge.uncertainty), unit)
            step = spelled(gauge.step, unit)
            sure = "sure" if gauge.chance is None else "as likely as asked"
            start = (
                f"too far apart to be {sure} for any reading, though not for this one" if gauge.hit else "too far apart"
            )
            return (
                f"{about}: the sizes are {start}: they step by {step} here, and {known}, which leaves {room} of a "
                f"window {window} wide. To be {sure}, {reading}{sizes}."
            )
        case "reading":
            return _too_coarse(gauge, unit, about, known, window)
    raise KeyError(gauge.code)


def _too_coarse(gauge: Gauge, unit: str, about: str, known: str, window: str) -> str:
    how = "surely inside" if gauge.chance is None else f"inside with a chance of {_per_cent(gauge.chance)}"
    start = f"{about}: no stack can be {how}: {known} only, and the window is {window} wide."
    if gauge.step is None:
        assert gauge.would_do is not None
        return f"{start} It takes a reading known to well within ±{spelled(gauge.would_do, unit)}."
    if gauge.would_do is None:
        step = spelled(gauge.step, unit)
        return f"{start} With sizes {step} apart no reading does: measure the pieces, or have finer sizes."
    return f"{start} With these sizes it takes a reading known to ±{spelled(gauge.would_do, unit)}."


def _per_cent(chance: Fraction) -> str:
    return f"{float(chance) * 100:g} %"


def _span(span: Span, unit: str) -> str:
    return f"{spelled(span.least, unit)} or more" if span.most is None else bracket_text(span.least, span.most, unit)


def guard_words(gap: Gap, unit: str) -> str:
    """Where the best estimate has to come, and how far from the limits that is."""
    about, window = shown(gap.name), gap.window
    asked = "to be sure" if gap.least_chance is None else f"for a chance of {_per_cent(gap.least_chance)}"
    zone = guarded(gap)
    if zone is None:
        return f"{about}: {asked} there is no room: the window is too narrow for this gauge."
    low, high = zone
    bands = [
        spelled(abs(Fraction(end) - limit), unit)
        for end, limit in ((low, window.min), (high, window.max))
        if end is not None and limit is not None
    ]
    guard = bands[0] if len(set(bands)) == 1 else " and ".join(bands)
    start = f"{about}: {asked} with exact pieces its best estimate has to come to"
    if low is not None and high is not None:
        return f"{start} {clearance_text(low, high, unit)}: guard bands of {guard}."
    end = high if low is None else low
    assert end is not None
    return f"{start} {clearance_text(end, end, unit)} or {'less' if low is None else 'more'}: a guard band of {guard}."
