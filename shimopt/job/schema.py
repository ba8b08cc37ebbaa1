"""What job.toml may hold, table by table. Pydantic finds every error; `problems` turns them into sentences.

Lengths are read in the validation context's unit: `{"unit": "thou"}`, or None where the job names none.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field, StrictBool, ValidationInfo, model_validator

from shimopt.job.fields import (
    Count,
    Diameter,
    JobTable,
    Length,
    Limit,
    NotNegative,
    Reach,
    Text,
    at_least_two,
    each_once,
    known_level,
    one_or_more,
    unit_of,
    wrong,
)
from shimopt.job.place_schema import EffectTable, PlaceTable, effect_value, equal_lists, some_effect
from shimopt.lengths import spelled
from shimopt.readings import Reading, ReadingError, feeler_reading, value_reading
from shimopt.readings.feeler import Spot

__all__ = ["BalanceTable", "FeelerTable", "GapTable", "JobFile", "SeatTable", "StacksTable", "WindowTable"]


class WindowTable(JobTable):
    """`[window]`, or `window = { ... }` of a gap."""

    min: Limit
    max: Limit
    source: Text
    target: Length | None = None

    @model_validator(mode="after")
    def _in_order(self, info: ValidationInfo) -> WindowTable:
        unit = unit_of(info) or "mm"
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


class StacksTable(JobTable):
    """`[stacks]`."""

    most_pieces: Count = 3


class SeatTable(JobTable):
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


class FeelerTable(JobTable):
    """One spot of a feeler reading."""

    go: Length | None = None
    no_go: Length | None = None
    snug: Length | None = None
    step: Length | None = None

    @model_validator(mode="after")
    def _can_be_read(self) -> FeelerTable:
        _feeler([self])
        return self


class GapTable(JobTable):
    """One `[[gap]]`."""

    name: Text
    seat: Text | None = None
    value: Reach | None = None
    feeler: Annotated[list[FeelerTable], BeforeValidator(one_or_more)] | None = None
    window: WindowTable | None = None
    effects: Annotated[
        dict[str, Annotated[EffectTable, BeforeValidator(effect_value)]] | None, AfterValidator(some_effect)
    ] = None

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


class BalanceTable(JobTable):
    """One `[[balance]]`."""

    name: Text
    gaps: Annotated[list[Text], AfterValidator(each_once), AfterValidator(at_least_two)]
    within: NotNegative | None = None
    offset: dict[str, Length] = Field(default_factory=dict)


class JobFile(JobTable):
    """All of job.toml."""

    title: Text = "untitled job"
    unit: Literal["mm", "um", "in", "thou"]
    drawer: Text | None = None
    catalogues: list[Text] = Field(default_factory=list)
    gaps: Text | None = None
    balance_within: NotNegative | None = None
    priority: Annotated[list[Annotated[str, BeforeValidator(known_level)]], AfterValidator(each_once)] = Field(
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
    place: list[PlaceTable] = Field(default_factory=list)
    equal: Annotated[list[list[Text]], BeforeValidator(equal_lists)] = Field(default_factory=list)
    gap: list[GapTable] = Field(default_factory=list)
    balance: list[BalanceTable] = Field(default_factory=list)


def is_bare(value: object) -> bool:
    """Whether a raw TOML value (or any blade in it) is a bare number rather than a text with its own unit."""
    if isinstance(value, dict):
        return any(is_bare(item) for item in value.values())
    if isinstance(value, list):
        return any(is_bare(item) for item in value)
    return isinstance(value, int | Decimal)
