"""A job as it was written: its raw tables, where each thing stands in them, and pydantic's errors in our own words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import islice
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from shimopt.errors import Problem, RefusedError, did_you_mean, nearest_name
from shimopt.job.schema import JobFile
from shimopt.lengths import NO_UNIT, SPELLINGS, UNITS
from shimopt.tables.files import MOST_LISTED

# how deep the tables and lists of a job may be nested
DEEPEST = 12

# keys and numbers counted from 0, as pydantic gives them: ("gap", 1, "feeler", "go")
Keys = tuple[str | int, ...]

# what pydantic says of a value of the wrong kind, in our words
_KINDS = {
    "string_type": ("this is a text", 'write it in quotes: "..."'),
    "bool_type": ("this is true or false", "write true or false, without quotes"),
    "bool_parsing": ("this is true or false", "write true or false, without quotes"),
    "list_type": ("a list has to stand here", "write it in square brackets: [...]"),
    "dict_type": ("this is a table", "write it in braces: { ... }"),
    "model_type": ("this is a table", "write it in braces: { ... }, or as a [table] of its own"),
    "model_attributes_type": ("this is a table", "write it in braces: { ... }, or as a [table] of its own"),
}
_MISSING = {
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


def entry(number: int, table: Mapping[str, Any]) -> str:
    """Which of several tables, as a person would say it: `2 "upper 2"`; `number` counts from 0."""
    name = table.get("name")
    return f"{number + 1}" + (f' "{name}"' if isinstance(name, str) else "")


@dataclass(frozen=True, slots=True)
class Written:
    """The raw tables of a job, and the file that they came from; empty where they came from no file."""

    raw: Mapping[str, Any]
    file: str = ""

    @property
    def unit(self) -> str | None:
        """The job's unit; a stand-in where it is no known one, which is complaint enough, None where it is missing."""
        unit = self.raw.get("unit")
        return unit if unit is None or (isinstance(unit, str) and unit in UNITS) else "mm"

    def tables(self, key: str) -> Iterator[tuple[Keys, Mapping[str, Any]]]:
        """The tables `[[key]]` with their paths, and nothing that only looks like one."""
        listed = self.raw.get(key)
        if isinstance(listed, dict):
            # [key] for [[key]] is refused elsewhere; its names are known all the same
            yield (key,), listed
        for number, table in enumerate(listed if isinstance(listed, list) else []):
            if isinstance(table, dict):
                yield (key, number), table

    def text(self, key: str) -> str | None:
        """The text of a top-level key; None where there is none."""
        found = self.raw.get(key)
        return found if isinstance(found, str) and found.strip() else None

    def problem(self, at: Keys, value: str, rule: str, remedy: str) -> Problem:
        """What is wrong at a path."""
        return Problem(self.file, self.where(at), value, rule, remedy, self.field(at))

    def where(self, at: Keys) -> str:
        """A path as a person would say it: `[[gap]] 2 "upper 2", feeler.go`."""
        if not at:
            return ""
        first, rest = str(at[0]), list(at[1:])
        start, value = first, self.raw.get(first)
        if rest and isinstance(rest[0], int) and isinstance(value, list):
            number = rest.pop(0)
            value = value[int(number)]
            if not isinstance(value, dict):
                return f"{first}, entry {int(number) + 1}"
            start = f"[[{first}]] {entry(int(number), value)}"
        elif isinstance(value, dict):
            start = f"[{first}]"
        keys = ".".join(str(step + 1) if isinstance(step, int) else step for step in _steps(rest, value))
        return f"{start}, {keys}" if keys else start

    def field(self, at: Keys) -> str:
        """The same path for a program: `gap[1].feeler.go`, a key that is no plain word as `effects["left cap"]`."""
        found = ""
        for step in _steps(at, self.raw):
            if isinstance(step, int):
                found += f"[{step}]"
            elif step.replace("_", "").replace("-", "").isalnum():
                found += f".{step}" if found else step
            else:
                found += '["' + step.replace("\\", "\\\\").replace('"', '\\"') + '"]'
        return found


