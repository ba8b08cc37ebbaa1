"""How a clearance grows when a machine gets hot: the housing grows away from what stands in it.

growth = (sum of alpha L over the housing - sum of alpha L over the shaft and what sits on it) × (hot - cold)

Linear expansion, all parts at the same temperature. Lengths are those at the cold temperature (ISO 1: 20 degC).
Source of the coefficients: Callister, Materials Science and Engineering, appendix B, table B.6 [1e-6 per kelvin],
values for a named alloy near room temperature; a maker's own figure is better.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from shimopt.errors import RefusedError

SOURCE = "Callister, table B.6"
_MILLIONTHS = {
    "steel A36": "11.7",
    "steel 1020": "11.7",
    "steel 1040": "11.3",
    "steel 4140": "12.3",
    "steel 4340": "12.3",
    "stainless steel 304": "17.2",
    "stainless steel 316": "15.9",
    "stainless steel 440A": "10.2",
    "grey iron G1800": "11.4",
    "grey iron G3000": "11.4",
    "grey iron G4000": "11.4",
    "ductile iron 60-40-18": "11.2",
    "ductile iron 80-55-06": "10.6",
    "aluminium 1100": "23.6",
    "aluminium 2024": "22.9",
    "aluminium 6061": "23.6",
    "aluminium 7075": "23.4",
    "aluminium 356.0": "21.5",
    "copper C11000": "17.0",
    "brass C26000": "19.9",
    "brass C36000": "20.5",
    "bronze C93200": "18.0",
    "magnesium AZ31B": "26.0",
    "magnesium AZ91D": "26.0",
}
_TEMPERATURE = re.compile(r"(?P<number>[+-]?\d{1,6}(?:\.\d{1,9})?)\s*(?P<unit>[^\d\s].*)?", re.ASCII | re.DOTALL)
_CELSIUS = {"degc", "°c", "℃", "c", "deg c", "° c"}
_FAHRENHEIT = {"degf", "°f", "℉", "f", "deg f", "° f"}
# absolute zero by definition of the scales (SI Brochure, 9th edition, 2.3.1)
_ZERO_CELSIUS = Fraction("273.15")
_HOTTEST = 2000


@dataclass(frozen=True, slots=True)
class Length:
    """A part that expands: `material` as it was named, `coefficient` [per kelvin], `length` [nm]."""

    material: str
    coefficient: Fraction
    length: int
    source: str


def growth(housing: Sequence[Length], shaft: Sequence[Length], cold: Fraction, hot: Fraction) -> int:
    """By how much a clearance grows from `cold` to `hot` [K], rounded to whole nanometres; negative where it shrinks.

    >>> aluminium, steel = Fraction("21.5e-6"), Fraction("11.3e-6")
    >>> housing, shaft = Length("", aluminium, 120_000_000, ""), Length("", steel, 120_000_000, "")
    >>> growth([housing], [shaft], Fraction(293), Fraction(353))
    73440
    """
    per_kelvin = sum((part.coefficient * part.length for part in housing), Fraction(0))
    per_kelvin -= sum((part.coefficient * part.length for part in shaft), Fraction(0))
    return round(per_kelvin * (hot - cold))


def coefficients() -> Mapping[str, Fraction]:
    """Coefficients by material [per kelvin]."""
    return {name: Fraction(number) / 10**6 for name, number in _MILLIONTHS.items()}


def named(material: str) -> str | None:
    """The table's name for a material, however it is spelled; None where it is not in the table."""
    folded = {_folded(name): name for name in _MILLIONTHS}
    return folded.get(_folded(material))


def _folded(name: str) -> str:
    words = name.casefold().replace("aluminum", "aluminium").replace("gray", "grey")
    words = words.replace("stainless steel", "stainless")
    return " ".join(word for word in words.replace(",", " ").split() if word not in ("casting", "cast"))


def kelvin(text: str) -> Fraction:
    """A temperature such as `80 degC`, `176 degF` or `353.15 K` in kelvin. Raises RefusedError."""
    found = _TEMPERATURE.fullmatch(text.strip().replace("−", "-"))
    unit = (found["unit"] or "").strip().casefold() if found else ""
    if found is None or not (unit in _CELSIUS or unit in _FAHRENHEIT or unit in {"k", "kelvin"}):
        raise RefusedError("a temperature carries its unit", 'write it like "80 degC", "176 degF" or "353 K"')
    number = Fraction(found["number"])
    if unit in _CELSIUS:
        number += _ZERO_CELSIUS
    elif unit in _FAHRENHEIT:
        number = (number - 32) * 5 / 9 + _ZERO_CELSIUS
    if number < 0:
        raise RefusedError("nothing is colder than absolute zero (-273.15 degC)", "check the number and its unit")
    if number > _HOTTEST:
        raise RefusedError("no machine runs at over 2,000 K", "check the number and its unit")
    return number
