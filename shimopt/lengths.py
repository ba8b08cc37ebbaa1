"""Lengths: text with a unit <-> whole nanometres. Units exist only here; the only file that knows pint.

Inside the program a length is a whole number of nanometres (`int`) where a person wrote it, and an exact `Fraction`
of nanometres where it was computed (a middle, a mean). No float takes part.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from functools import cache, lru_cache
from math import ceil, floor
from typing import TYPE_CHECKING, TypeVar

from shimopt.errors import RefusedError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    import pint

# inch = 25.4 mm exactly: international yard and pound agreement, 1959; NIST SP 811
UNITS = {"mm": 1_000_000, "um": 1_000, "in": 25_400_000, "thou": 25_400}
SPELLINGS = {
    "mm": "mm",
    "um": "um",
    "µm": "um",
    "μm": "um",
    "in": "in",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "thou": "thou",
}
NO_UNIT = "a bare number has no meaning without a unit"
# one length, or many at once
_Exact = TypeVar("_Exact", int, Fraction, "npt.NDArray[np.int64]")
_LONGEST_TEXT = 80
_LARGEST_NM = 10 * 10**9  # 10 m: longer than any machine part that takes a shim
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,4})?", re.ASCII)
_FRACTION = re.compile(r"([+-]?)(?:(\d{1,9})[ ]+)?(\d{1,9})[ ]*/[ ]*(\d{1,9})", re.ASCII)
_LENGTH = re.compile(r"(?P<number>[+-]?[\d.,/ ]*[\d.,](?:[eE][+-]?\d+)?)\s*(?P<unit>[^\d\s.,/+±-][^\d]*)?", re.ASCII)
_PLUS_MINUS = re.compile(r"±|\+/-|\+-")
_PLAIN_SIGNS = str.maketrans({"−": "-", "\u00a0": " ", "\u202f": " "})  # a typographic minus, spaces that do not break
# digits after the point on screens; what is finer is rounded for show only
_SHOWN_DIGITS = {"mm": 4, "um": 1, "in": 5, "thou": 2}


class LengthError(RefusedError):
    """A text or number that is not a length."""


@dataclass(frozen=True, slots=True)
class Bracket:
    """A length known to lie between `low` and `high`, best estimate `best` [nm, exact]."""

    low: Fraction
    best: Fraction
    high: Fraction

    @classmethod
    def between(cls, low: Fraction | int, high: Fraction | int) -> Bracket:
        """From low to high, the best estimate in the middle."""
        return cls(Fraction(low), Fraction(low + high, 2), Fraction(high))

    @property
    def exact(self) -> bool:
        """Whether nothing is left open between low and high."""
        return self.low == self.high

    def outward(self, unit: str, digits: int) -> Bracket:
        """The least bracket around it whose ends have at most so many digits after the point in `unit`."""
        step = Fraction(UNITS[unit], 10**digits)
        return Bracket(floor(self.low / step) * step, self.best, ceil(self.high / step) * step)

    def inward(self, unit: str, digits: int) -> Bracket:
        """The widest bracket within it whose ends have at most so many digits; itself where there is none."""
        step = Fraction(UNITS[unit], 10**digits)
        low, high = ceil(self.low / step) * step, floor(self.high / step) * step
        return Bracket(low, self.best, high) if low <= self.best <= high else self


def beyond(low: _Exact, high: _Exact, least: _Exact | int | None, most: _Exact | int | None) -> _Exact:
    """By how much a range stands out of limits (None: no such limit), both ends together; of many at once too."""
    below, above = ends_beyond(low, high, least, most)
    return below + above


def ends_beyond(
    low: _Exact, high: _Exact, least: _Exact | int | None, most: _Exact | int | None
) -> tuple[_Exact, _Exact]:
    """By how much a range stands out of limits below and above."""
    below = low - low if least is None else least - low
    above = high - high if most is None else high - most
    # times 1 or 0, so that it holds for arrays as it stands
    return below * (below > 0), above * (above > 0)


def parse_number(text: str) -> Fraction:
    """A plain decimal number or a fraction such as `5/64` or `1 5/64`, exact. Raises LengthError."""
    text = text.strip()
    if len(text) > _LONGEST_TEXT:
        raise LengthError("a number is written in at most 80 characters", "shorten it")
    if "," in text:
        raise LengthError("a comma in a number is ambiguous", "write the number with a point and no separators")
    if _NUMBER.fullmatch(text):
        return _exact(Decimal(text))
    parts = _FRACTION.fullmatch(text)
    if parts is None or int(parts[4]) == 0:
        raise LengthError("this is not a number", "write it like 0.35 or 5/64")
    value = int(parts[2] or 0) + Fraction(int(parts[3]), int(parts[4]))
    return -value if parts[1] == "-" else value


def _exact(number: Decimal) -> Fraction:
    """A decimal as a fraction; refuses what is not finite or absurdly large before any big integer is made."""
    if not number.is_finite():
        raise LengthError("a number must be finite", "write an ordinary number")
    if number and not -40 <= number.adjusted() <= 20:
        raise LengthError("this number is out of all range", "check the digits and the unit")
    return Fraction(number)


def to_nm(number: Fraction, unit: str) -> int:
    """A number of units as whole nanometres; what is finer is rounded half to even. Raises LengthError."""
    one = _nm_per(unit)
    if one > _LARGEST_NM:
        raise LengthError("this unit is too long for anything in a machine", "use mm, um, in or thou")
    nm = round(number * one)
    if abs(nm) > _LARGEST_NM:
        remedy = "check the digits and the unit (mm, um, in or thou)"
        raise LengthError("a length in a machine is at most 10 m", remedy)
    return nm


def _nm_per(unit: str) -> Fraction:
    known = SPELLINGS.get(unit, unit)
    if known in UNITS:
        return Fraction(UNITS[known])
    return _nm_per_rare_unit(unit)


@cache
def _registry() -> pint.UnitRegistry[Decimal]:
    """Pint's units with exact decimals; built only when a rare unit asks for it, for it is slow to start."""
    import pint

    return pint.UnitRegistry(non_int_type=Decimal)


