"""The kinds of value that job.toml may hold: lengths, diameters, counts, texts. Each says what is wrong in our words.

Lengths are read in the validation context's unit: `{"unit": "thou"}`, or None where the job names none.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationInfo
from pydantic_core import PydanticCustomError

from shimopt.errors import nearest_name
from shimopt.job.levels import Level
from shimopt.lengths import Bracket, LengthError, length_of, toleranced

__all__ = [
    "Count",
    "Diameter",
    "JobTable",
    "Length",
    "Limit",
    "NotNegative",
    "PositiveLength",
    "Reach",
    "Text",
    "at_least_two",
    "diameter_of",
    "each_once",
    "known_level",
    "length_in",
    "one_or_more",
    "unit_of",
    "wrong",
]


_Name = TypeVar("_Name", bound=str)


def wrong(rule: str, remedy: str) -> PydanticCustomError:
    """An error that carries our own words."""
    return PydanticCustomError("wrong", "{rule}. {remedy}", {"rule": rule, "remedy": remedy})


def unit_of(info: ValidationInfo) -> str | None:
    """The unit of bare numbers."""
    unit: str | None = (info.context or {})["unit"]
    return unit


def length_in(value: Any, info: ValidationInfo) -> int:
    """A length in the unit of the job, or with its own [nm]."""
    try:
        return length_of(value, unit_of(info))
    except LengthError as error:
        raise wrong(error.rule, error.remedy) from None


def _positive(value: Any, info: ValidationInfo) -> int:
    nm = length_in(value, info)
    if nm <= 0:
        raise wrong("this length is above zero", "measure it again")
    return nm


def _not_negative(value: Any, info: ValidationInfo) -> int:
    nm = length_in(value, info)
    if nm < 0:
        raise wrong("this length is not negative", "write it without a sign")
    return nm


def _limit(value: Any, info: ValidationInfo) -> int | str:
    return "none" if value == "none" else length_in(value, info)


def _bracket(value: Any, info: ValidationInfo) -> Bracket:
    try:
        return toleranced(value, unit_of(info))
    except LengthError as error:
        raise wrong(error.rule, error.remedy) from None


def diameter_of(value: Any, info: ValidationInfo) -> Bracket:
    """A diameter with or without its tolerance."""
    bracket = _bracket(value, info)
    if bracket.low <= 0:
        raise wrong("a diameter is above zero", "measure it again")
    return bracket


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise wrong("this is a text that is not empty", 'write it in quotes: "..."')
    if len(value) > 2000:
        raise wrong("a text has at most 2,000 characters", "shorten it")
    return value


def one_or_more(value: Any) -> Any:
    """One table, or a list of them, as a list."""
    return value if isinstance(value, list) else [value]


def known_level(value: Any) -> Level:
    """A level by its name."""
    try:
        return Level(value)
    except ValueError:
        meant = nearest_name(value, Level) if isinstance(value, str) else None
        remedy = f"did you mean {meant}?" if meant else f"levels are {', '.join(Level)}"
        raise wrong("there is no such level", remedy) from None


def each_once(values: list[_Name]) -> list[_Name]:
    """A list in which no name stands twice."""
    if len(set(values)) < len(values):
        raise wrong("a name stands twice in this list", "name each once")
    return values


def at_least_two(values: list[str]) -> list[str]:
    """A list of two names or more."""
    if len(values) < 2:
        raise wrong("a balance compares at least two gaps", "add a gap, or take the balance out")
    return values


def _count(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 50:
        raise wrong("a number of pieces is a whole number from 1 to 50", "write it like 3")
    return value


Length = Annotated[int, BeforeValidator(length_in)]
PositiveLength = Annotated[int, BeforeValidator(_positive)]
NotNegative = Annotated[int, BeforeValidator(_not_negative)]
Limit = Annotated[int | Literal["none"], BeforeValidator(_limit)]
Reach = Annotated[Bracket, BeforeValidator(_bracket)]
Diameter = Annotated[Bracket, BeforeValidator(diameter_of)]
Text = Annotated[str, BeforeValidator(_text)]
Count = Annotated[int, BeforeValidator(_count)]


class JobTable(BaseModel):
    """A table of the job file: no key that is not known."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)
