"""With how many digits clearances are shown: as many as the readings have, what comes of them with one more at most."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from math import ceil, floor
from typing import TYPE_CHECKING

from shimopt.lengths import UNITS, Bracket

if TYPE_CHECKING:
    from shimopt.job import Gap, Job
    from shimopt.planner import Decision
    from shimopt.words.speaker import Speaker

_FINEST = {"mm": 3, "um": 1, "in": 4, "thou": 1}
_LEAST = {"mm": 2}
# after the point, what a micrometer or a dial of a workshop tells of one length
OF_A_GAUGE = {"mm": 3, "um": 0, "in": 4, "thou": 1}


def digits_of(decision: Decision, unit: str) -> tuple[int, int]:
    """After the point, of what was read and of what it comes to: the same for all gaps of a plan."""
    read, finest = read_digits(decision.job, unit), _FINEST[unit]
    then = _digits((found.after for found in decision.outcome.gaps.values()), unit, read, min(read + 1, finest))
    # what is inside to the nanometre is not shown as outside
    while then <= finest and any(_looks_outside(gap, decision, unit, then) for gap in decision.job.gaps):
        then += 1
    return read, then


def as_shown(after: Bracket, gap: Gap, unit: str) -> Bracket:
    """What a gap would come to, rounded outward to what a gauge shows, or finer where inside would look outside."""
    digits = _FINEST[unit]
    while digits < _FINEST[unit] + 2 and _out(after, gap, unit, digits):
        digits += 1
    return after if after.exact else after.outward(unit, digits)


def _looks_outside(gap: Gap, decision: Decision, unit: str, digits: int) -> bool:
    return _out(decision.outcome.gaps[gap.name].after, gap, unit, digits)


def _out(after: Bracket, gap: Gap, unit: str, digits: int) -> bool:
    """Whether a gap that is inside would be shown as standing out of its window, rounded outward to so many digits."""
    if after.exact or gap.window.out(after.low, after.high):
        return False
    shown = after.outward(unit, digits)
    return bool(gap.window.out(shown.low, shown.high))


def read_digits(job: Job, unit: str) -> int:
    """After the point, of what was read."""
    read = (reading.found for gap in job.gaps for reading in (gap.reading, job.first_read(gap)))
    return _digits(read, unit, _LEAST.get(unit, 0), _FINEST[unit])


def seen(bracket: Bracket, unit: str) -> Bracket:
    """What was read, rounded outward to what a gauge shows, its best estimate to the nearest of it.

    What was read with a digit more stays as it is.
    """
    step = Fraction(UNITS[unit], 10 ** _FINEST[unit])
    if not any(end % (step / 10) for end in (bracket.low, bracket.high)):
        return bracket
    wide = bracket.outward(unit, _FINEST[unit])
    return replace(wide, best=round(bracket.best / step) * step)


def within(low: Fraction, high: Fraction, unit: str) -> tuple[Fraction, Fraction]:
    """From where to where something must lie, rounded inward to what a gauge shows; as it is where that leaves none."""
    step = Fraction(UNITS[unit], 10 ** _FINEST[unit])
    least, most = ceil(low / step) * step, floor(high / step) * step
    stated = not any(end % (step / 10) for end in (low, high))
    return (low, high) if stated or least > most else (least, most)


def up_to(say: Speaker, length: Fraction | int) -> str:
    """A length that is an upper limit, rounded up to what a gauge shows."""
    return say(Bracket.between(0, length).outward(say.unit, _FINEST[say.unit]).high)


def of_a_gauge(say: Speaker, length: Fraction | int) -> Fraction | int:
    """A length that was worked out, rounded as `few_digits` does."""
    step = Fraction(UNITS[say.unit], 10 ** _FINEST[say.unit])
    while length and not round(length / step):
        step /= 10
    return round(length / step) * step


def few_digits(say: Speaker, *lengths: Fraction | int) -> list[str]:
    """Lengths that were worked out, rounded to what a gauge shows (halves away from nothing).

    Never so far that two of them look the same.
    """
    step = Fraction(UNITS[say.unit], 10 ** _FINEST[say.unit])
    different = len({*lengths, 0})
    while len({*(shown := [_rounded(length / step) * step for length in lengths]), 0}) < different:
        step /= 10
    return [say(length) for length in shown]


def _rounded(number: Fraction) -> int:
    """To the nearest whole, halves to the larger amount: what is too loose is not shown smaller than it is."""
    return (1 if number >= 0 else -1) * floor(abs(number) + Fraction(1, 2))


def with_digits_of(say: Speaker, read: Iterable[Bracket], then: Iterable[Bracket]) -> Speaker:
    """The speaker, who shows brackets that were read and what they come to so, rounded outward."""
    least = _digits(read, say.unit, _LEAST.get(say.unit, 0), _FINEST[say.unit])
    return replace(say, ends=(least, _digits(then, say.unit, least, min(least + 1, _FINEST[say.unit]))))


def with_digits(say: Speaker, decision: Decision) -> Speaker:
    """The speaker, who shows the brackets of a plan with so many digits, rounded outward."""
    return replace(say, ends=digits_of(decision, say.unit))


def span_text(bracket: Bracket, gap: Gap, say: Speaker) -> str:
    """A gap's clearance from low to high, rounded outward; a star where it holds 19 times in 20 only."""
    seen = bracket if bracket.exact else bracket.outward(say.unit, say.digits or 0)
    return f"{say.about(gap).clearance(seen.low, seen.high)}{likely_sign(bracket, gap)}"


def likely_sign(bracket: Bracket, gap: Gap) -> str:
    """A star where a gap's clearance is known to hold 19 times in 20 only."""
    return "*" if gap.reading.basis != "worst case" and not bracket.exact else ""


def _digits(brackets: Iterable[Bracket], unit: str, least: int, most: int) -> int:
    """The fewest that hold the ends of all brackets exactly, within limits."""
    ends = {end for one in brackets for end in (one.low, one.high)}
    for digits in range(least, most):
        step = Fraction(UNITS[unit], 10**digits)
        if not any(end % step for end in ends):
            return digits
    return most
