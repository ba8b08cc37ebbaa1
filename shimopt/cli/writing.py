"""Writing a result: whole or not at all, and never over an input."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable
from pathlib import Path

from shimopt.errors import InputError, Problem
from shimopt.tables.replacing import replace_file

__all__ = ["refuse_input", "write_text"]


def refuse_input(path: Path, inputs: Iterable[str]) -> None:
    """Raise InputError where the result would replace a file that it was made from, or something that is no file."""
    for name in inputs:
        try:
            same = path.exists() and os.path.samefile(path, name)
        except OSError:
            same = False
        if same:
            raise _refused(path, "the output is one of the job's own files", "choose another name")
    if path.is_dir() or (path.exists() and not stat.S_ISREG(path.stat().st_mode)):
        raise _refused(path, "the output is not an ordinary file", "name a file, or - for standard output")


def write_text(path: Path, text: str) -> None:
    """Write a text file atomically, in UTF-8. Raises InputError."""
    replace_file(path, text.encode())


def _refused(path: Path, rule: str, remedy: str) -> InputError:
    return InputError([Problem(str(path), "", "", rule, remedy)])
