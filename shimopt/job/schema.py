"""What a job may hold, table by table. Pydantic finds every error; `job_errors` turns them into sentences."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, StrictBool, create_model, model_validator

from shimopt.assembly import RunningTorque, running_torque
from shimopt.errors import RefusedError, did_you_mean
from shimopt.fields import (
    Count,
    JobTable,
    Length,
    NotNegative,
    PlusMinus,
    PositiveLength,
    Text,
    each_once,
    plain_number,
)
from shimopt.job.assembly_schema import HeatTable, StateTable, TighteningTable, WindowTable
from shimopt.job.effects import Effects
from shimopt.job.learnt_sizes import LearntSizes
from shimopt.job.levels import Level
from shimopt.job.model import UNTITLED, Micrometer, Money
from shimopt.job.money import Rates, SupplierTable, money_of_job
from shimopt.job.places import EqualPacks, PlaceTable
from shimopt.job.record import RecordTable
from shimopt.job.seat_schema import SeatTable
from shimopt.lengths import to_nm
from shimopt.readings import FORMS, Basis, Form, IndicatorTable, Reading, Shape, refuse_lone_pull
from shimopt.readings.cover_gap import ClosedUp, closed_up
from shimopt.readings.instruments import MICROMETER_SOURCE, micrometer_error

_RANGE = re.compile(r"\s*(?P<low>\d{1,3}(\.\d{1,3})?)\s*(to|-|–)\s*\d{1,3}(\.\d{1,3})?\s*(?P<unit>mm|in)\s*", re.ASCII)


def _decided(value: Any) -> Literal["sure"] | Fraction:
    """What makes a gap inside: surely, or with at least this chance."""
    remedy = 'write decision = "sure" or decision = { chance = 0.95 }'
    if value == "sure":
        return "sure"
    if not isinstance(value, dict) or set(value) != {"chance"}:
        raise RefusedError("a decision is sure, or asks for a chance", remedy)
    chance = plain_number(value["chance"])
    if chance is None:
        raise RefusedError("a chance is a number", remedy)
    if not Decimal("0.5") < chance < 1:
        raise RefusedError("a chance to decide by lies above 0.5 and below 1", remedy)
    return Fraction(chance)


def _level(value: Any) -> Level:
    try:
        return Level(value)
    except ValueError:
        remedy = did_you_mean(value, Level, f"levels are {', '.join(Level)}")
        raise RefusedError("there is no such level", remedy) from None


def _micrometer(value: Any) -> Any:
    return value if isinstance(value, dict) else {"error": value}


def _at_least_two(members: list[str]) -> list[str]:
    if len(members) < 2:
        raise RefusedError("a balance compares at least two gaps or places", "add one, or take the balance out")
    return members


Decided = Annotated[Literal["sure"] | Fraction, BeforeValidator(_decided)]
Compared = Annotated[list[Text], AfterValidator(each_once), AfterValidator(_at_least_two)]


class MicrometerTable(JobTable):
    """`micrometer`: the one that measured the pieces, and its permissible error."""

    name: Text | None = None
    error: PlusMinus | None = None
    range: Text | None = None

    def micrometer(self) -> Micrometer:
        """The micrometer as the program uses it. Raises RefusedError."""
        if self.range is None:
            return Micrometer(self.name or "", self.error)
        if self.error is not None:
            raise RefusedError("`range` stands for an error that is not stated", "keep one of error and range")
        found = _RANGE.fullmatch(self.range)
        if found is None:
            raise RefusedError("this is not the range of a micrometer", 'write it like "0 to 25 mm" or "0 to 1 in"')
        error = micrometer_error(Fraction(to_nm(Fraction(found["low"]), found["unit"]), 10**6))
        return Micrometer(self.name or "", error, MICROMETER_SOURCE)

    @model_validator(mode="after")
    def _can_be_used(self) -> MicrometerTable:
        self.micrometer()
        return self


class RepeatabilityTable(JobTable):
    """`[repeatability]`: the standard deviation of one reading, by the form in which gaps are read."""

    feeler: PositiveLength | None = None
    indicator: PositiveLength | None = None
    cover_gap: PositiveLength | None = None
    table: PositiveLength | None = None


class StacksTable(JobTable):
    """`[stacks]`."""

    most_pieces: Count = 3


class BalanceTable(JobTable):
    """One `[[balance]]`."""

    name: Text
    gaps: Compared | None = None
    places: Compared | None = None
    within: NotNegative | None = None
    offset: dict[str, Length] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _compares_one_kind(self) -> BalanceTable:
        if self.gaps is None and self.places is None:
            raise RefusedError("a balance says what it compares", "add gaps = [...] or places = [...]")
        if self.gaps is not None and self.places is not None:
            raise RefusedError("a balance compares gaps or places, not both", "make two balances of it")
        return self


if TYPE_CHECKING:
    _Readings = JobTable
else:
    # a key for every form in which a gap can be read
    _Readings = create_model("_Readings", __base__=JobTable, **{form.key: (form.field | None, None) for form in FORMS})


def _turned(value: object) -> RunningTorque:
    return running_torque(str(value))


Turned = Annotated[RunningTorque, BeforeValidator(_turned)]


class GapTable(_Readings):
    """One `[[gap]]`."""

    name: Text
    seat: Text | None = None
    shape: Shape | None = None
    checked: StrictBool = False
    shift: PlusMinus | None = None
    final_reading: PlusMinus | None = None
    decision: Decided | None = None
    window: WindowTable | None = None
    heat: HeatTable | None = None
    state: StateTable | None = None
    effects: Effects = None
    after_cover: ClosedUp | None = None
    running_torque: Turned | None = None

    @property
    def form(self) -> Form:
        """The form in which the gap was read. Raises RefusedError where there is not exactly one."""
        given = [form for form in FORMS if getattr(self, form.key) is not None]
        if len(given) != 1:
            raise RefusedError(
                "a gap has exactly one reading", f"give it one of {', '.join(form.key for form in FORMS)}"
            )
        return given[0]

    @property
    def looked_at_again(self) -> bool:
        """Whether the gap, or a table of its reading, says `checked = true`."""
        written = getattr(self, self.form.key)
        tables = written if isinstance(written, list) else [written]
        return self.checked or any(getattr(table, "checked", False) for table in tables)

    def reading(self, basis: Basis = "95 %") -> Reading:
        """The gap's reading. Raises RefusedError where there is not exactly one, or it cannot be."""
        form = self.form
        if self.shape is not None and not form.takes_shape:
            takers = " or ".join(each.key for each in FORMS if each.takes_shape)
            raise RefusedError("`shape` says how a stated ± is spread", f"it belongs to {takers}: take it out")
        table = getattr(self, form.key)
        if form.read_round_wheel and any(one.known("").teeth for one in (self.effects or {}).values()):
            return form.read_round_wheel(table, basis)
        return form.read(table, self.shape or "rectangular", basis)

    @model_validator(mode="after")
    def _can_be_read(self) -> GapTable:
        read = self.reading()
        table = getattr(self, self.form.key)
        if isinstance(table, IndicatorTable) and not self.looked_at_again:
            refuse_lone_pull(table.readings, "write what was read; if it was read so, add checked = true to the gap")
        if self.after_cover is not None:
            if read.opens:
                raise RefusedError(
                    "`after_cover` is the gap itself read again, closed up", "take it out of a reading under a cover"
                )
            closed_up(self.after_cover)
        return self


