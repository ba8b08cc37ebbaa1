"""How a gap was read, as job.toml writes it: blades, a dial, dimensions, a cover; and what moves it afterwards."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ValidationInfo, model_validator

from shimopt.job.fields import JobTable, Length, PositiveLength, Reach, Text, length_in, one_or_more, wrong
from shimopt.job.model import Micrometer
from shimopt.lengths import to_nm
from shimopt.readings import (
    Dial,
    Dimension,
    Reading,
    ReadingError,
    Spot,
    built_up_reading,
    cover_reading,
    feeler_reading,
    indicator_reading,
)
from shimopt.readings.instruments import MICROMETER_SOURCE, micrometer_error
from shimopt.readings.reading import Basis

__all__ = [
    "CoverTable",
    "Decided",
    "DimensionTable",
    "FeelerTable",
    "IndicatorTable",
    "MicrometerTable",
    "PlusMinus",
    "Shape",
    "cover",
    "feeler",
]

Shape = Literal["rectangular", "triangular", "normal"]


def _plus_minus(value: Any, info: ValidationInfo) -> int:
    """How far something may be off, with or without ± before it."""
    if isinstance(value, str):
        value = re.sub(r"^\s*(±|\+/-|\+-)", "", value)
    nm = length_in(value, info)
    if nm < 0:
        raise wrong("this is how far it may be off either way, so it is not negative", 'write it like "±0.01 mm"')
    return nm


def _number(value: Any) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, int | Decimal) or not Decimal(value).is_finite():
        raise wrong("this is a number", "write it like 30, without quotes")
    number = Decimal(value)
    if abs(number) > 10**6:
        raise wrong("this number is out of all range", "check the digits")
    return number


def _leaves(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 50:
        raise wrong("the number of blades together is a whole number from 1 to 50", "write it like 2")
    return value


_RANGE = re.compile(r"\s*(?P<low>\d{1,3}(\.\d{1,3})?)\s*(to|-|–)\s*\d{1,3}(\.\d{1,3})?\s*(?P<unit>mm|in)\s*", re.ASCII)
_CRUSH = re.compile(
    r"\s*(?P<middle>\d{1,2}(\.\d{1,6})?)\s*%?\s*((±|\+/-)\s*(?P<half>\d{1,2}(\.\d{1,6})?)\s*%?\s*)?", re.ASCII
)


def _crush(value: Any) -> tuple[Decimal, Decimal]:
    """By how many per cent a gasket is crushed, and how far that may be off."""
    found = _CRUSH.fullmatch(str(value)) if isinstance(value, str | int | Decimal) else None
    if found is None or isinstance(value, bool):
        raise wrong("crush is from 0 to below 100 per cent", 'write it like 20 or "20 % ± 3 %"')
    middle, half = Decimal(found["middle"]), Decimal(found["half"] or 0)
    if not middle - half >= 0 or middle + half >= 100:
        raise wrong("crush stays from 0 to below 100 per cent", "measure the gasket free and crushed")
    return middle, half


def _decided(value: Any) -> Literal["sure"] | Fraction:
    """What makes a gap inside: surely, or with at least this chance."""
    remedy = 'write decision = "sure" or decision = { chance = 0.95 }'
    if value == "sure":
        return "sure"
    if not isinstance(value, dict) or set(value) != {"chance"}:
        raise wrong("a decision is sure, or asks for a chance", remedy)
    chance = value["chance"]
    if isinstance(chance, bool) or not isinstance(chance, int | Decimal) or not Decimal(chance).is_finite():
        raise wrong("a chance is a number", remedy)
    if not Decimal("0.5") < chance < 1:
        raise wrong("a chance to decide by lies above 0.5 and below 1", remedy)
    return Fraction(chance)


def _with_error(value: Any) -> Any:
    return value if isinstance(value, dict) else {"error": value}


PlusMinus = Annotated[int, BeforeValidator(_plus_minus)]
Number = Annotated[Decimal, BeforeValidator(_number)]
Leaves = Annotated[int, BeforeValidator(_leaves)]
Crush = Annotated[tuple[Decimal, Decimal], BeforeValidator(_crush)]
Decided = Annotated[Literal["sure"] | Fraction, BeforeValidator(_decided)]


class FeelerTable(JobTable):
    """One spot of a feeler reading."""

    go: Length | None = None
    no_go: Length | None = None
    snug: Length | None = None
    step: Length | None = None
    blade_error: PlusMinus | None = None
    leaves: Leaves | None = None

    def spot(self) -> Spot:
        """The spot as the program uses it."""
        if self.leaves is not None and self.blade_error is None:
            raise wrong("`leaves` says how often the error of a blade counts", "add blade_error = ..., for each blade")
        return Spot(self.go, self.no_go, self.snug, self.step, self.blade_error or 0, self.leaves or 1)

    @model_validator(mode="after")
    def _can_be_read(self) -> FeelerTable:
        feeler([self])
        return self


def feeler(spots: list[FeelerTable]) -> Reading:
    """The reading of blades at one or more spots. Raises PydanticCustomError."""
    try:
        return feeler_reading([spot.spot() for spot in spots])
    except ReadingError as error:
        raise wrong(error.rule, error.remedy) from None


class IndicatorTable(JobTable):
    """`indicator = { ... }`."""

    readings: Annotated[list[Length], BeforeValidator(one_or_more)]
    resolution: Length | None = None
    error: PlusMinus | None = None
    lever_angle: Number | None = None
    travel: PositiveLength | None = None

    def reading(self, basis: Basis = "95 %") -> Reading:
        """The reading. Raises PydanticCustomError."""
        dial = Dial(self.readings, self.resolution, self.error, self.lever_angle, self.travel)
        try:
            return indicator_reading(dial, basis)
        except ReadingError as error:
            raise wrong(error.rule, error.remedy) from None

    @model_validator(mode="after")
    def _can_be_read(self) -> IndicatorTable:
        self.reading()
        return self


class DimensionTable(JobTable):
    """One entry of `built_up`."""

    name: Text
    add: Reach | None = None
    take: Reach | None = None
    crush: Crush | None = None
    shape: Shape | None = None

    def dimension(self, shape: Shape) -> Dimension:
        """The dimension as the program uses it; `shape` is that of the gap."""
        length = self.add if self.add is not None else self.take
        if length is None or (self.add is not None and self.take is not None):
            raise wrong("a dimension is either added or taken", "write add = ... or take = ...")
        if length.low < 0:
            raise wrong("a dimension is not negative", "write it without a sign, with add or take")
        crush, half = self.crush or (None, Decimal(0))
        return Dimension(self.name, 1 if self.add is not None else -1, length, crush, half, self.shape or shape)

    @model_validator(mode="after")
    def _one_way(self) -> DimensionTable:
        self.dimension("rectangular")
        return self


def built_up(dimensions: list[DimensionTable], shape: Shape, basis: Basis) -> Reading:
    """The reading that dimensions add up to. Raises PydanticCustomError."""
    try:
        return built_up_reading([one.dimension(shape) for one in dimensions], basis)
    except ReadingError as error:
        raise wrong(error.rule, error.remedy) from None


class CoverTable(JobTable):
    """One spot of `cover_gap = { ... }`, or its value."""

    go: Length | None = None
    no_go: Length | None = None
    snug: Length | None = None
    step: Length | None = None
    blade_error: PlusMinus | None = None
    leaves: Leaves | None = None
    value: Reach | None = None

    def as_feeler(self) -> FeelerTable:
        """The blades of the spot."""
        return FeelerTable.model_construct(
            go=self.go,
            no_go=self.no_go,
            snug=self.snug,
            step=self.step,
            blade_error=self.blade_error,
            leaves=self.leaves,
        )

    @model_validator(mode="after")
    def _can_be_read(self) -> CoverTable:
        cover([self])
        return self


def cover(spots: list[CoverTable]) -> Reading:
    """The gap that is read under a cover. Raises PydanticCustomError."""
    values = [spot.value for spot in spots if spot.value is not None]
    if values and (len(spots) > 1 or spots[0].model_fields_set != {"value"}):
        raise wrong("a cover gap is read by blades or given as one value, not both", "keep one of the two")
    try:
        return cover_reading([] if values else [s.as_feeler().spot() for s in spots], values[0] if values else None)
    except ReadingError as error:
        raise wrong(error.rule, error.remedy) from None


class MicrometerTable(JobTable):
    """`micrometer`: the one that measured the pieces, and its permissible error."""

    name: Text | None = None
    error: PlusMinus | None = None
    range: Text | None = None

    def micrometer(self) -> Micrometer:
        """The micrometer as the program uses it. Raises PydanticCustomError."""
        if self.range is None:
            return Micrometer(self.name or "", self.error)
        if self.error is not None:
            raise wrong("`range` stands for an error that is not stated", "keep one of error and range")
        found = _RANGE.fullmatch(self.range)
        if found is None:
            raise wrong("this is not the range of a micrometer", 'write it like "0 to 25 mm" or "0 to 1 in"')
        try:
            error = micrometer_error(Fraction(to_nm(Fraction(found["low"]), found["unit"]), 10**6))
        except ReadingError as problem:
            raise wrong(problem.rule, problem.remedy) from None
        return Micrometer(self.name or "", error, MICROMETER_SOURCE)

    @model_validator(mode="after")
    def _can_be_used(self) -> MicrometerTable:
        self.micrometer()
        return self


MicrometerField = Annotated[MicrometerTable, BeforeValidator(_with_error)]
