"""Pydantic's errors as sentences of our own: file, table and key, value, rule, remedy."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from itertools import islice
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from shimopt.errors import Problem, nearest_name
from shimopt.job.assembly_schema import HeatTable, LengthTable, StateTable, TighteningTable
from shimopt.job.place_schema import BevelTable, EffectTable, InstalledTable, PiecesTable, PlaceTable, TrialTable
from shimopt.job.reading_schema import CoverTable, DimensionTable, FeelerTable, IndicatorTable, MicrometerTable
from shimopt.job.schema import BalanceTable, GapTable, JobFile, StacksTable
from shimopt.job.seat_schema import FaceTable, GrooveTable, SeatTable
from shimopt.job.supplier_schema import SupplierTable
from shimopt.job.window_schema import WindowTable
from shimopt.lengths import NO_UNIT, SPELLINGS, UNITS
from shimopt.tables.files import MOST_LISTED

__all__ = ["located", "schema_problems"]

# which table stands at which path; "#" is any number, "*" any name
_TABLES: Mapping[tuple[str, ...], type[BaseModel]] = {
    (): JobFile,
    ("window",): WindowTable,
    ("stacks",): StacksTable,
    ("seat", "#"): SeatTable,
    ("seat", "#", "face"): FaceTable,
    ("seat", "#", "groove", "#"): GrooveTable,
    ("gap", "#"): GapTable,
    ("gap", "#", "window"): WindowTable,
    ("gap", "#", "feeler", "#"): FeelerTable,
    ("gap", "#", "effects", "*"): EffectTable,
    ("gap", "#", "effects", "*", "bevel"): BevelTable,
    ("gap", "#", "effects", "*", "trial", "#"): TrialTable,
    ("place", "#"): PlaceTable,
    ("place", "#", "pieces"): PiecesTable,
    ("place", "#", "installed", "#"): InstalledTable,
    ("gap", "#", "indicator"): IndicatorTable,
    ("gap", "#", "built_up", "#"): DimensionTable,
    ("gap", "#", "cover_gap", "#"): CoverTable,
    ("gap", "#", "state"): StateTable,
    ("gap", "#", "heat"): HeatTable,
    ("gap", "#", "heat", "window"): WindowTable,
    ("gap", "#", "heat", "housing", "#"): LengthTable,
    ("gap", "#", "heat", "shaft", "#"): LengthTable,
    ("state",): StateTable,
    ("micrometer",): MicrometerTable,
    ("balance", "#"): BalanceTable,
    ("tightening", "#"): TighteningTable,
    ("supplier", "#"): SupplierTable,
}
# tables of which there can be several
_SEVERAL = ("seat", "gap", "place", "balance", "record", "tightening", "supplier")
# what pydantic says of a value of the wrong kind, in our words
_KINDS = {
    "string_type": ("this is a text", 'write it in quotes: "..."'),
    "bool_type": ("this is true or false", "write true or false, without quotes"),
    "bool_parsing": ("this is true or false", "write true or false, without quotes"),
    "list_type": ("this is a list", "write it in square brackets: [...]"),
    "dict_type": ("this is a table", "write it in braces: { ... }"),
    "model_type": ("this is a table", "write it in braces: { ... }, or as a [table] of its own"),
    "model_attributes_type": ("this is a table", "write it in braces: { ... }, or as a [table] of its own"),
}


def schema_problems(error: ValidationError, raw: Mapping[str, Any], path: Path) -> list[Problem]:
    """One problem for each of pydantic's errors; where the unit is missing, bare numbers are told of once."""
    found = [_problem(details, raw, path) for details in islice(error.errors(), MOST_LISTED)]
    bare = [problem for problem in found if problem.rule == NO_UNIT]
    return [problem for problem in found if problem not in bare[1:]]


def located(loc: tuple[str | int, ...], raw: Mapping[str, Any]) -> str:
    """A path into the file as a person would say it: `[[gap]] 2 "upper 2", feeler.go`."""
    if not loc:
        return ""
    first, rest = str(loc[0]), list(loc[1:])
    start, value = first, raw.get(first)
    if rest and isinstance(rest[0], int) and isinstance(value, list):
        number = rest.pop(0)
        value = value[int(number)]
        if not isinstance(value, dict):
            return f"{first}, entry {int(number) + 1}"
        name = value.get("name")
        start = f"[[{first}]] {int(number) + 1}" + (f' "{name}"' if isinstance(name, str) else "")
    elif isinstance(value, dict):
        start = f"[{first}]"
    keys = ".".join(_steps_into(rest, value))
    return f"{start}, {keys}" if keys else start