def _nm_per_rare_unit(unit: str) -> Fraction:
    """Nanometres in a unit that is none of the four."""
    remedy = "use mm, um, in or thou"
    if unit in {"mil", "mils"}:
        raise LengthError("`mil` means an angle to some and a thousandth of an inch to others", "write thou")
    if not re.fullmatch(r"[A-Za-zÅ]{1,20}", unit):
        raise LengthError("this unit is not known", remedy)
    import pint

    try:
        factor = _registry().Quantity(Decimal(1), unit).to("nanometer").magnitude
    except (pint.errors.PintError, InvalidOperation, AttributeError, TypeError, ValueError) as error:
        raise LengthError("this unit is not a known unit of length", remedy) from error
    return Fraction(factor)


def length_of(value: object, unit: str | None) -> int:
    """A length as a person writes it, in whole nanometres.

    Parameters: value, a bare number (in `unit`) or text that carries its own unit; unit, one of UNITS, or None where
    the job names none (then a bare number is refused). Raises LengthError.
    """
    if isinstance(value, bool) or not isinstance(value, int | Decimal | str):
        raise LengthError("a length is a number or a text with a unit", 'write it like 0.35 or "0.35 mm"')
    if isinstance(value, str):
        number, own_unit = _split(value)
        if own_unit is None:
            remedy = f'write it like "{value.strip()} {unit or "mm"}"'
            raise LengthError("a length written as text carries its own unit", remedy)
        return to_nm(number, own_unit)
    if unit is None:
        raise LengthError(NO_UNIT, "name the job's `unit`")
    if isinstance(value, int) and abs(value) > 10**12:
        raise LengthError("this number is out of all range", "check the digits and the unit")
    return to_nm(_exact(Decimal(value)), unit)


def not_negative(nm: int) -> int:
    """A length from 0 up, as it is. Raises LengthError."""
    if nm < 0:
        raise LengthError("this length is not negative", "write it without a sign")
    return nm


def _split(text: str) -> tuple[Fraction, str | None]:
    """Number and unit of a text such as `5/64 in`."""
    text = text.strip()
    if len(text) > _LONGEST_TEXT:
        raise LengthError("a length is written in at most 80 characters", "shorten it")
    found = _LENGTH.fullmatch(text.translate(_PLAIN_SIGNS))
    if found is None:
        raise LengthError("this is not a length", 'write it like "0.35 mm" or "17 thou"')
    return parse_number(found["number"]), found["unit"]


def unit_written(text: str) -> str | None:
    """Which of UNITS a length is written in; None where it names none of them."""
    found = _LENGTH.fullmatch(text.strip().translate(_PLAIN_SIGNS))
    unit = None if found is None else SPELLINGS.get(found["unit"], found["unit"])
    return unit if unit in UNITS else None


