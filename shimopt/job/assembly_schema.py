"""Windows, cold and hot, the state of the trial assembly and tightening, as a job writes them."""

from __future__ import annotations

import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationInfo, model_validator

from shimopt.assembly import Length as Expanding
from shimopt.assembly import Torque, coefficients, growth, kelvin, torque_range
from shimopt.assembly.heat import SOURCE, named
from shimopt.errors import RefusedError, nearest_name
from shimopt.fields import (
    JobTable,
    Length,
    Limit,
    PositiveLength,
    SourceText,
    Text,
    length_in,
    one_or_more,
    plain_number,
    unit_of,
)
from shimopt.job.gap import AT_ODDS, Heat, Window
from shimopt.job.model import Tightening
from shimopt.lengths import decimal_text, spelled


def _temperature(value: Any) -> tuple[str, Fraction]:
    if not isinstance(value, str):
        raise RefusedError("a temperature carries its unit", 'write it like "80 degC"')
    return value.strip(), kelvin(value)


def _coefficient(value: Any) -> Fraction:
    number = plain_number(value)
    if number is None:
        raise RefusedError("a coefficient of expansion is a number", "write it per kelvin, like 21.5e-6")
    # far outside: the least of any metal is about 1e-6, plastics reach 2e-4
    if not Decimal("1e-8") <= abs(number) <= Decimal("1e-3"):
        raise RefusedError("a coefficient of expansion is written per kelvin", "write 21.5 millionths as 21.5e-6")
    return Fraction(number)


def _torque(value: Any) -> Torque:
    if not isinstance(value, str):
        raise RefusedError("a torque carries its unit", 'write it like "12 to 18 lbf ft"')
    return torque_range(value)


def _when(value: Any) -> str:
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    if not isinstance(value, str) or not value.strip() or len(value) > 2000:
        raise RefusedError("this is a date, or a text", "write it like 2026-03-14")
    return value


def _told(value: Any) -> str:
    """A number or a text, as it was written."""
    if isinstance(value, bool) or not isinstance(value, str | int | Decimal) or not str(value).strip():
        raise RefusedError("this is a text or a number", 'write it in quotes: "..."')
    if len(str(value)) > 2000:
        raise RefusedError("a text has at most 2,000 characters", "shorten it")
    return str(value)


def _preload(value: Any, info: ValidationInfo) -> tuple[int, int]:
    """The least and the most preload [nm], as people say it: without a sign."""
    if not isinstance(value, list) or len(value) != 2:
        raise RefusedError("a preload goes from so much to so much", "write it like preload = [2, 3]")
    least, most = (_unsigned(end, info) for end in value)
    if least > most:
        raise RefusedError("the first end of a preload is the smaller one", "swap them")
    return least, most


def _unsigned(value: Any, info: ValidationInfo) -> int:
    nm = length_in(value, info)
    if nm < 0:
        raise RefusedError("a preload is said without a sign", "take the minus out: 2 of preload is 2")
    return nm


Temperature = Annotated[tuple[str, Fraction], BeforeValidator(_temperature)]
Coefficient = Annotated[Fraction, BeforeValidator(_coefficient)]
TorqueField = Annotated[Torque, BeforeValidator(_torque)]
When = Annotated[str, BeforeValidator(_when)]
Told = Annotated[str, BeforeValidator(_told)]
Preload = Annotated[tuple[int, int], BeforeValidator(_preload)]


class LengthTable(JobTable):
    """One part that expands."""

    material: Text | None = None
    coefficient: Coefficient | None = None
    length: PositiveLength

    def expanding(self) -> Expanding:
        """The part with its coefficient. Raises RefusedError."""
        if self.coefficient is not None:
            return Expanding(self.material or "", self.coefficient, self.length, "given")
        if self.material is None:
            raise RefusedError("what expands has a material or a coefficient", 'add material = "steel 1040"')
        name = named(self.material)
        if name is None:
            known = coefficients()
            meant = nearest_name(self.material, known)
            raise RefusedError(
                f"the material {self.material[:80]!r} is not in the table",
                (f"did you mean {meant}? Else" if meant else f"known are {', '.join(known)}; else")
                + " give its coefficient = ... per kelvin",
            )
        return Expanding(name, coefficients()[name], self.length, SOURCE)

    @model_validator(mode="after")
    def _is_known(self) -> LengthTable:
        self.expanding()
        return self