def _as_typed(value: Any) -> str:
    """A TOML value much as it stands in the file; nothing for lists and for tables that hold more than plain values."""
    match value:
        case bool():
            return "true" if value else "false"
        case int() if value.bit_length() > 200:
            return f"a whole number of about {value.bit_length() * 3 // 10} digits"
        case Decimal() if not value.is_finite():
            return "nan" if value.is_nan() else "inf" if value > 0 else "-inf"
        case dict():
            if any(isinstance(inner, dict | list) for inner in value.values()):
                return ""
            typed = {key: f'"{inner}"' if isinstance(inner, str) else _as_typed(inner) for key, inner in value.items()}
            return "{ " + ", ".join(f"{key} = {inner}" for key, inner in typed.items()) + " }"
        case list() | BaseModel():
            return ""
    return str(value)


def _steps_into(rest: list[str | int], value: Any) -> Iterator[str]:
    """Keys and counted entries, without the entry that a single table was wrapped into."""
    for step in rest:
        if isinstance(step, int):
            if not isinstance(value, list):
                continue
            value = value[step] if step < len(value) else None
            yield str(step + 1)
        else:
            value = value.get(step) if isinstance(value, dict) else None
            yield step


def _problem(details: ErrorDetails, raw: Mapping[str, Any], path: Path) -> Problem:
    loc, kind = details["loc"], details["type"]
    where, text = located(loc, raw), "" if kind == "missing" else _as_typed(details["input"])
    if kind == "wrong":
        return Problem(str(path), where, text, details["ctx"]["rule"], details["ctx"]["remedy"])
    if kind == "missing":
        return _missing(loc, where, path)
    if kind == "extra_forbidden":
        return _unknown_key(loc, text, raw, path)
    if loc == ("unit",):
        meant = SPELLINGS.get(text) or ("thou" if text in {"mil", "mils"} else nearest_name(text, UNITS)) or "mm"
        return Problem(str(path), where, text, "the unit is mm, um, in or thou", f'write unit = "{meant}"')
    if kind == "list_type" and loc in {(name,) for name in _SEVERAL}:
        return Problem(str(path), where, text, "there can be several of this table", f"write [[{loc[0]}]] above each")
    if kind == "literal_error":
        return Problem(str(path), where, text, "this is one of a few words", f"write {details['ctx']['expected']}")
    rule, remedy = _KINDS.get(kind, (details["msg"], "see the file formats in the README"))
    return Problem(str(path), where, text, rule, remedy)


def _pattern(loc: tuple[str | int, ...]) -> tuple[str, ...]:
    return tuple(
        "#" if isinstance(part, int) else "*" if at and loc[at - 1] == "effects" else part
        for at, part in enumerate(loc)
    )


def _missing(loc: tuple[str | int, ...], where: str, path: Path) -> Problem:
    key = str(loc[-1])
    remedies = {
        "unit": 'write unit = "mm" (or um, in, thou) at the top of the file',
        "source": "say who states this window: a manual and page, a drawing, a letter",
        "min": 'write min = ..., or min = "none"',
        "max": 'write max = ..., or max = "none"',
        "readings": "add readings = [...], one number for each pull",
        "from": 'add from = "20 degC", the temperature at which it was read',
        "to": 'add to = "80 degC", the temperature at which it runs',
        "postage": "add postage = ..., what a parcel costs; 0 where there is none",
        "torque": 'add torque = "12 to 18 lbf ft"',
    }
    return Problem(str(path), where, "", f"`{key}` is missing", remedies.get(key, f"add {key} = ..."))


def _unknown_key(loc: tuple[str | int, ...], text: str, raw: Mapping[str, Any], path: Path) -> Problem:
    key, table = str(loc[-1]), _pattern(loc[:-1])
    where = located(loc, raw)
    known = [field.alias or name for name, field in _TABLES[table].model_fields.items()] if table in _TABLES else []
    if table and key in JobFile.model_fields and key not in known:
        return Problem(
            str(path),
            where,
            text,
            f"`{key}` belongs at the top of the file",
            "move it up, above the first [table]: below one it lands in that table",
        )
    meant = nearest_name(key, known)
    remedy = f"did you mean {meant}?" if meant else f"known here: {', '.join(known)}"
    return Problem(str(path), where, text, f"`{key}` is not a known key", remedy)
