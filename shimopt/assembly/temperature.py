"""Temperatures: text with a unit -> kelvin, exact."""

from __future__ import annotations

import re
from fractions import Fraction

__all__ = ["TemperatureError", "kelvin"]

_TEMPERATURE = re.compile(r"(?P<number>[+-]?\d{1,6}(?:\.\d{1,9})?)\s*(?P<unit>[^\d\s].*)?", re.ASCII | re.DOTALL)
_CELSIUS = {"degc", "°c", "℃", "c", "deg c", "° c"}
_FAHRENHEIT = {"degf", "°f", "℉", "f", "deg f", "° f"}
# absolute zero by definition of the scales (SI Brochure, 9th edition, 2.3.1)
_ZERO_CELSIUS = Fraction("273.15")
_HOTTEST = 2000


class TemperatureError(ValueError):
    """A text that is no temperature; `rule` and `remedy` as in a problem."""

    def __init__(self, rule: str, remedy: str) -> None:
        self.rule, self.remedy = rule, remedy
        super().__init__(f"{rule}. {remedy}")


def kelvin(text: str) -> Fraction:
    """A temperature such as `80 degC`, `176 degF` or `353.15 K` in kelvin. Raises TemperatureError."""
    found = _TEMPERATURE.fullmatch(text.strip().replace("−", "-"))
    unit = (found["unit"] or "").strip().casefold() if found else ""
    if found is None or not (unit in _CELSIUS or unit in _FAHRENHEIT or unit in {"k", "kelvin"}):
        raise TemperatureError("a temperature carries its unit", 'write it like "80 degC", "176 degF" or "353 K"')
    number = Fraction(found["number"])
    if unit in _CELSIUS:
        number += _ZERO_CELSIUS
    elif unit in _FAHRENHEIT:
        number = (number - 32) * 5 / 9 + _ZERO_CELSIUS
    if number < 0:
        raise TemperatureError("nothing is colder than absolute zero (-273.15 degC)", "check the number and its unit")
    if number > _HOTTEST:
        raise TemperatureError("no machine runs at over 2,000 K", "check the number and its unit")
    return number
