"""Readings that look like a slip: ten times their neighbours, or a number typed in the wrong unit.

Slips that happen in print are a lost zero (factor 10) and inches for millimetres (25.4); mixing up units of feeler
blades gives 39.37 and 1000. A suspicion changes nothing by itself.
"""

from __future__ import annotations

from bisect import bisect_left
from fractions import Fraction
from typing import Literal

from shimopt.arithmetic import off_by
from shimopt.arithmetic.needed import aimed
from shimopt.job import Gap, Job
from shimopt.lengths import UNITS
from shimopt.reasons.job_facts import ReadingFarOff, ReadingSuspect
from shimopt.seats import Finding
from shimopt.seats.fact import Fact

__all__ = ["suspicions"]

# common practice, no source: a reading so many times its neighbours is worth a second look
_FAR = 6
# ... and one of its other meanings is likely if that comes so near to them
_NEAR = 3
# readings in order, by the window they share
_Alike = dict[tuple[int | None, int | None], list[Fraction]]
_Against = Literal["neighbours", "window"]
_LONG_GAP = 5_000_000  # 5 mm: no end play is that long


def suspicions(job: Job) -> list[Finding]:
    """A caution for every reading that looks like a slip, with the likely meaning where there is one."""
    alike: _Alike = {}
    for gap in job.gaps:
        if gap.reading.bracket.best > 0 and not gap.reading.no_preload_assumed:
            alike.setdefault((gap.window.min, gap.window.max), []).append(gap.reading.bracket.best)
    for readings in alike.values():
        readings.sort()
    return [found for gap in job.gaps if (found := _suspicion(job, gap, alike)) is not None]


def _suspicion(job: Job, gap: Gap, alike: _Alike) -> Finding | None:
    reading = gap.reading.bracket.best
    inside = off_by(reading, gap.window) == 0
    if reading <= 0 or (inside and gap.window.min is not None and gap.window.max is not None):
        return None
    usual, against = _usual(gap, alike)
    if usual is None or usual <= 0:
        return None
    several = len(alike.get((gap.window.min, gap.window.max), [])) > 2
    # far above its neighbours, and not just a loose gap among tight ones
    about_ten_times = several and against == "neighbours" and 8 * usual <= reading <= Fraction(25, 2) * usual
    beyond = gap.window.max is None or reading >= _NEAR * gap.window.max
    far_above = about_ten_times or (reading >= _FAR * usual and beyond and (against == "neighbours" or not inside))
    # a small reading is mostly just a tight gap: only far below several neighbours does it look like a slip
    far_below = reading * _FAR <= usual and against == "neighbours" and several
    if not (far_above or far_below or _longer_than_parts_make(job, gap)):
        return None
    meaning = _likely_meaning(job, gap, reading, usual)
    if meaning is not None:
        meant, how = meaning
        fact: Fact = ReadingSuspect(reading=reading, usual=usual, against=against, meant=meant, how=how)
    elif far_above or far_below:
        fact = ReadingFarOff(reading=reading, usual=usual, against=against)
    else:
        return None
    return Finding(place=gap.name, grade="caution", fact=fact)


def _usual(gap: Gap, alike: _Alike) -> tuple[Fraction | None, _Against]:
    """What such a gap usually reads: the middle of its neighbours with the same window, else the window itself."""
    window, reading = gap.window, gap.reading.bracket.best
    neighbours = alike.get((window.min, window.max), [])
    limit = window.max if window.max is not None else window.min
    if len(neighbours) > 1 and not gap.reading.no_preload_assumed:
        usual = _middle_without(neighbours, reading)
        # neighbours typed in the same wrong unit agree with each other, but not with the window
        if not Fraction(1, _FAR) < reading / usual < _FAR or not limit or limit <= 0:
            return usual, "neighbours"
    return (Fraction(limit) if limit else None), "window"


def _middle_without(ordered: list[Fraction], one: Fraction) -> Fraction:
    """The median of an ordered list less one of its values."""
    at, left = bisect_left(ordered, one), len(ordered) - 1
    middle = [ordered[i if i < at else i + 1] for i in ((left - 1) // 2, left // 2)]
    return (middle[0] + middle[1]) / 2


def _likely_meaning(job: Job, gap: Gap, reading: Fraction, usual: Fraction) -> tuple[Fraction, str] | None:
    """The other meaning of the number that comes nearest to what is usual, and how it would have slipped."""
    meanings: list[tuple[Fraction, str]] = [(reading / 10, "ten times too large"), (reading * 10, "a zero too many")]
    if gap.bare:
        meanings += [(reading * UNITS[unit] / UNITS[job.unit], unit) for unit in UNITS if unit != job.unit]
    near = [(meant, how) for meant, how in meanings if Fraction(1, _NEAR) <= meant / usual <= _NEAR]
    return min(near, key=lambda found: max(found[0] / usual, usual / found[0]), default=None)


def _longer_than_parts_make(job: Job, gap: Gap) -> bool:
    """Whether a long gap is beyond all that the parts can make."""
    if gap.reading.bracket.best < _LONG_GAP or len(gap.effects) != 1 or (aim := aimed(job, gap)) is None:
        return False
    thickest = max((line.part.thickness.best for line in job.stock), default=Fraction(0))
    return aim.least > thickest * job.place[gap.effects[0][0]].most_pieces
