"""Limits of size by class, ISO 286-1: holes D to H, shafts d to h, grades IT5 to IT13, to 250 mm.

lower and upper deviation of a hole:   EI, EI + IT
lower and upper deviation of a shaft:  es - IT, es

EI, es and IT come from tables by bands of the nominal size; the edge of a band belongs to the lower band.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache

from shimopt.lengths import SPELLINGS, Bracket, LengthError, length_of, parse_number, to_nm
from shimopt.parts.reference import reference_rows

__all__ = ["class_limits", "classed"]

_CLASSED = re.compile(
    r"(?P<size>[\d.].*?)(?P<space>\s*)(?P<letters>[A-Za-z]{1,2})(?P<grade>\d{1,2})", re.ASCII | re.DOTALL
)
_HOLES, _SHAFTS, _GRADES = "DEFGH", "defgh", range(5, 14)
_LARGEST = 250_000_000
_LONGEST = 40
_KNOWN = "known are D to H for holes, d to h for shafts, grades 5 to 13"


def classed(text: str, kind: str, bare_unit: str = "mm") -> Bracket | None:
    """A size with an ISO 286 class, such as `16 h6` or `0.625 in h6`; None where the text has no class.

    Parameters: kind, "hole" or "shaft": whose class this must be; bare_unit, the unit of a size without one (ISO 286
    means mm). Raises LengthError.
    """
    # a class is short; long text is no class, and would keep the pattern busy
    found = _CLASSED.fullmatch(text.strip()) if len(text) <= _LONGEST else None
    if found is None:
        return None
    letters, grade = found["letters"], int(found["grade"])
    # 1.5e1 is a number; 15 e8 is a class
    if letters in SPELLINGS or (letters in "eE" and not found["space"]):
        return None
    size = found["size"].strip()
    bare = size[-1].isdigit() or size[-1] == "."
    nominal = to_nm(parse_number(size), bare_unit) if bare else length_of(size, None)
    if letters.isupper() != (kind == "hole") and letters.casefold() in _SHAFTS:
        other = letters.swapcase()
        raise LengthError(
            f"the class of a {kind} is a {'capital' if kind == 'hole' else 'small'} letter",
            f"did you mean {other}{grade}?",
        )
    return class_limits(nominal, letters, grade)


def class_limits(nominal: int, letter: str, grade: int) -> Bracket:
    """Least and largest size [nm] of a nominal size and class. Raises LengthError.

    >>> [int(end) for end in (class_limits(25_000_000, "H", 7).low, class_limits(25_000_000, "H", 7).high)]
    [25000000, 25021000]
    """
    if letter not in _HOLES + _SHAFTS or len(letter) != 1 or grade not in _GRADES:
        raise LengthError("this ISO 286 class is not known here", f"{_KNOWN}; or write the limits: {{ min, max }}")
    if not 0 < nominal <= _LARGEST:
        raise LengthError("ISO 286 classes are known here above 0 and up to 250 mm", "write the limits: { min, max }")
    deviation = _in_band("iso286-deviations", nominal, f"{letter}_um")
    width = _in_band("iso286-grades", nominal, f"IT{grade}_um")
    if letter in _HOLES:
        return Bracket.between(nominal + deviation, nominal + deviation + width)
    return Bracket.between(nominal + deviation - width, nominal + deviation)


def _in_band(table: str, nominal: int, column: str) -> int:
    """The figure of a size's band [nm]."""
    for top, row in _bands(table):
        if nominal <= top:
            return int(row[column]) * 1000
    raise LengthError("this size is beyond the table", "write the limits: { min, max }")


@cache
def _bands(table: str) -> tuple[tuple[Fraction, dict[str, str]], ...]:
    return tuple((Fraction(row["upto_mm"]) * 1_000_000, row) for row in reference_rows(table))
