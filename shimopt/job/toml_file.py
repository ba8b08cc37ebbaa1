"""The raw contents of job.toml: only plain values, floats as exact decimals, no surprise from the parser."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from shimopt.errors import InputError, Problem
from shimopt.tables.files import decoded, file_bytes

__all__ = ["job_path", "read_toml"]

_MOST_JOB_BYTES = 4 * 1024 * 1024
_DEEPEST = 12
_LONGEST_NUMBER = 80
_MOST_POINTS = 300
_LONG_NUMBER = re.compile(r"[0-9a-fA-F_.]{81,}|[eE][+-]?[0-9_]{10,}")


def job_path(path: Path) -> Path:
    """The job file itself, where the folder that holds it was named."""
    try:
        return path / "job.toml" if path.is_dir() else path
    except OSError:
        # a path that cannot even be looked at is refused where it is opened
        return path


def read_toml(path: Path) -> dict[str, Any]:
    """Parse a job file. Raises InputError with line and column."""
    text = decoded(file_bytes(path, _MOST_JOB_BYTES, "job file"), path, "job file", strict_utf8=True)
    if not text.strip():
        raise InputError([Problem(str(path), "", "", "the job file is empty", "start one with: shimopt new FOLDER")])
    _refuse_endless_keys(text, path)
    try:
        raw = tomllib.loads(text, parse_float=_decimal)
    except RecursionError:
        raise _too_deep(path, "") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError([_syntax_problem(path, str(error), text)]) from None
    except ValueError:
        raise InputError([_long_number(path, text)]) from None
    if deep := [key for key, value in raw.items() if _depth(value) > _DEEPEST]:
        raise _too_deep(path, deep[0])
    return raw


def _refuse_endless_keys(text: str, path: Path) -> None:
    # a key of very many parts (a.a.a...) would keep the parser busy for hours
    for number, line in enumerate(text.split("\n"), start=1):
        if line.count(".") > _MOST_POINTS:
            rule = f"a line has at most {_MOST_POINTS} points"
            raise InputError([Problem(str(path), f"line {number}", line[:80], rule, "break it over several lines")])


def _decimal(text: str) -> Decimal:
    if len(text) > _LONGEST_NUMBER:
        raise ValueError(text)
    try:
        return Decimal(text)
    except InvalidOperation:
        raise ValueError(text) from None


def _long_number(path: Path, text: str) -> Problem:
    """The number that no parser takes, found again by its looks: parsers don't say where it stands."""
    found = _LONG_NUMBER.search(text)
    line = f"line {text[: found.start()].count(chr(10)) + 1}" if found else ""
    value = f"{found[0][:20]}…" if found else ""
    return Problem(
        str(path),
        line,
        value,
        f"a number has at most {_LONGEST_NUMBER} digits, and an ordinary exponent",
        "write a shorter number",
    )


def _syntax_problem(path: Path, message: str, text: str) -> Problem:
    found = re.search(r"^(?P<what>.*?) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)", message)
    if found is None:
        return Problem(str(path), "", "", f"this is not TOML ({message})", "check quotes, brackets and equal signs")
    line = int(found["line"]) if found["line"] else text.count("\n") + 1
    where = f"line {line}, column {found['column']}" if found["column"] else f"line {line}, end of the file"
    lines = text.splitlines()
    value = lines[line - 1].strip()[:80] if 0 < line <= len(lines) else ""
    return Problem(
        str(path), where, value, f"this is not TOML ({found['what']})", "check quotes, brackets and equal signs there"
    )


def _too_deep(path: Path, where: str) -> InputError:
    return InputError([Problem(str(path), where, "", "the tables are nested deeper than a job can be", "flatten them")])


def _depth(value: Any) -> int:
    """How deep tables and lists are nested, without recursion."""
    deepest, level = 0, [value]
    while level and deepest <= _DEEPEST:
        inner: list[Any] = []
        for item in level:
            if isinstance(item, dict):
                inner += item.values()
            elif isinstance(item, list):
                inner += item
        deepest, level = deepest + 1, inner
    return deepest
