"""The shop's feeler blades, through which a reading is stepped: those of its file, else a common set."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

from shimopt.errors import InputError, RefusedError
from shimopt.lengths import UNITS, as_decimal, length_of
from shimopt.tables.files import decoded, file_bytes

NAME = "blades.txt"
_THICKEST = 20_000_000
_MOST_BYTES, _MOST_BLADES = 16 * 1024, 400
_DIGITS = {"mm": 4, "um": 1, "in": 5, "thou": 2}
# 0.03 to 0.10 mm by hundredths and on by twentieths, as the sets of DIN 2275 have them, to 1.00, and two together
_IN_MM = (*(30_000 + 10_000 * n for n in range(8)), *(100_000 + 50_000 * n for n in range(1, 39)))
# common practice, no source: 1 1/2 and 2 to 25 thou by thousandths, and two together
_IN_THOU = (38_100, *(25_400 * n for n in range(2, 51)))


def blades_of(folder: Path, unit: str) -> list[str]:
    """The blades as texts in this unit, the thinnest first. Raises InputError with what is wrong in the file."""
    file = folder / NAME
    if not file.exists():
        return list(_said(_IN_THOU if unit in ("thou", "in") else _IN_MM, unit))
    return list(_said(tuple(sorted({_size(file, text) for text in _texts(file)})), unit))


@lru_cache
def _said(sizes: tuple[int, ...], unit: str) -> tuple[str, ...]:
    return tuple(as_decimal(Fraction(nm, UNITS[unit]), _DIGITS[unit]) for nm in sizes)


def _texts(file: Path) -> list[str]:
    """Each blade as it is written: on lines of their own or between commas; what follows a # is a note."""
    text = decoded(file_bytes(file, _MOST_BYTES, "list of blades"), file, "list of blades")
    found = [one.strip() for line in text.splitlines() for one in re.split(r"[,;]", line.partition("#")[0])]
    found = [one for one in found if one]
    if not 2 <= len(found) <= _MOST_BLADES:
        rule = f"a set has from 2 to {_MOST_BLADES} blades"
        raise InputError.at(file, rule, 'write each with its unit, like "0.05 mm", on a line', value=f"{len(found)}")
    return found


def _size(file: Path, text: str) -> int:
    try:
        nm = length_of(text, None)
    except RefusedError as error:
        raise InputError.at(file, error.rule, error.remedy, value=text) from None
    if not 0 < nm <= _THICKEST:
        raise InputError.at(file, "a blade is from above 0 to 20 mm thick", "write its thickness", value=text)
    return nm
