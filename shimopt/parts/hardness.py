"""How hard a part is: Vickers or Rockwell C where it is known, or a plain word."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from shimopt.lengths import LengthError, parse_number

__all__ = ["HARDNESS_WORDS", "Hardness", "hardness_of"]

HARDNESS_WORDS = ("soft", "brittle", "hard")
_WRITTEN = re.compile(
    r"(?:(?P<before>HV|HRC)\s*)?(?P<number>[\d.]+)(?:\s*(?P<after>HV|HRC))?", re.IGNORECASE | re.ASCII
)
_REMEDY = 'write it like "350 HV" or "38 HRC", or one of the words soft, brittle, hard'


@dataclass(frozen=True, slots=True)
class Hardness:
    """`scale` is "HV", "HRC" or "word"; scales are not converted into each other."""

    scale: str
    number: Fraction = Fraction(0)
    word: str = ""

    def __str__(self) -> str:
        return self.word or f"{float(self.number):g} {self.scale}"


def hardness_of(text: str) -> Hardness:
    """A hardness as a person writes it. Raises LengthError (a number that cannot be)."""
    if text.strip().casefold() in HARDNESS_WORDS:
        return Hardness("word", word=text.strip().casefold())
    found = _WRITTEN.fullmatch(text.strip()) if len(text) <= 40 else None
    if found is None or bool(found["before"]) == bool(found["after"]):
        raise LengthError("this is not a hardness", _REMEDY)
    number, scale = parse_number(found["number"]), (found["before"] or found["after"]).upper()
    if not 0 < number <= (3000 if scale == "HV" else 70):
        raise LengthError("this hardness is out of all range", _REMEDY)
    return Hardness(scale, number)