def toleranced(value: object, unit: str | None) -> Bracket:
    """A length with or without `± tolerance`; without it low, best and high are the same. Raises LengthError."""
    if isinstance(value, str):
        value = value.translate(_PLAIN_SIGNS)
    if not isinstance(value, str) or not _PLUS_MINUS.search(value):
        nm = length_of(value, unit)
        return Bracket.between(nm, nm)
    middle, *tolerances = (part.strip() for part in _PLUS_MINUS.split(value))
    if len(tolerances) != 1:
        raise LengthError("a length has one tolerance", 'write it like "0.35 mm ± 0.01 mm"')
    (number, number_unit), (half, half_unit) = _split(middle), _split(tolerances[0])
    number_unit, half_unit = number_unit or half_unit, half_unit or number_unit
    if number_unit is None or half_unit is None:
        raise LengthError("a length written as text carries its own unit", 'write it like "0.35 mm ± 0.01 mm"')
    if half < 0:
        raise LengthError("a tolerance is not negative", "write ± and a positive number")
    nm, half_nm = to_nm(number, number_unit), to_nm(half, half_unit)
    return Bracket.between(nm - half_nm, nm + half_nm)


@lru_cache(maxsize=1 << 16)
def spelled(nm: Fraction | int, unit: str, *, with_unit: bool = True) -> str:
    """A length as people read it in `unit`, with its unit; rounded for show at a tenth of a micrometre or so."""
    digits = _SHOWN_DIGITS[unit]
    value = Fraction(nm) / UNITS[unit]
    rounded = round(value, digits)
    if rounded == 0 and value != 0:
        # never show nothing where there is something
        least = Decimal(1).scaleb(-digits)
        return f"above -{least} {unit}" if value < 0 else f"under {least} {unit}"
    text = decimal_text(nm, unit, digits)
    if unit == "mm":
        whole, _, places = text.partition(".")
        text = f"{whole}.{places.ljust(2, '0')}"
    return f"{text} {unit}" if with_unit else text


def to_digits(nm: Fraction | int, unit: str, digits: int) -> str:
    """A number of units with exactly so many digits after the point, rounded half to even: for a column of lengths.

    >>> to_digits(17 * 25_400, "thou", 1)
    '17.0'
    """
    whole, _, places = decimal_text(nm, unit, digits).partition(".")
    return f"{whole}.{places.ljust(digits, '0')}" if digits else whole


def decimal_text(nm: Fraction | int, unit: str, digits: int = 9) -> str:
    """A length as files hold it: a plain decimal number of units, rounded half to even at `digits` places.

    >>> decimal_text(-350_000, "mm")
    '-0.35'
    """
    return as_decimal(Fraction(nm) / UNITS[unit], digits)


def as_decimal(number: Fraction | int, digits: int) -> str:
    """A plain decimal number, rounded half to even at `digits` places, without noughts at its end."""
    steps = round(Fraction(number) * 10**digits)
    whole, rest = divmod(abs(steps), 10**digits)
    text = f"{whole}.{rest:0{digits}d}".rstrip("0").rstrip(".") if digits else f"{whole}"
    return f"-{text}" if steps < 0 else text


def mm_number(nm: Fraction | int) -> float:
    """A length as the JSON number in mm: exact to the nanometre, rounded half to even at 1e-9 mm."""
    # thousandths of a nanometre, in whole numbers: a plan of many gaps holds millions of lengths
    thousandths, rest = divmod(nm.numerator * 1000, nm.denominator)
    if 2 * rest > nm.denominator or (2 * rest == nm.denominator and thousandths % 2):
        thousandths += 1
    return thousandths / 10**9


def as_typed(nm: Fraction, unit: str) -> Fraction:
    """The shortest number of units that is this length to the nanometre."""
    numbers = (round(nm / UNITS[unit], digits) for digits in range(10))
    return next((number for number in numbers if round(number * UNITS[unit]) == round(nm)), nm / UNITS[unit])


def finer_than(nm: Fraction, step: int) -> bool:
    """Whether a length has more digits than this step."""
    return (nm / step).denominator != 1


def other_units(nm: Fraction, typed_in: str | None) -> Iterator[tuple[Fraction, str]]:
    """What a length as typed would be in each other unit; a thousand times more and less where it had its own."""
    if typed_in is None:
        yield from ((nm * 1000, ""), (nm / 1000, ""))
        return
    yield from ((nm * UNITS[unit] / UNITS[typed_in], unit) for unit in UNITS if unit != typed_in)