Lengths = Annotated[list[LengthTable], BeforeValidator(one_or_more)]


class WindowTable(JobTable):
    """`[window]`, or `window = { ... }` of a gap; `preload` and its target say without a sign what lies below zero."""

    min: Limit
    max: Limit
    source: SourceText
    target: Length | None = None
    preload: Preload | None = None

    @model_validator(mode="before")
    @classmethod
    def _as_preload_is_said(cls, value: Any, info: ValidationInfo) -> Any:
        if not isinstance(value, dict) or "preload" not in value:
            return value
        if "min" in value or "max" in value:
            raise RefusedError("a window is said as a preload or by min and max, not both", "keep one of them")
        try:
            least, most = _preload(value["preload"], info)
        except RefusedError:
            # the field says so itself
            return {**value, "min": "none", "max": "none"}
        signed = {"min": -most, "max": -least}
        if "target" in value:
            signed["target"] = -_unsigned(value["target"], info)
        return {**value, **{key: f"{decimal_text(nm, 'mm')} mm" for key, nm in signed.items()}}

    @model_validator(mode="after")
    def _in_order(self, info: ValidationInfo) -> WindowTable:
        unit = unit_of(info) or "mm"
        window = self.window()
        if window.at_odds is None:
            return self
        rule, remedy = AT_ODDS[window.at_odds]
        if window.at_odds == "order":
            low, high = (spelled(limit or 0, unit) for limit in (window.min, window.max))
            rule = f"min {low} is above max {high}"
        raise RefusedError(rule, remedy)

    def window(self) -> Window:
        """The window as the program uses it."""
        low, high = (None if isinstance(limit, str) else limit for limit in (self.min, self.max))
        return Window(low, high, self.source, self.target)


class HeatTable(JobTable):
    """`heat = { ... }` of a gap."""

    housing: Lengths = Field(default_factory=list)
    shaft: Lengths = Field(default_factory=list)
    cold: Temperature = Field(alias="from")
    hot: Temperature = Field(alias="to")
    window: WindowTable | None = None

    @model_validator(mode="after")
    def _something_expands(self) -> HeatTable:
        if not self.housing and not self.shaft:
            raise RefusedError(
                "nothing is named that expands", "add housing = { material, length } and shaft = { ... }"
            )
        return self

    def heat(self) -> Heat:
        """The heat as the program uses it."""
        housing, shaft = ([part.expanding() for part in parts] for parts in (self.housing, self.shaft))
        window = None if self.window is None else self.window.window()
        return Heat(
            growth(housing, shaft, self.cold[1], self.hot[1]),
            self.cold[0],
            self.hot[0],
            tuple(housing),
            tuple(shaft),
            window,
        )


class StateTable(JobTable):
    """`[state]`: how the trial assembly stood when it was read."""

    clamped: Told | None = None
    gasket: Told | None = None
    surfaces: Told | None = None
    temperature: Told | None = None
    hardware: Literal["old", "new"] | None = None
    turns: Told | None = None
    who: Told | None = None
    when: When | None = None
    instrument: Told | None = None
    note: Told | None = None

    def told(self) -> tuple[tuple[str, str], ...]:
        """What was recorded, in the order of the table."""
        found = ((key, getattr(self, key)) for key in type(self).model_fields)
        return tuple((key, str(value)) for key, value in found if value is not None)


class TighteningTable(JobTable):
    """One `[[tightening]]`."""

    name: Text
    torque: TorqueField
    source: SourceText | None = None
    tool_max: TorqueField | None = None

    @model_validator(mode="after")
    def _tool_reaches(self) -> TighteningTable:
        if self.tool_max is not None and self.tool_max.high < self.torque.setting:
            raise RefusedError("the tool does not go as far as the setting", "take a larger tool, or check tool_max")
        return self

    def tightening(self) -> Tightening:
        """The tightening as the program uses it."""
        largest = None if self.tool_max is None else self.tool_max.high
        return Tightening(self.name, self.torque, self.source or "", largest)
