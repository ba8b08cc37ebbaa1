"""The raw contents of job.toml: only plain values, floats as exact decimals, no surprise from the parser."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

from shimopt.errors import InputError, Problem
from shimopt.parts.files import decoded, file_bytes

__all__ = ["job_path", "read_toml"]

_MOST_JOB_BYTES = 4 * 1024 * 1024
_DEEPEST = 12


def job_path(path: Path) -> Path:
    """The job file itself, where the folder that holds it was named."""
    return path / "job.toml" if path.is_dir() else path


def read_toml(path: Path) -> dict[str, Any]:
    """Parse a job file. Raises InputError with line and column."""
    text = decoded(file_bytes(path, _MOST_JOB_BYTES, "job file"), path, "job file", strict_utf8=True)
    if not text.strip():
        raise InputError([Problem(str(path), "", "", "the job file is empty", "start one with: shimopt new FOLDER")])
    try:
        raw = tomllib.loads(text, parse_float=_decimal)
    except RecursionError:
        raise _too_deep(path) from None
    except tomllib.TOMLDecodeError as error:
        raise InputError([_syntax_problem(path, str(error), text)]) from None
    except ValueError as error:
        # numbers of thousands of digits, dates such as 2026-02-31
        rule = f"a value is out of range ({error})"
        raise InputError([Problem(str(path), "", "", rule, "check long numbers and dates")]) from None
    if _depth(raw) > _DEEPEST:
        raise _too_deep(path)
    return raw


def _decimal(text: str) -> Decimal:
    # refused later with its place, like nan and inf; an absurd exponent must not reach Decimal's own limits
    return Decimal(text) if len(text) <= 80 else Decimal("NaN")


def _syntax_problem(path: Path, message: str, text: str) -> Problem:
    found = re.search(r"^(?P<what>.*?) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)", message)
    if found is None:
        return Problem(str(path), "", "", f"this is not TOML ({message})", "check quotes, brackets and equal signs")
    line = int(found["line"]) if found["line"] else text.count("\n") + 1
    where = f"line {line}, column {found['column']}" if found["column"] else f"line {line}, end of the file"
    lines = text.splitlines()
    value = lines[line - 1].strip()[:80] if 0 < line <= len(lines) else ""
    return Problem(str(path), where, value, f"this is not TOML ({found['what']})",
                   "check quotes, brackets and equal signs there")  # fmt: skip


def _too_deep(path: Path) -> InputError:
    return InputError([Problem(str(path), "", "", "the tables are nested deeper than a job can be", "flatten them")])


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
