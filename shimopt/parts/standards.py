"""Figures of standards that come with shimopt (folder `catalogs/tables`), every row with its provenance.

ISO 286-1: limits of size by class, holes D to H, shafts d to h, grades IT5 to IT13, to 250 mm:
lower and upper deviation of a hole EI, EI + IT, of a shaft es - IT, es; EI, es and IT come from tables by bands of the
nominal size; the edge of a band belongs to the lower band. ISO 9445-1: how thick cold-rolled stainless strip may really
be. And hardness as people write it.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib import resources
from pathlib import Path

from shimopt.lengths import SPELLINGS, Bracket, LengthError, length_of, parse_number, to_nm

_CLASSED = re.compile(
    r"(?P<size>[\d.].*?)(?P<space>\s*)(?P<letters>[A-Za-z]{1,2})(?P<grade>\d{1,2})", re.ASCII | re.DOTALL
)
_HOLES, _SHAFTS, _GRADES = "DEFGH", "defgh", range(5, 14)
_LARGEST = 250_000_000
_LONGEST = 40
_KNOWN = "known are D to H for holes, d to h for shafts, grades 5 to 13"
# the tolerances of `strip_tolerance`
STRIP_SOURCE = "ISO 9445-1, stainless strip under 125 mm wide"
_STAINLESS = re.compile(r"\b(stainless|1\.4[0-6]\d\d)\b", re.IGNORECASE | re.ASCII)
HARDNESS_WORDS = ("soft", "brittle", "hard")
_HARDNESS = re.compile(
    r"(?:(?P<before>HV|HRC)\s*)?(?P<number>[\d.]+)(?:\s*(?P<after>HV|HRC))?", re.IGNORECASE | re.ASCII
)
_REMEDY = 'write it like "350 HV" or "38 HRC", or one of the words soft, brittle, hard'


def catalogue_folder() -> Path:
    """The folder of the built-in catalogues: inside the wheel, or at the top of a checkout."""
    packed = Path(str(resources.files("shimopt") / "catalogs"))
    return packed if packed.is_dir() else Path(__file__).parents[2] / "catalogs"


@cache
def reference_rows(name: str) -> tuple[dict[str, str], ...]:
    """The rows of one table, as text by column."""
    with open(catalogue_folder() / "tables" / f"{name}.csv", encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


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


def stainless(material: str) -> bool:
    """Whether a material is called stainless, or has the number of a stainless steel (EN 10088-1: 1.40xx to 1.46xx)."""
    return _STAINLESS.search(material) is not None


def strip_tolerance(thickness: int, quality: str = "normal") -> int | None:
    """± of a nominal thickness [nm] by ISO 9445-1: stainless strip under 125 mm wide, 0.05 to 0.40 mm; else None.

    Parameters: thickness [nm]; quality, "normal", "fine" or "precision". The edge of a band belongs to the lower band.
    """
    if thickness <= 50_000:
        return None
    for row in reference_rows("strip-tolerances"):
        if row["source"] and thickness <= Fraction(row["upto_mm"]) * 1_000_000:
            figure = row[f"{quality}_mm"]
            # "0.10t" is a share of the thickness
            if figure.endswith("t"):
                return round(Fraction(figure.removesuffix("t")) * thickness)
            return round(Fraction(figure) * 1_000_000)
    return None


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
    found = _HARDNESS.fullmatch(text.strip()) if len(text) <= 40 else None
    if found is None or bool(found["before"]) == bool(found["after"]):
        raise LengthError("this is not a hardness", _REMEDY)
    number, scale = parse_number(found["number"]), (found["before"] or found["after"]).upper()
    if not 0 < number <= (3000 if scale == "HV" else 70):
        raise LengthError("this hardness is out of all range", _REMEDY)
    return Hardness(scale, number)
