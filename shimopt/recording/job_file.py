"""Writing a record into job.toml: everything else in it stays as it was, comments and order included."""

from __future__ import annotations

import datetime
import re
import tomllib
from fractions import Fraction
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from shimopt.errors import FaultError, InputError, Problem
from shimopt.job.record import Record
from shimopt.lengths import UNITS, Bracket
from shimopt.tables.files import file_bytes
from shimopt.tables.replacing import replace_file

__all__ = ["job_with_record", "keep_copy", "read_job_text", "write_job_text"]

_MOST_BYTES = 8 * 1024 * 1024
_BOM = "\ufeff"


def read_job_text(path: Path) -> str:
    """The text of a job file, its line ends and mark kept. Raises InputError."""
    try:
        return file_bytes(path, _MOST_BYTES, "job file").decode("utf-8")
    except UnicodeDecodeError:
        raise InputError([Problem(str(path), "", "", "the job file is not UTF-8", "save it again as UTF-8")]) from None


def write_job_text(path: Path, text: str) -> None:
    """Replace the job file, whole or not at all. Raises InputError."""
    replace_file(path, text.encode("utf-8"), "job file")


def keep_copy(path: Path, text: str) -> Path:
    """Keep the job file as it was, beside it. Raises InputError."""
    copy = path.with_name(f"{path.name}.bak")
    replace_file(copy, text.encode("utf-8"), "copy of the job file")
    return copy


def job_with_record(path: Path, text: str, record: Record, unit: str, *, replace_last: bool = False) -> str:
    """The text with one more `[[record]]`, or with the last one replaced. Raises InputError, FaultError."""
    mark = _BOM if text.startswith(_BOM) else ""
    body = text.removeprefix(_BOM)
    try:
        document = tomlkit.parse(body)
    except TOMLKitError as error:
        raise InputError(
            [Problem(str(path), "", "", f"the job file cannot be changed ({error})", "check its TOML")]
        ) from None
    records = document.get("record")
    if replace_last:
        assert records is not None
        table = records[-1]
        for key, value in _states(record).items():
            table[key] = value
    elif records is None:
        document.append("record", tomlkit.aot())
        document["record"].append(_table(record, unit))
    else:
        records.append(_table(record, unit))
    changed = tomlkit.dumps(document)
    if "\r\n" in body:
        changed = re.sub(r"(?<!\r)\n", "\r\n", changed)
    _check_kept(body, changed)
    return mark + changed


def _check_kept(old: str, new: str) -> None:
    """All but the records must read as before."""
    before, after = ({k: v for k, v in tomllib.loads(text).items() if k != "record"} for text in (old, new))
    if before != after:
        raise FaultError("the job file would not have kept what was in it")


def _states(record: Record) -> dict[str, str]:
    told = {"drawer": record.drawer, "drawer_before": record.drawer_before, "drawer_after": record.drawer_after}
    return {key: value for key, value in told.items() if value}


def _table(record: Record, unit: str) -> Any:
    table = tomlkit.table()
    table["id"] = record.id
    table["date"] = _date(record.date)
    table["person"] = record.person
    table["instrument"] = record.instrument
    for key, value in _states(record).items():
        table[key] = value
    places, gaps = tomlkit.aot(), tomlkit.aot()
    for name, pieces in record.places.items():
        place = tomlkit.table()
        place["name"] = name
        installed = tomlkit.array()
        for piece in pieces:
            entry = tomlkit.inline_table()
            entry["part"] = piece.part
            if piece.piece is not None:
                entry["piece"] = piece.piece
            entry["thickness"] = _length(piece.thickness, unit)
            installed.append(entry)
        place["installed"] = installed
        places.append(place)
    for name, found in record.gaps.items():
        gap = tomlkit.table()
        gap["name"] = name
        gap["predicted"] = _length(found.predicted, unit)
        if found.read is not None:
            gap["read"] = _length(found.read, unit)
        gaps.append(gap)
    if record.places:
        table["place"] = places
    table["gap"] = gaps
    return table


def _date(text: str) -> Any:
    return datetime.datetime.fromisoformat(text) if "T" in text else datetime.date.fromisoformat(text)


def _length(bracket: Bracket, unit: str) -> Any:
    """A bracket as a person would write it; ends that are no whole nanometres are rounded outward."""
    low, high = bracket.low.__floor__(), bracket.high.__ceil__()
    if low == high:
        return _text(Fraction(low), unit)
    if abs(bracket.best - Fraction(low + high, 2)) < 1 and (low + high) % 2 == 0:
        return f"{_text(Fraction(low + high, 2), unit)} ± {_text(Fraction(high - low, 2), unit)}"
    entry = tomlkit.inline_table()
    for key, nm in (("low", low), ("best", min(max(round(bracket.best), low), high)), ("high", high)):
        entry[key] = _text(Fraction(nm), unit)
    return entry


def _text(nm: Fraction, unit: str) -> str:
    """A length in the unit where six decimals hold it exactly, else in mm, where they always do."""
    for each in (unit, "mm"):
        scaled = nm * 10**6 / UNITS[each]
        if scaled.denominator == 1:
            whole, rest = divmod(abs(scaled.numerator), 10**6)
            sign = "-" if nm < 0 else ""
            return f"{sign}{whole}.{rest:06d}".rstrip("0").rstrip(".") + f" {each}"
    raise FaultError(f"{nm} nm is no whole number of nanometres")
