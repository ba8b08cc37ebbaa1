"""What a bench says of one gap: blades, a value, or what a dial showed, as text; and how a job's file writes it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass, replace
from decimal import Decimal
from typing import Any

from shimopt.errors import InputError

_LONGEST, _MOST_PULLS = 80, 50
_PLAIN = re.compile(r"-?\d{1,9}(\.\d{1,9})?", re.ASCII)
# a decimal comma, as some pads of digits have it: 0,23 and 9,5, not 1,234, which may be a count of thousands
_COMMA = re.compile(r"(?<![\d.,])(0,\d+|\d+,\d{1,2})(?![\d.,])", re.ASCII)
_BLADES = ("go", "no_go", "snug", "step")
_HOW = "give go and no_go, no_go alone, snug and step, a value, what a dial showed, or every dimension"
_LETTER, _SIDE = re.compile(r"[^\W\d_]"), re.compile("(?:play|preload) ", re.IGNORECASE)
_DIMENSION = re.compile(r"dimension\.([1-9][0-9]?)", re.ASCII)


@dataclass(frozen=True, slots=True)
class Said:
    """One reading as it was typed: `go`, `no_go`, `snug`, `step`; `value`; `readings` of a dial; or `dimensions`.

    `spot` counts from 1 where a gap is read at several spots; `checked`: somebody looked again.
    """

    blades: tuple[tuple[str, str], ...] = ()
    value: str = ""
    readings: tuple[str, ...] = ()
    _: KW_ONLY
    dimensions: tuple[str, ...] = ()
    spot: int = 0
    checked: bool = False

    def to_dict(self) -> dict[str, Any]:
        """The same as data, only what was said."""
        told: dict[str, Any] = dict(self.blades)
        told |= {"value": self.value} if self.value else {}
        told |= {"readings": list(self.readings)} if self.readings else {}
        told |= {"dimensions": list(self.dimensions)} if self.dimensions else {}
        told |= {"spot": self.spot} if self.spot else {}
        return told | ({"checked": True} if self.checked else {})

    def in_unit(self, unit: str, stood: str = "") -> Said:
        """The same, a value that was typed with ± and without a unit in this one.

        Parameter: stood, the value that it is typed over; over one with a unit of its own, this one is always named.
        """
        length = _SIDE.sub("", self.value)
        bare = length and not _LETTER.search(length) and (_LETTER.search(stood) or not _PLAIN.fullmatch(length))
        return replace(self, value=f"{self.value} {unit}") if bare else self

    def was_typed_as(self, typed: Said) -> bool:
        """Whether this is what was typed, but for a unit that it was given."""
        named = typed.value and _LETTER.match(self.value.removeprefix(typed.value).lstrip())
        return self.to_dict() == (replace(typed, value=self.value) if named else typed).to_dict()

    def same_reading(self, other: Said) -> bool:
        """Whether another says the same of the gap."""
        return self.to_dict() | {"checked": True} == other.to_dict() | {"checked": True}


def said_in(fields: Mapping[str, Any]) -> Said:
    """The reading in a form's fields. Raises InputError where there is none, or two."""
    blades = tuple((key, text) for key in _BLADES if (text := _text(fields, key)))
    value, readings, dimensions = _text(fields, "value"), _pulls(fields.get("readings")), _dimensions(fields)
    given = [bool(blades), bool(value), bool(readings), bool(dimensions)]
    if sum(given) != 1 or (blades and {key for key, _ in blades} == {"go"}):
        told = ", ".join(key for key in (*_BLADES, "value", "readings") if fields.get(key))
        raise InputError.at("", "one reading of one kind is taken at a time", _HOW, where="reading", value=told)
    spot = _text(fields, "spot")
    if spot and not (spot.isascii() and spot.isdigit() and 0 < int(spot) <= _MOST_PULLS):
        raise InputError.at("", "a spot is told by its number", "count from 1", where="spot", value=spot)
    checked = str(fields.get("checked") or "").lower() in ("1", "true", "yes", "on")
    return Said(blades, value, readings, dimensions=dimensions, spot=int(spot or 0), checked=checked)


def said_of(told: Mapping[str, Any]) -> Said:
    """The reading that `to_dict` told."""
    return said_in(told)


def _text(fields: Mapping[str, Any], key: str) -> str:
    text = " ".join(str(fields.get(key, "")).split()) if isinstance(fields.get(key, ""), str | int | float) else "?"
    if len(text) > _LONGEST:
        raise InputError.at("", f"a reading has at most {_LONGEST} characters", "shorten it", where=key, value=text)
    return _COMMA.sub(lambda found: found[0].replace(",", "."), text)


def _pulls(given: Any) -> tuple[str, ...]:
    texts = given if isinstance(given, list) else re.split(r"[;\n]|,\s|\s+(?=-?\d)", str(given or ""))
    pulls = tuple(filter(None, (_text({"": text}, "") for text in texts)))
    if len(pulls) > _MOST_PULLS:
        rule = f"at most {_MOST_PULLS} pulls are typed at the bench"
        raise InputError.at("", rule, "leave some out", where="readings", value=f"{len(pulls)}")
    return pulls


def _dimensions(fields: Mapping[str, Any]) -> tuple[str, ...]:
    """The lengths of dimensions, in order: a list of them, or the fields `dimension.1` and on."""
    given = fields.get("dimensions")
    if isinstance(given, list) and len(given) <= _MOST_PULLS:
        return tuple(_text({"": text}, "") for text in given)
    numbers = [int(found[1]) for key in fields if (found := _DIMENSION.fullmatch(key))]
    return tuple(_text(fields, f"dimension.{number}") for number in range(1, max(numbers, default=0) + 1))


def as_value(text: str) -> int | Decimal | str:
    """A text as a job's file holds it: a bare number as a number, anything else as text."""
    if not _PLAIN.fullmatch(text):
        return text
    return Decimal(text) if "." in text else int(text)
