"""The kinds of value that the tables of a job hold: lengths, diameters, numbers, texts, each with the rule it breaks.

A validator raises RefusedError, and pydantic collects it with the field's path. Bare lengths are in the unit of the
validation context: `{"unit": "thou"}`, or None where the job names none.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationInfo

from shimopt.errors import RefusedError, did_you_mean
from shimopt.lengths import Bracket, length_of, not_negative, toleranced

_LONGEST_TEXT = 2000
_Name = TypeVar("_Name", bound=str)


class JobTable(BaseModel):
    """A table of a job: no key that is not known."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True, defer_build=True)


def unit_of(info: ValidationInfo) -> str | None:
    """The unit of bare numbers."""
    unit: str | None = (info.context or {})["unit"]
    return unit


def length_in(value: Any, info: ValidationInfo) -> int:
    """A length in the unit of the job, or with its own [nm]."""
    return length_of(value, unit_of(info))


def _positive(value: Any, info: ValidationInfo) -> int:
    nm = length_in(value, info)
    if nm <= 0:
        raise RefusedError("this length is above zero", "measure it again")
    return nm


def _not_negative(value: Any, info: ValidationInfo) -> int:
    return not_negative(length_in(value, info))


# more than any reading or case is off; a thousand times it, typed in another unit, is a slip
_MOST_OFF = 25_400_000


def _plus_minus(value: Any, info: ValidationInfo) -> int:
    """How far something may be off, with or without ± before it."""
    if isinstance(value, str):
        value = re.sub(r"^\s*(±|\+/-|\+-)", "", value)
    nm = length_in(value, info)
    if nm < 0:
        raise RefusedError(
            "this is how far it may be off either way, so it is not negative", 'write it like "±0.01 mm"'
        )
    if nm > _MOST_OFF:
        rule = "this is how far it may be off either way, and no shim answers for more than 25.4 mm (1 in)"
        raise RefusedError(rule, 'was another unit meant? Write it like "±0.01 mm"')
    return nm


def _limit(value: Any, info: ValidationInfo) -> int | str:
    return "none" if value == "none" else length_in(value, info)


def _bracket(value: Any, info: ValidationInfo) -> Bracket:
    return toleranced(value, unit_of(info))


def diameter_of(value: Any, info: ValidationInfo) -> Bracket:
    """A diameter with or without its tolerance."""
    bracket = _bracket(value, info)
    if bracket.low <= 0:
        raise RefusedError("a diameter is above zero", "measure it again")
    return bracket


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise RefusedError("this is a text that is not empty", 'write it in quotes: "..."')
    if len(value) > _LONGEST_TEXT:
        raise RefusedError(f"a text has at most {_LONGEST_TEXT:,} characters", "shorten it")
    return value


def _source(value: Any) -> str:
    text = _text(value)
    if not text.strip("? "):
        raise RefusedError(
            "a source says who states these figures",
            "name a manual and page, a drawing, a letter, or whose estimate it is",
        )
    return text


def plain_number(value: Any) -> Decimal | None:
    """An ordinary finite number; None for everything else, true and false included."""
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        return None
    number = Decimal(value)
    return number if number.is_finite() else None


def whole_number(least: int, most: int, what: str, remedy: str = "write it like 3") -> BeforeValidator:
    """A whole number from `least` to `most`; `what` is the beginning of its rule."""

    def read(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            raise RefusedError(f"{what} is a whole number from {least} to {most}", remedy)
        return value

    return BeforeValidator(read)


def one_of(value: Any, known: tuple[str, ...], what: str) -> str:
    """One of a few words. Raises RefusedError, with the word that was probably meant."""
    if value not in known:
        remedy = did_you_mean(value, known, "write one of these")
        raise RefusedError(f"{what} is one of {', '.join(known)}", remedy)
    return str(value)


def is_bare(value: object) -> bool:
    """Whether a value as it was written (or any in it) is a bare number, rather than a text with its own unit."""
    if isinstance(value, dict):
        return any(is_bare(item) for item in value.values())
    if isinstance(value, list):
        return any(is_bare(item) for item in value)
    return isinstance(value, int | Decimal) and not isinstance(value, bool)


def one_or_more(value: Any) -> Any:
    """One table, or a list of them, as a list."""
    return value if isinstance(value, list) else [value]


def each_once(values: list[_Name]) -> list[_Name]:
    """A list in which no name stands twice."""
    if len(set(values)) < len(values):
        raise RefusedError("a name stands twice in this list", "name each once")
    return values


Length = Annotated[int, BeforeValidator(length_in)]
PositiveLength = Annotated[int, BeforeValidator(_positive)]
NotNegative = Annotated[int, BeforeValidator(_not_negative)]
PlusMinus = Annotated[int, BeforeValidator(_plus_minus)]
Limit = Annotated[int | Literal["none"], BeforeValidator(_limit)]
Reach = Annotated[Bracket, BeforeValidator(_bracket)]
Text = Annotated[str, BeforeValidator(_text)]
OneOrMoreTexts = Annotated[list[Text], BeforeValidator(one_or_more)]
SourceText = Annotated[str, BeforeValidator(_source)]
Count = Annotated[int, whole_number(1, 50, "a number of pieces")]