class JobFile(JobTable):
    """All of job.toml."""

    title: Text = UNTITLED
    unit: Literal["mm", "um", "in", "thou"]
    drawer: Text | None = None
    catalogues: list[Text] = Field(default_factory=list)
    gaps: Text | None = None
    balance_within: NotNegative | None = None
    priority: Annotated[list[Annotated[Level, BeforeValidator(_level)]], AfterValidator(each_once)] = Field(
        default_factory=list
    )
    customer: Text | None = None
    machine: Text | None = None
    owner: Text | None = None
    shop: Text | None = None
    contact: Text | None = None
    deliver_to: Text | None = None
    order_number: Text | None = None
    notes: Text | None = None
    basis: Basis = "95 %"
    decision: Decided = "sure"
    shift: PlusMinus = 0
    final_reading: PlusMinus | None = None
    micrometer: Annotated[MicrometerTable, BeforeValidator(_micrometer)] | None = None
    repeatability: RepeatabilityTable = RepeatabilityTable()
    true_size: LearntSizes = Field(default_factory=list)
    window: WindowTable | None = None
    stacks: StacksTable = StacksTable()
    state: StateTable | None = None
    seat: list[SeatTable] = Field(default_factory=list)
    place: list[PlaceTable] = Field(default_factory=list)
    equal: EqualPacks = Field(default_factory=list)
    gap: list[GapTable] = Field(default_factory=list)
    balance: list[BalanceTable] = Field(default_factory=list)
    tightening: list[TighteningTable] = Field(default_factory=list)
    record: list[RecordTable] = Field(default_factory=list)
    supplier: list[SupplierTable] = Field(default_factory=list)
    currency: Text | None = None
    rates: Rates = Field(default_factory=dict)

    def money(self) -> Money:
        """The currency of the job and its rates, as the program uses them."""
        return money_of_job(self.currency, self.rates)
