"""What job.toml may hold, table by table. Pydantic finds every error; `problems` turns them into sentences.

Lengths are read in the validation context's unit: `{"unit": "thou"}`, or None where the job names none.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from shimopt.job.assembly_schema import HeatTable, StateTable, TighteningTable
from shimopt.job.fields import (
    Count,
    JobTable,
    Length,
    NotNegative,
    Reach,
    Text,
    at_least_two,
    each_once,
    known_level,
    one_or_more,
    wrong,
)
from shimopt.job.levels import Level
from shimopt.job.place_schema import EffectTable, PlaceTable, effect_value, equal_lists, some_effect
from shimopt.job.reading_schema import (
    CoverTable,
    Decided,
    DimensionTable,
    FeelerTable,
    IndicatorTable,
    MicrometerField,
    PlusMinus,
    Shape,
    built_up,
    cover,
    feeler,
)
from shimopt.job.record_schema import RecordTable
from shimopt.job.seat_schema import SeatTable
from shimopt.job.supplier_schema import SupplierTable
from shimopt.job.window_schema import WindowTable
from shimopt.readings import Basis, Reading, value_reading

__all__ = ["READINGS", "BalanceTable", "GapTable", "JobFile", "SeatTable", "StacksTable"]

# the forms in which a gap can be read
READINGS = ("value", "feeler", "indicator", "built_up", "cover_gap")


class StacksTable(JobTable):
    """`[stacks]`."""

    most_pieces: Count = 3


class GapTable(JobTable):
    """One `[[gap]]`."""

    name: Text
    seat: Text | None = None
    value: Reach | None = None
    feeler: Annotated[list[FeelerTable], BeforeValidator(one_or_more)] | None = None
    indicator: IndicatorTable | None = None
    built_up: list[DimensionTable] | None = None
    cover_gap: Annotated[list[CoverTable], BeforeValidator(one_or_more)] | None = None
    shape: Shape | None = None
    shift: PlusMinus | None = None
    final_reading: PlusMinus | None = None
    decision: Decided | None = None
    window: WindowTable | None = None
    heat: HeatTable | None = None
    state: StateTable | None = None
    effects: Annotated[
        dict[str, Annotated[EffectTable, BeforeValidator(effect_value)]] | None, AfterValidator(some_effect)
    ] = None

    def reading(self, basis: Basis = "95 %") -> Reading:
        """The gap's reading. Raises PydanticCustomError where there is not exactly one, or it cannot be."""
        given = [key for key in READINGS if getattr(self, key) is not None]
        if len(given) != 1:
            raise wrong("a gap has exactly one reading", f"give it one of {', '.join(READINGS)}")
        if self.shape is not None and given[0] not in ("value", "built_up"):
            raise wrong("`shape` says how a stated ± is spread", "it belongs to value or built_up: take it out")
        shape = self.shape or "rectangular"
        if self.value is not None:
            return value_reading(self.value, shape, basis)
        if self.indicator is not None:
            return self.indicator.reading(basis)
        if self.built_up is not None:
            return built_up(self.built_up, shape, basis)
        return cover(self.cover_gap) if self.cover_gap is not None else feeler(self.feeler or [])

    @model_validator(mode="after")
    def _can_be_read(self) -> GapTable:
        self.reading()
        return self


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
    priority: Annotated[list[Annotated[Level, BeforeValidator(known_level)]], AfterValidator(each_once)] = Field(
        default_factory=list
    )
    customer: Text | None = None
    machine: Text | None = None
    owner: Text | None = None
    shop: Text | None = None
    notes: Text | None = None
    basis: Basis = "95 %"
    decision: Decided = "sure"
    shift: PlusMinus = 0
    final_reading: PlusMinus | None = None
    micrometer: MicrometerField | None = None
    window: WindowTable | None = None
    stacks: StacksTable = StacksTable()
    state: StateTable | None = None
    seat: list[SeatTable] = Field(default_factory=list)
    place: list[PlaceTable] = Field(default_factory=list)
    equal: Annotated[list[list[Text]], BeforeValidator(equal_lists)] = Field(default_factory=list)
    gap: list[GapTable] = Field(default_factory=list)
    balance: list[BalanceTable] = Field(default_factory=list)
    tightening: list[TighteningTable] = Field(default_factory=list)
    record: list[RecordTable] = Field(default_factory=list)
    supplier: list[SupplierTable] = Field(default_factory=list)


def is_bare(value: object) -> bool:
    """Whether a raw TOML value (or any blade in it) is a bare number rather than a text with its own unit."""
    if isinstance(value, dict):
        return any(is_bare(item) for item in value.values())
    if isinstance(value, list):
        return any(is_bare(item) for item in value)
    return isinstance(value, int | Decimal)
