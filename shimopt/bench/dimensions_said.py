"""Dimensions and values, measured anew: what is typed as a bare number keeps the unit and the ± that stood there."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from shimopt.bench.reading_said import as_value
from shimopt.errors import InputError, Problem
from shimopt.job.gap import Gap
from shimopt.lengths import spelled, toleranced
from shimopt.words.bench_words import bare_words, dimension_slip_words

# common practice, no source: no wear makes thrice of a length, nor a third
_FAR = 3
_PLUS_MINUS = re.compile(r"\s*(?:±|\+/-)\s*")
_SIDED = re.compile("play|preload", re.IGNORECASE)
_BARE = re.compile(r"-?[0-9.]+ ?[^\W\d_]*")
# nothing else is changed, so that a refusal quotes what was typed
_LENGTH = re.compile(r"[0-9.]+ ?[^\W\d_]*(?: ?(?:±|\+/-).*)?")
_NUMBER = re.compile(r"(-?[0-9]+(?:\.[0-9]*)?)\s*(.*)", re.ASCII)


def ways_of(table: Mapping[str, Any]) -> str:
    """Whether a dimension is added or taken: the key that holds its length."""
    return "add" if "add" in table else "take"


def dimension_fields(tables: Sequence[Mapping[str, Any]]) -> list[dict[str, str]]:
    """Each dimension for its field: sign, name, number, unit where it has its own, what it may be off by, its crush."""
    found = []
    for table in tables:
        number, unit, half = _parts(str(table[ways_of(table)]))
        sign = "+" if ways_of(table) == "add" else "−"
        crush = f"{table['crush']}".removesuffix("%").strip() if "crush" in table else ""
        told = {"sign": sign, "name": str(table.get("name", "")), "number": number, "unit": unit, "half": half}
        found.append({**told, "crush": crush})
    return found


def with_dimensions(tables: Sequence[Mapping[str, Any]], said: Sequence[str], gap: str) -> list[dict[str, str]]:
    """The lengths by their keys, as they are to be written, one for each table. Raises InputError."""
    if len(said) != len(tables) or not all(said):
        rule = f"this gap is built up of {len(tables)} dimensions"
        remedy = "give each its length, those that were not measured again as they stand"
        raise InputError.at("", rule, remedy, where=gap, value=f"{sum(map(bool, said))}")
    return [{ways_of(old): _kept(new, str(old[ways_of(old)]))} for old, new in zip(tables, said, strict=True)]


def refuse_far(tables: Sequence[Mapping[str, Any]], said: Sequence[str], unit: str, gap: str) -> None:
    """Raise InputError with every dimension that is of another order than it was: the same part was measured anew.

    Parameter: unit, of numbers without one.
    """
    problems = list[Problem]()
    for table, typed in zip(tables, said, strict=True):
        was = str(table[ways_of(table)])
        old, new = (abs(toleranced(as_value(text), unit).best) for text in (was, _kept(typed, was)))
        if old and new and not old < _FAR * new < _FAR * _FAR * old:
            told = (spelled(new, unit), spelled(old, unit))
            problems.append(Problem("", gap, "", *dimension_slip_words(str(table.get("name", "")), *told)))
    if problems:
        raise InputError(problems)


def refuse_bare(typed: str, before: Gap, now: Gap) -> None:
    """Raise InputError with a number that does not say which side it is on, beside a preload: it would be play."""
    beside = before.window.wants_preload or before.reading.bracket.best < 0
    if beside and now.reading.bracket.best > 0 and not _SIDED.match(typed):
        raise InputError.at("", *bare_words(typed), where=before.name)


def value_over(stood: str, typed: str) -> str:
    """A value as it is to be written over another: a bare number keeps the ±, and a preload is below nothing."""
    side, _, length = typed.partition(" ")
    if side.casefold() in ("preload", "play") and _LENGTH.fullmatch(length):
        typed = f"-{length}" if side.casefold() == "preload" else length
    return _kept(typed, stood) if "±" in stood and _BARE.fullmatch(typed) else typed


def _kept(new: str, old: str) -> str:
    """What is typed, with the unit and the ± that it had where none is typed."""
    _, had_unit, had_half = _parts(old)
    number, unit, half = _parts(new, had_unit)
    told = f"{number} {unit}".strip()
    return f"{told} ± {half or had_half}" if half or had_half else told


def _parts(text: str, otherwise: str = "") -> tuple[str, str, str]:
    """Number, unit and ± of a length as it is written, empty where it has none; the ± with its unit.

    Parameter: otherwise, its unit where it names none.
    """
    middle, _, plus_minus = (part.strip() for part in _PLUS_MINUS.sub(" ± ", text).partition("±"))
    (number, unit), (half, half_unit) = _split(middle), _split(plus_minus)
    unit, half_unit = unit or half_unit or otherwise, half_unit or unit or otherwise
    return number, unit, f"{half} {half_unit}".strip() if half else ""


def _split(text: str) -> tuple[str, str]:
    found = _NUMBER.fullmatch(text)
    return (found[1], found[2].strip()) if found else (text, "")
