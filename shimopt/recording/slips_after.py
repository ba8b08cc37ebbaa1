"""A reading after fitting that was probably typed in another unit, or with its point elsewhere: it is asked.

The prediction is the witness: far from it, and outside the window, a reading is no slip unless the same digits in
another unit, or a tenth of it, are what was predicted.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from fractions import Fraction

from shimopt.errors import InputError, Problem
from shimopt.job import Gap, Job
from shimopt.job.slips import FAR
from shimopt.lengths import UNITS, Bracket, spelled

__all__ = ["refuse_slips", "slip_after", "without_checked"]

_CHECKED = re.compile(r"\s*,\s*checked\s*$", re.IGNORECASE)
_UNIT = re.compile(r"(?<![a-zµμ])(mm|um|µm|μm|in|thou)(?![a-z])", re.IGNORECASE)
# common practice, no source: so many times what was predicted. Dirt or a burr makes a gap small, never large: smallness
# alone says nothing, and only a unit explains so little
_LARGE, _SMALL = 3, FAR
# a point slipped makes ten times of it: half of that is nearer to ten times than to what was predicted
_POINT = 5


def without_checked(text: str) -> str:
    """A reading as typed, without the word that says that somebody looked again."""
    return _CHECKED.sub("", text)


def refuse_slips(
    texts: Iterable[str], found: Mapping[str, Bracket], predicted: Mapping[str, Bracket], job: Job
) -> None:
    """Raise InputError with every reading, typed as `GAP=READING`, that is probably a slip."""
    problems = []
    for text in texts:
        name, _, value = (part.strip() for part in text.rpartition("="))
        if problem := slip_after(value, found[name], predicted[name], job.gap[name], job.unit):
            problems.append(problem)
    if problems:
        raise InputError(problems)


def slip_after(text: str, found: Bracket, predicted: Bracket, gap: Gap, unit: str) -> Problem | None:
    """What a reading was probably meant as, None where it may stand. Parameter: unit, of a number without one."""
    read, expected = abs(found.best), abs(predicted.best)
    if _CHECKED.search(text) or not read or not expected or not gap.window.off(found.best):
        return None
    large = read >= _LARGE * expected
    if not large and expected < _SMALL * read:
        return None
    named = _UNIT.search(text)
    typed_in = named[1].casefold().replace("µ", "u").replace("μ", "u") if named else unit
    meanings = [(Fraction(UNITS[other], UNITS[typed_in]), other) for other in UNITS if other != typed_in]
    meanings += [(Fraction(1, 10), "")] if read >= _POINT * expected else []
    likely = [one for one in meanings if _meets(found, one[0], predicted)]
    if not likely:
        return None
    factor, other = min(likely, key=lambda one: abs(read * one[0] - expected))
    typed = text if named else f"{text} {unit}"
    meant = f"{_UNIT.sub('', text).strip()} {other}" if other else spelled(read * factor, unit)
    was = f"{'preload ' if predicted.best < 0 else ''}{spelled(expected, unit)} was predicted"
    rule = f"{typed}? {meant} was probably meant: {was}, and {spelled(read, unit)} is far outside the window"
    remedy = f'write what was read; if it was read so, write it as "{gap.name}={text}, checked"'
    return Problem("", "--after", f"{gap.name}={text}", rule, remedy)


def _meets(found: Bracket, factor: Fraction, predicted: Bracket) -> bool:
    """Whether a reading times a factor can be what was predicted, and is of its size."""
    meant, expected = abs(found.best) * factor, abs(predicted.best)
    if not expected <= _LARGE * meant or not meant <= _LARGE * expected:
        return False
    return found.low * factor <= predicted.high and predicted.low <= found.high * factor
