"""Heat, state of the trial assembly and tightening, as job.toml writes them."""

from __future__ import annotations

import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from shimopt.assembly import Length as Expanding
from shimopt.assembly import TemperatureError, Torque, TorqueError, coefficients, growth, kelvin, torque_range
from shimopt.assembly.materials import SOURCE, named
from shimopt.errors import nearest_name
from shimopt.job.fields import JobTable, PositiveLength, Text, one_or_more, wrong
from shimopt.job.model import Heat, Tightening, Window
from shimopt.job.window_schema import WindowTable

__all__ = ["HeatTable", "LengthTable", "StateTable", "TighteningTable"]


def _temperature(value: Any) -> tuple[str, Fraction]:
    if not isinstance(value, str):
        raise wrong("a temperature carries its unit", 'write it like "80 degC"')
    try:
        return value.strip(), kelvin(value)
    except TemperatureError as error:
        raise wrong(error.rule, error.remedy) from None


def _coefficient(value: Any) -> Fraction:
    if isinstance(value, bool) or not isinstance(value, int | Decimal) or not Decimal(value).is_finite():
        raise wrong("a coefficient of expansion is a number", "write it per kelvin, like 21.5e-6")
    # far outside: the least of any metal is about 1e-6, plastics reach 2e-4
    number = Decimal(value)
    if not Decimal("1e-8") <= abs(number) <= Decimal("1e-3"):
        raise wrong("a coefficient of expansion is written per kelvin", "write 21.5 millionths as 21.5e-6")
    return Fraction(number)


def _torque(value: Any) -> Torque:
    if not isinstance(value, str):
        raise wrong("a torque carries its unit", 'write it like "12 to 18 lbf ft"')
    try:
        return torque_range(value)
    except TorqueError as error:
        raise wrong(error.rule, error.remedy) from None


def _when(value: Any) -> str:
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    if not isinstance(value, str) or not value.strip() or len(value) > 2000:
        raise wrong("this is a date, or a text", "write it like 2026-03-14")
    return value


def _told(value: Any) -> str:
    """A number or a text, as it was written."""
    if isinstance(value, bool) or not isinstance(value, str | int | Decimal) or not str(value).strip():
        raise wrong("this is a text or a number", 'write it in quotes: "..."')
    if len(str(value)) > 2000:
        raise wrong("a text has at most 2,000 characters", "shorten it")
    return str(value)


Temperature = Annotated[tuple[str, Fraction], BeforeValidator(_temperature)]
Coefficient = Annotated[Fraction, BeforeValidator(_coefficient)]
TorqueField = Annotated[Torque, BeforeValidator(_torque)]
When = Annotated[str, BeforeValidator(_when)]
Told = Annotated[str, BeforeValidator(_told)]


class LengthTable(JobTable):
    """One part that expands."""

    material: Text | None = None
    coefficient: Coefficient | None = None
    length: PositiveLength

    def expanding(self) -> Expanding:
        """The part with its coefficient. Raises PydanticCustomError."""
        if self.coefficient is not None:
            return Expanding(self.material or "", self.coefficient, self.length, "given")
        if self.material is None:
            raise wrong("what expands has a material or a coefficient", 'add material = "steel 1040"')
        name = named(self.material)
        if name is None:
            known = coefficients()
            meant = nearest_name(self.material, known)
            raise wrong(
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
            raise wrong("nothing is named that expands", "add housing = { material, length } and shaft = { ... }")
        return self

    def heat(self) -> Heat:
        """The heat as the program uses it."""
        housing, shaft = ([part.expanding() for part in parts] for parts in (self.housing, self.shaft))
        window: Window | None = None if self.window is None else self.window.window()
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
    source: Text | None = None

    def tightening(self) -> Tightening:
        """The tightening as the program uses it."""
        return Tightening(self.name, self.torque, self.source or "")
