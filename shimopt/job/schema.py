"""What job.toml may hold, table by table. Pydantic finds every error; `problems` turns them into sentences.

Lengths are read in the validation context's unit: `{"unit": "thou"}`, or None where the job names none.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StrictBool,
    ValidationInfo,
    model_validator,
)
from pydantic_core import PydanticCustomError

from shimopt.errors import nearest_name
from shimopt.job.model import LEVELS
from shimopt.job.record_schema import RecordTable
from shimopt.lengths import Bracket, LengthError, length_of, spelled, toleranced
from shimopt.readings import Reading, ReadingError, feeler_reading, value_reading
from shimopt.readings.feeler import Spot

__all__ = ["BalanceTable", "FeelerTable", "GapTable", "JobFile", "SeatTable", "StacksTable", "WindowTable", "wrong"]


def wrong(rule: str, remedy: str) -> PydanticCustomError:
    """An error that carries our own words."""
    return PydanticCustomError("wrong", "{rule}. {remedy}", {"rule": rule, "remedy": remedy})


def _unit(info: ValidationInfo) -> str | None:
    unit: str | None = (info.context or {})["unit"]
    return unit


def _length(value: Any, info: ValidationInfo) -> int:
    try:
        return length_of(value, _unit(info))
    except LengthError as error:
        raise wrong(error.rule, error.remedy) from None


def _positive(value: Any, info: ValidationInfo) -> int:
    nm = _length(value, info)
    if nm <= 0:
        raise wrong("this length is above zero", "measure it again")
    return nm


def _not_negative(value: Any, info: ValidationInfo) -> int:
    nm = _length(value, info)
    if nm < 0:
        raise wrong("this length is not negative", "write it without a sign")
    return nm


def _limit(value: Any, info: ValidationInfo) -> int | str:
    return "none" if value == "none" else _length(value, info)


def _bracket(value: Any, info: ValidationInfo) -> Bracket:
    try:
        return toleranced(value, _unit(info))
    except LengthError as error:
        raise wrong(error.rule, error.remedy) from None


def _diameter(value: Any, info: ValidationInfo) -> Bracket:
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


def _one_or_more(value: Any) -> Any:
    return value if isinstance(value, list) else [value]


def _level(value: Any) -> str:
    if value not in LEVELS:
        meant = nearest_name(value, LEVELS) if isinstance(value, str) else None
        raise wrong("there is no such level", f"did you mean {meant}?" if meant else f"levels are {', '.join(LEVELS)}")
    return str(value)


def _each_once(values: list[str]) -> list[str]:
    if len(set(values)) < len(values):
        raise wrong("a name stands twice in this list", "name each once")
    return values


def _at_least_two(values: list[str]) -> list[str]:
    if len(values) < 2:
        raise wrong("a balance compares at least two gaps", "add a gap, or take the balance out")
    return values


def _count(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 50:
        raise wrong("a number of pieces is a whole number from 1 to 50", "write it like 3")
    return value


Length = Annotated[int, BeforeValidator(_length)]
PositiveLength = Annotated[int, BeforeValidator(_positive)]
NotNegative = Annotated[int, BeforeValidator(_not_negative)]
Limit = Annotated[int | Literal["none"], BeforeValidator(_limit)]
Reach = Annotated[Bracket, BeforeValidator(_bracket)]
Diameter = Annotated[Bracket, BeforeValidator(_diameter)]
Text = Annotated[str, BeforeValidator(_text)]
Count = Annotated[int, BeforeValidator(_count)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


class WindowTable(_Table):
    """`[window]`, or `window = { ... }` of a gap."""

    min: Limit
    max: Limit
    source: Text
    target: Length | None = None

    @model_validator(mode="after")
    def _in_order(self, info: ValidationInfo) -> WindowTable:
        unit = _unit(info) or "mm"
        low, high = (None if limit == "none" else limit for limit in (self.min, self.max))
        if low is None and high is None:
            raise wrong("a window with neither min nor max allows everything", "state at least one of them")
        if low is not None and high is not None and low > high:
            raise wrong(f"min {spelled(low, unit)} is above max {spelled(high, unit)}", "swap them")
        beyond = self.target is not None and (
            (low is not None and self.target < low) or (high is not None and self.target > high)
        )
        if beyond:
            raise wrong("the target lies outside min and max", "aim inside the window")
        return self


class StacksTable(_Table):
    """`[stacks]`."""

    most_pieces: Count = 3


class SeatTable(_Table):
    """One `[[seat]]`."""

    name: Text
    shaft: Diameter | None = None
    bore_play: NotNegative | None = None
    most_pieces: Count | None = None
    shims_allowed: StrictBool = True
    why: Text | None = None

    @model_validator(mode="after")
    def _says_why(self) -> SeatTable:
        if not self.shims_allowed and self.why is None:
            raise wrong("a seat that takes no shims says why", 'add why = "..."')
        return self


class FeelerTable(_Table):
    """One spot of a feeler reading."""

    go: Length | None = None
    no_go: Length | None = None
    snug: Length | None = None
    step: Length | None = None

    @model_validator(mode="after")
    def _can_be_read(self) -> FeelerTable:
        _feeler([self])
        return self


class GapTable(_Table):
    """One `[[gap]]`."""

    name: Text
    seat: Text | None = None
    value: Reach | None = None
    feeler: Annotated[list[FeelerTable], BeforeValidator(_one_or_more)] | None = None
    window: WindowTable | None = None

    def reading(self) -> Reading:
        """The gap's reading. Raises PydanticCustomError where there is not exactly one, or it cannot be."""
        if (self.value is None) == (self.feeler is None):
            raise wrong("a gap has exactly one reading", "give it `value` or `feeler`, and not both")
        if self.value is not None:
            return value_reading(self.value)
        return _feeler(self.feeler or [])

    @model_validator(mode="after")
    def _can_be_read(self) -> GapTable:
        self.reading()
        return self


def _feeler(spots: list[FeelerTable]) -> Reading:
    try:
        return feeler_reading([Spot(s.go, s.no_go, s.snug, s.step) for s in spots])
    except ReadingError as error:
        raise wrong(error.rule, error.remedy) from None


class BalanceTable(_Table):
    """One `[[balance]]`."""

    name: Text
    gaps: Annotated[list[Text], AfterValidator(_each_once), AfterValidator(_at_least_two)]
    within: NotNegative | None = None
    offset: dict[str, Length] = Field(default_factory=dict)


class JobFile(_Table):
    """All of job.toml."""

    title: Text = "untitled job"
    unit: Literal["mm", "um", "in", "thou"]
    drawer: Text | None = None
    catalogues: list[Text] = Field(default_factory=list)
    gaps: Text | None = None
    balance_within: NotNegative | None = None
    priority: Annotated[list[Annotated[str, BeforeValidator(_level)]], AfterValidator(_each_once)] = Field(
        default_factory=list
    )
    customer: Text | None = None
    machine: Text | None = None
    owner: Text | None = None
    shop: Text | None = None
    notes: Text | None = None
    window: WindowTable | None = None
    stacks: StacksTable = StacksTable()
    seat: list[SeatTable] = Field(default_factory=list)
    gap: list[GapTable] = Field(default_factory=list)
    balance: list[BalanceTable] = Field(default_factory=list)
    record: list[RecordTable] = Field(default_factory=list)


def is_bare(value: object) -> bool:
    """Whether a raw TOML value (or any blade in it) is a bare number rather than a text with its own unit."""
    if isinstance(value, dict):
        return any(is_bare(item) for item in value.values())
    if isinstance(value, list):
        return any(is_bare(item) for item in value)
    return isinstance(value, int | Decimal)
