"""Reading a file that may be anything: size, kind and encoding are looked at before anything trusts it."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Callable
from pathlib import Path
from threading import RLock

from shimopt.errors import InputError, nearest_name
from shimopt.machine import flags_of_a_plain_read

ONE_QUOTE = (
    "between double quotes a backslash has a meaning of its own: write the path between single quotes, "
    "or with / between the folders"
)
MOST_TABLE_BYTES = 32 * 1024 * 1024
# held while a file is read, and while a database in a file is open: a process that closes a file loses all its locks on
# it, and what somebody names as a table may be that database
one_at_a_time = RLock()
MOST_LISTED = 100  # problems of one file that are listed; a wrong file has more than anyone reads


def file_bytes(path: Path, most: int, what: str) -> bytes:
    """The bytes of a regular file of at most `most` bytes. Raises InputError."""

    def refuse(value: str, rule: str, remedy: str) -> InputError:
        return InputError.at(path, rule, remedy, value=value)

    with one_at_a_time:
        return _read(path, most, what, refuse)


def _read(path: Path, most: int, what: str, refuse: Callable[[str, str, str], InputError]) -> bytes:
    try:
        # O_NONBLOCK: opening a FIFO must not wait for a writer that never comes
        handle = os.open(path, flags_of_a_plain_read)
    except FileNotFoundError:
        raise refuse("", f"there is no such {what}", nearby_remedy(path)) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        # what a spreadsheet has open cannot be read on some systems
        open_there = "; if it is open in another program, close it there" if isinstance(error, PermissionError) else ""
        remedy = f"check the path and its permissions{open_there}"
        raise refuse("", f"the {what} cannot be opened ({reason})", remedy) from None
    info = os.fstat(handle)
    if not stat.S_ISREG(info.st_mode):
        os.close(handle)
        raise refuse("", f"the {what} is not an ordinary file", "name a file, not a folder, device or pipe")
    with os.fdopen(handle, "rb") as file:
        if info.st_size > most:
            raise refuse(f"{info.st_size:,} bytes", f"a {what} is at most {most:,} bytes", "is it the right file?")
        try:
            return file.read(most + 1)
        except OSError as error:
            raise refuse("", f"the {what} cannot be read ({error.strerror})", "check the disk") from None


def fingerprint_of(raw: bytes) -> str:
    """A short name for exactly this content of a file."""
    return hashlib.sha256(raw).hexdigest()


def file_fingerprint(path: Path) -> str:
    """The same for the content that a file has now; empty where it cannot be read."""
    try:
        # read with care: a device has no end, and a pipe waits
        return fingerprint_of(file_bytes(path, MOST_TABLE_BYTES, "file"))
    except InputError:
        return ""


_FEW = 3  # job files that are named


def nearby_remedy(path: Path) -> str:
    """What to do about a file that is not there: the name that was probably meant."""
    if not path.name.isprintable():
        # "..\\table.csv" between double quotes holds a tab
        return ONE_QUOTE
    try:
        names = [entry.name for entry in path.parent.iterdir()] if path.parent.is_dir() else []
    except OSError:
        names = []
    if meant := nearest_name(path.name, names):
        return f"did you mean {path.parent / meant}?"
    alike = sorted(name for name in names if name.endswith(".toml") and path.suffix == ".toml")
    if 0 < len(alike) <= _FEW:
        return f"the folder holds {', '.join(alike)}: name that, like {path.parent / alike[0]}"
    if path.name == "job.toml" and names:
        within = sorted(name for name in names if (path.parent / name / "job.toml").is_file())
        if within:
            more = f" (and {len(within) - 1} more)" if within[1:] else ""
            return f"the folder holds jobs: name one of them, {path.parent / within[0]}{more}"
        # a folder of tables is not where a job is to be started
        return f"the folder holds no job.toml; a new job is started elsewhere: shimopt new {path.parent.name}-job"
    return "check the name and the folder"


def decoded(raw: bytes, path: Path, what: str, *, strict_utf8: bool = False) -> str:
    """Text from bytes: UTF-8 with or without mark, UTF-16 with mark, else Windows-1252 unless UTF-8 is a must."""
    marked_utf16 = raw.startswith((b"\xff\xfe", b"\xfe\xff"))
    encodings = ["utf-16"] if marked_utf16 else ["utf-8-sig"] if strict_utf8 else ["utf-8-sig", "cp1252"]
    where = ""
    for encoding in encodings:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError as error:
            where = where or ("" if marked_utf16 else f"line {1 + raw[: error.start].count(10)}")
            continue
        # zero bytes: UTF-16 without its mark, or no text at all
        if "\0" not in text:
            return text
    raise InputError.at(path, f"the {what} is not text in UTF-8", "save it again as UTF-8", where=where)