def _steps(at: Keys | list[str | int], value: Any) -> Iterator[str | int]:
    """Keys and numbers of a path, without the number of the list that a single table was wrapped into."""
    for step in at:
        if isinstance(step, int):
            if not isinstance(value, list):
                continue
            value = value[step] if step < len(value) else None
        else:
            value = value.get(step) if isinstance(value, dict) else None
        yield step


def contents_of(written: Written, problems: list[Problem]) -> JobFile | None:
    """The job's tables as they are understood; None where they cannot be, with what is wrong added to `problems`."""
    try:
        return JobFile.model_validate(written.raw, context={"unit": written.unit})
    except ValidationError as error:
        found = [_problem(details, written) for details in islice(error.errors(), MOST_LISTED)]
    # where the unit is missing, bare numbers are told of once
    bare = [problem for problem in found if problem.rule == NO_UNIT]
    problems += [problem for problem in found if problem not in bare[1:]]
    return None


def _problem(details: ErrorDetails, written: Written) -> Problem:
    at, kind = details["loc"], details["type"]
    text = "" if kind == "missing" else _as_typed(details["input"])
    if kind == "value_error" and isinstance(refused := details["ctx"]["error"], RefusedError):
        return written.problem(at, text, refused.rule, refused.remedy)
    if kind == "missing":
        return written.problem(at, "", f"`{at[-1]}` is missing", _MISSING.get(str(at[-1]), f"add {at[-1]} = ..."))
    if kind == "extra_forbidden":
        return written.problem(at, text, *_unknown_key(at))
    if at == ("unit",):
        meant = SPELLINGS.get(text) or ("thou" if text in {"mil", "mils"} else nearest_name(text, UNITS)) or "mm"
        return written.problem(at, text, "the unit is mm, um, in or thou", f'write unit = "{meant}"')
    if kind == "list_type" and len(at) == 1 and _table_at(at) is not JobFile:
        return written.problem(at, text, "there can be several of this table", f"write [[{at[0]}]] above each")
    if kind == "literal_error":
        return written.problem(at, text, "this is one of a few words", f"write {details['ctx']['expected']}")
    return written.problem(at, text, *_KINDS.get(kind, (details["msg"], "see: shimopt help job-file")))


def _unknown_key(at: Keys) -> tuple[str, str]:
    """Rule and remedy for a key that is not known where it stands."""
    key, table = str(at[-1]), _table_at(at[:-1])
    known = [field.alias or name for name, field in table.model_fields.items()]
    if table is not JobFile and key in JobFile.model_fields and key not in known:
        remedy = "move it up, above the first [table]: below one it lands in that table"
        return f"`{key}` belongs at the top of the file", remedy
    return f"`{key}` is not a known key", did_you_mean(key, known, f"known here: {', '.join(known)}")


def _table_at(at: Keys) -> type[BaseModel]:
    """The table that stands at a path; numbers, and names that a user chose, stay in the table that holds them."""
    table: type[BaseModel] = JobFile
    for step in at:
        field = next((f for name, f in table.model_fields.items() if step in (f.alias, name)), None)
        if field is not None:
            table = _table_in(field.annotation) or table
    return table


def _table_in(annotation: Any) -> type[BaseModel] | None:
    """The table that a field holds, by itself, as a list or by name; None where it holds none."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for inner in get_args(annotation) if (found := _table_in(inner))), None)


def _as_typed(value: Any) -> str:
    """A value much as it stands in the file; nothing for lists and for tables that hold more than plain values."""
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


def depth(value: Any) -> int:
    """How deep tables and lists are nested, without recursion."""
    deepest, level = 0, [value]
    while level and deepest <= DEEPEST:
        inner: list[Any] = []
        for item in level:
            if isinstance(item, dict):
                inner += item.values()
            elif isinstance(item, list):
                inner += item
        deepest, level = deepest + 1, inner
    return deepest
