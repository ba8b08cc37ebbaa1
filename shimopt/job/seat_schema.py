"""What a `[[seat]]` of job.toml may hold: the geometry, what the seat allows, and limits and grades of its own."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, StrictBool, ValidationInfo, model_validator

from shimopt.errors import RefusedError, did_you_mean
from shimopt.fields import (
    Count,
    JobTable,
    NotNegative,
    OneOrMoreTexts,
    PositiveLength,
    Text,
    diameter_of,
    length_in,
    one_of,
    one_or_more,
    plain_number,
)
from shimopt.job.seat import GRADED, ORDERS, Face, Groove, Limits, Pressure, Seat
from shimopt.lengths import Bracket, not_negative
from shimopt.parts import FORMS
from shimopt.parts.standards import classed, hardness_of, reference_rows

# lbf: international yard and pound agreement, 1959; NIST SP 811
_NEWTONS = {"n": Fraction(1), "kn": Fraction(1000), "lbf": Fraction("4.4482216152605")}
_FORCE = re.compile(r"\s*(?P<number>\d+(\.\d+)?)\s*(?P<unit>[A-Za-z]+)\s*", re.ASCII)
# a material of the table of limit pressures, VDI 2230; the edition is always named
_EDITION = re.compile(r"(?P<material>.+?)[\s,]*\(?(?:VDI\s*2230[\s:,]*)(?P<edition>\d{4})\)?", re.IGNORECASE)
_SHARE = re.compile(r"\s*(?P<number>\d{1,3}(\.\d{1,6})?)\s*%\s*", re.ASCII)


def _sized(value: Any, info: ValidationInfo, kind: str) -> Bracket:
    """A diameter with ±, by its limits `{ min, max }`, or by an ISO 286 class."""
    if isinstance(value, dict):
        if set(value) != {"min", "max"}:
            raise RefusedError("limits are given as min and max", "write it like { min = 15.98, max = 16.00 }")
        low, high = length_in(value["min"], info), length_in(value["max"], info)
        if not 0 < low <= high:
            raise RefusedError("limits are above zero, and min is not above max", "check min and max")
        return Bracket.between(low, high)
    if isinstance(value, str) and (limits := classed(value, kind)):
        return limits
    return diameter_of(value, info)


def _shaft(value: Any, info: ValidationInfo) -> Bracket:
    return _sized(value, info, "shaft")


def _hole(value: Any, info: ValidationInfo) -> Bracket | str:
    return "none" if value == "none" else _sized(value, info, "hole")


def _inner(value: Any, info: ValidationInfo) -> Bracket:
    """The inner diameter of a face: 0 where the face has no hole."""
    if value == 0 and not isinstance(value, bool):
        return Bracket.between(0, 0)
    return _sized(value, info, "hole")


def _radius(value: Any, info: ValidationInfo) -> int:
    return 0 if value == "none" else not_negative(length_in(value, info))


def _grooves(value: Any) -> Any:
    return [] if value == "none" else one_or_more(value)


def _force(value: Any) -> Fraction:
    """An axial load [N]."""
    number, newtons = plain_number(value), Fraction(0)
    found = _FORCE.fullmatch(value) if isinstance(value, str) and len(value) < 40 else None
    if number is not None:
        newtons = Fraction(number)
    elif found is not None and found["unit"].casefold() in _NEWTONS:
        newtons = Fraction(found["number"]) * _NEWTONS[found["unit"].casefold()]
    if not 0 < newtons < 10**9:
        rule = "a load is a number of newtons above zero, or a text with its unit"
        raise RefusedError(rule, 'write it like 1200, "1.2 kN" or "270 lbf"')
    return newtons


def _share(value: Any) -> Fraction:
    """A share from 0 to 1, or a text such as 60 %."""
    number = plain_number(value)
    share = None if number is None else Fraction(number)
    if isinstance(value, str) and (found := _SHARE.fullmatch(value)):
        share = Fraction(found["number"]) / 100
    if share is None or not 0 <= share <= 1:
        raise RefusedError("a share is a number from 0 to 1, or a text in per cent", 'write it like 0.6 or "60 %"')
    return share


def _ratio(value: Any) -> Fraction:
    """A number of thicknesses."""
    number = plain_number(value)
    if number is None or not 0 <= number <= 1000:
        raise RefusedError("this is a number from 0 to 1,000", "write it like 3")
    return Fraction(number)


def pressure_named(text: str) -> Pressure:
    """The limit pressure of a material, such as `GJL-250` or `GJL-250, VDI 2230:2003`. Raises RefusedError."""
    asked = _EDITION.fullmatch(text.strip())
    material, edition = (asked["material"].strip(), asked["edition"]) if asked else (text.strip(), None)
    rows = [row for row in reference_rows("limit-pressures") if row["material"].casefold() == material.casefold()]
    if not rows:
        known = [row["material"] for row in reference_rows("limit-pressures")]
        rule = "this material is not in the table of limit pressures"
        raise RefusedError(rule, did_you_mean(material, known, "write the limit in N/mm²"))
    rows = [row for row in rows if edition in (None, row["edition"])]
    if len(rows) != 1:
        raise RefusedError(
            "this edition has no such material" if not rows else "several editions have this material",
            'write it like "GJL-250, VDI 2230:2003"',
        )
    row = rows[0]
    return Pressure(
        Fraction(row["limit_pressure_n_mm2"]),
        f"{row['material']}, VDI 2230:{row['edition']}",
        row["provenance"] == "memory",
    )


def _pressure(value: Any) -> Pressure:
    """A limit pressure [N/mm²]: a number, or a material of the table of limit pressures."""
    if isinstance(value, int | Decimal) and not isinstance(value, bool):
        number = plain_number(value)
        if number is None or not 0 < number < 100_000:
            raise RefusedError("a limit pressure is above zero, in N/mm²", "write it like 490, or name a material")
        return Pressure(Fraction(number), "as the job states it")
    if not isinstance(value, str):
        raise RefusedError("a limit pressure is a number in N/mm², or the name of a material", "write it like 490")
    return pressure_named(value)


def _hardness(value: Any) -> str:
    found = hardness_of(value) if isinstance(value, str) else None
    if found is None or found.scale == "word":
        raise RefusedError("a least hardness is a number with its scale", 'write it like "350 HV" or "38 HRC"')
    return str(found)


def _form(value: Any) -> str:
    return one_of(value, FORMS, "a form")


def _order(value: Any) -> str:
    return one_of(value, ORDERS, "an order")


def _grades(value: Any) -> Any:
    if not isinstance(value, dict):
        raise RefusedError("this is a table", 'write it like { thin_wall = "note" }')
    for code, grade in value.items():
        if code not in GRADED:
            remedy = did_you_mean(code, GRADED, f"known are {', '.join(GRADED)}")
            raise RefusedError(f"`{code}` is no finding that a seat can grade", remedy)
        one_of(grade, ("stop", "caution", "note"), f"the grade of {code}")
    return value


Shaft = Annotated[Bracket, BeforeValidator(_shaft)]
Hole = Annotated[Bracket | Literal["none"], BeforeValidator(_hole)]
Share = Annotated[Fraction, BeforeValidator(_share)]


class FaceTable(JobTable):
    """`face` of a seat: the land that a shim bears on."""

    inner: Annotated[Bracket, BeforeValidator(_inner)]
    outer: Shaft

    @model_validator(mode="after")
    def _has_a_width(self) -> FaceTable:
        if self.inner.high >= self.outer.low:
            raise RefusedError("the inside of the face is not smaller than its outside", "swap them, or measure again")
        return self


class GrooveTable(JobTable):
    """`groove` of a seat: an undercut or relief of the shaft, measured from the face."""

    diameter: Shaft
    start: NotNegative = Field(alias="from")
    end: PositiveLength = Field(alias="to")

    @model_validator(mode="after")
    def _has_a_width(self) -> GrooveTable:
        if self.start >= self.end:
            raise RefusedError("a groove ends further from the face than it begins", "swap from and to")
        return self


class SeatTable(JobTable):
    """One `[[seat]]`."""

    name: Text
    shaft: Shaft | None = None
    bore: Hole | None = None
    face: FaceTable | None = None
    groove: Annotated[list[GrooveTable] | None, BeforeValidator(_grooves)] = None
    fillet: Annotated[int | None, BeforeValidator(_radius)] = None
    chamfer: Annotated[int, BeforeValidator(_radius)] = 0
    next_ring: Hole | None = None
    keyway: StrictBool | None = None
    tab: StrictBool | None = None
    moving_face: StrictBool | None = None
    load: Annotated[Fraction | None, BeforeValidator(_force)] = None
    most_pieces: Count | None = None
    fewest_pieces: Count | None = None
    thinnest: PositiveLength | None = None
    forms: Annotated[list[Annotated[str, BeforeValidator(_form)]] | None, BeforeValidator(one_or_more)] = None
    materials: OneOrMoreTexts | None = None
    parts: OneOrMoreTexts | None = None
    order: Annotated[str | None, BeforeValidator(_order)] = None
    shims_allowed: StrictBool = True
    why: Text | None = None
    bore_play: NotNegative | None = None
    keep_clear: NotNegative | None = None
    least_carried: Share | None = None
    least_contact_width: Share | None = None
    most_over_groove: Share | None = None
    least_wall: Annotated[Fraction | None, BeforeValidator(_ratio)] = None
    limit_pressure: Annotated[Pressure | None, BeforeValidator(_pressure)] = None
    least_hardness: Annotated[str | None, BeforeValidator(_hardness)] = None
    grades: Annotated[dict[str, str] | None, BeforeValidator(_grades)] = None

    @model_validator(mode="after")
    def _fits_together(self) -> SeatTable:
        if not self.shims_allowed and self.why is None:
            raise RefusedError("a seat that takes no shims says why", 'add why = "..."')
        if self.fewest_pieces and self.most_pieces and self.fewest_pieces > self.most_pieces:
            raise RefusedError("fewest_pieces is above most_pieces", "swap them")
        for groove in self.groove or []:
            if self.shaft is not None and groove.diameter.best >= self.shaft.best:
                raise RefusedError("the groove is not smaller than the shaft", "check its diameter")
        if self.face and self.chamfer * 2 >= self.face.outer.low - self.face.inner.high:
            raise RefusedError("the chamfer takes the whole face away", "check face and chamfer")
        return self

    def seat(self) -> Seat:
        """The seat as the rest of the program knows it."""
        limits = {
            "clear": self.keep_clear,
            "carried": self.least_carried,
            "width": self.least_contact_width,
            "over_groove": self.most_over_groove,
            "wall": self.least_wall,
            "pressure": self.limit_pressure,
            "hardness": self.least_hardness,
        }
        absent = {key for key, value in (("bore", self.bore), ("next_ring", self.next_ring)) if value == "none"}
        grooves = None if self.groove is None else tuple(Groove(g.diameter, g.start, g.end) for g in self.groove)
        return Seat(
            self.name,
            self.shaft,
            self.bore_play,
            self.most_pieces,
            shims_allowed=self.shims_allowed,
            why=self.why or "",
            bore=None if self.bore == "none" else self.bore,
            face=Face(self.face.inner, self.face.outer) if self.face else None,
            grooves=grooves,
            fillet=self.fillet,
            chamfer=self.chamfer,
            next_ring=None if self.next_ring == "none" else self.next_ring,
            keyway=self.keyway,
            tab=self.tab,
            moving_face=self.moving_face,
            load=self.load,
            fewest_pieces=self.fewest_pieces or 0,
            thinnest=self.thinnest,
            forms=tuple(self.forms or ()),
            materials=tuple(self.materials or ()),
            parts=tuple(self.parts or ()),
            order=self.order or "",
            # every key is one of Limits: they stand above
            limits=Limits(**{key: value for key, value in limits.items() if value is not None}),  # type: ignore[arg-type]
            grades=tuple(sorted((self.grades or {}).items())),
            absent=frozenset(absent),
        )
