"""Writing a record into job.toml: everything else in it stays as it was, comments and order included."""

from __future__ import annotations

import datetime
import re
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from fractions import Fraction
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from shimopt.errors import FaultError, InputError, Problem, writable
from shimopt.job import Job
from shimopt.job.record import Record, RecordTable
from shimopt.lengths import UNITS, Bracket, decimal_text
from shimopt.parts.drawer import FittedPiece
from shimopt.tables.files import file_bytes, fingerprint_of
from shimopt.tables.locking import locked
from shimopt.tables.replacing import replace_file, replacing_files

_MOST_BYTES = 8 * 1024 * 1024
_BOM = "\ufeff"
# where a table begins that is none below another
_HEADER = re.compile(r"^[ \t]*\[\[?[ \t]*[\w-]+[ \t]*\]", re.ASCII | re.MULTILINE)


class JobChangedError(InputError):
    """The job's file is no longer as it was read: somebody else changed it."""

    def __init__(self, path: Path, last: Record | None) -> None:
        rule = "somebody else changed the job since it was read"
        who = "" if last is None else f"recorded on {last.date[:10]} by {last.person}"
        super().__init__([Problem(str(path), "", who, rule, "look at it again: shimopt plan, then record again")])


class JobFile:
    """A job file under its lock, into which one record is put; without a path nothing is written.

    `drawer` is the drawer that it names from then on, None where it goes on with the one it has; `written` whether
    anything was put into it. Parameters: version, its fingerprint when the job was read; replace_last, whether the
    record stands in it already, as its last; keep_copy, whether the file as it was is kept beside it (`copy`).
    """

    def __init__(self, path: Path | None, unit: str, version: str, *, replace_last: bool, keep_copy: bool) -> None:
        self._path, self._unit = path, unit
        self._was = self._text = "" if path is None else read_job_file(path)
        self._changed = bool(version) and fingerprint_of(self._was.encode()) != version
        self._last, self._keeps = replace_last, keep_copy
        self.copy: Path | None = None
        self.drawer: Path | None = None
        self.written = False

    def take_drawer(self, path: Path) -> None:
        """Name this drawer from then on."""
        self.drawer = path

    def told_since(self, said: Callable[[Record], bool]) -> Record | None:
        """The record that somebody else wrote since the job was read, where it says what is to be said now.

        None where nothing changed. Raises JobChangedError where the file says something else now.
        """
        if self._path is None or not self._changed:
            return None
        last = _last_record(self._was)
        if last is None or not said(last):
            raise JobChangedError(self._path, last)
        return last

    def put(self, record: Record | None) -> None:
        """Write the record, or its newer state. Raises InputError, FaultError; the file is then as it was."""
        if self._path is None:
            return
        text = self._text if self.drawer is None else _with_drawer(self._path, self._text, self.drawer)
        if record is not None:
            text = job_with_record(self._path, text, record, self._unit, replace_last=self._last)
        if writable(text) != text:
            rule, remedy = "what was said of it holds signs that no file can hold", "type it again"
            raise InputError.at(self._path, rule, remedy)
        if self._keeps and self.copy is None:
            copy = self._path.with_name(f"{self._path.name}.bak")
            with replacing_files({copy: self._was.encode(), self._path: text.encode()}, "job file"):
                self.copy = copy
        else:
            replace_file(self._path, text.encode(), "job file")
        self._text, self.written = text, True
        self._last = self._last or record is not None

    def put_back(self) -> None:
        """Write the file as it was. Raises InputError."""
        if self._path is not None and self._text != self._was:
            replace_file(self._path, self._was.encode(), "job file")
            self._text, self.written = self._was, False


@contextmanager
def opened(job: Job, *, replace_last: bool = False, keep_copy: bool = True) -> Iterator[JobFile]:
    """The job's file, locked for as long as it is being changed. Raises InputError."""
    if job.sources is None:
        yield JobFile(None, job.unit, "", replace_last=replace_last, keep_copy=keep_copy)
        return
    path, version = job.sources.job, job.sources.version
    with locked(path, what="job"):
        yield JobFile(path, job.unit, version, replace_last=replace_last, keep_copy=keep_copy)


def read_job_file(path: Path) -> str:
    """The text of a job file, its line ends and mark kept. Raises InputError."""
    try:
        return file_bytes(path, _MOST_BYTES, "job file").decode("utf-8")
    except UnicodeDecodeError:
        raise InputError.at(path, "the job file is not UTF-8", "save it again as UTF-8") from None


def parsed_job(path: Path, text: str) -> tuple[tomlkit.TOMLDocument, str]:
    """The text as it can be changed without its mark, and the mark of its encoding. Raises InputError."""
    mark = _BOM if text.startswith(_BOM) else ""
    try:
        return tomlkit.parse(text.removeprefix(mark)), mark
    except TOMLKitError as error:
        raise InputError.at(path, f"the job file cannot be changed ({error})", "check its TOML") from None


def tables_of(text: str) -> list[str]:
    """The text cut before each of its tables, the first piece what stands before them; what stands below one with it.

    Changed piece by piece, tables of several kinds stay in their order: TOML Kit puts those of one kind together.
    """
    pieces, begin = [], 0
    for end in (*(found.start() for found in _HEADER.finditer(text)), len(text)):
        # what only looks like a table's head, within a text of several lines, cuts nothing
        with suppress(tomllib.TOMLDecodeError):
            tomllib.loads(text[begin:end])
            pieces.append(text[begin:end])
            begin = end
    return [*pieces, text[begin:]]


def _last_record(text: str) -> Record | None:
    """The last record in a job file's text, None where there is none that can be read."""
    try:
        tables = tomllib.loads(text.removeprefix(_BOM)).get("record") or [None]
        return None if tables[-1] is None else RecordTable.model_validate(tables[-1]).record()
    except (ValueError, TypeError, KeyError):
        return None


def _ends_as_before(old: str, new: str) -> str:
    return re.sub(r"(?<!\r)\n", "\r\n", new) if "\r\n" in old else new


def job_with_record(path: Path, text: str, record: Record, unit: str, *, replace_last: bool = False) -> str:
    """The text with one more `[[record]]`, or with the last one replaced. Raises InputError, FaultError."""
    document, mark = parsed_job(path, text)
    own = text.removeprefix(mark)
    if document.get("record") is None:
        # a blank line before it, as between all other tables
        blank = re.search(r"\n\r?\n\Z", own) is not None
        added = tomlkit.document()
        added.append("record", tomlkit.aot())
        added["record"].append(_table(record, unit))
        found = (own if blank else f"{own.rstrip()}\n\n") + added.as_string()
    else:
        pieces = tables_of(own)
        at, last = [(n, it) for n, piece in enumerate(pieces) if (it := parsed_job(path, piece)[0]).get("record")][-1]
        if replace_last:
            last["record"][-1].update(_states(record))
        else:
            last["record"].append(_table(record, unit))
        pieces[at] = last.as_string()
        found = "".join(pieces)
    changed = _ends_as_before(text, found)
    _check_kept(text.removeprefix(mark), changed, "record")
    return mark + changed


def _with_drawer(path: Path, text: str, drawer: Path) -> str:
    """The text with another file of the same folder as its drawer. Raises InputError, FaultError."""
    _, mark = parsed_job(path, text)
    head, *tables = tables_of(text.removeprefix(mark))
    document, _ = parsed_job(path, head)
    if "drawer" not in document:
        raise InputError([Problem(str(path), "drawer", "", "the job names no drawer", f"name it: {drawer.name}")])
    document["drawer"] = Path(str(document["drawer"])).with_name(drawer.name).as_posix()
    changed = _ends_as_before(text, document.as_string() + "".join(tables))
    _check_kept(text.removeprefix(mark), changed, "drawer")
    return mark + changed


def _check_kept(old: str, new: str, changed: str) -> None:
    """All but what is changed must read as before."""
    before, after = ({k: v for k, v in tomllib.loads(text).items() if k != changed} for text in (old, new))
    if before != after:
        raise FaultError("the job file would not have kept what was in it")


def _states(record: Record) -> dict[str, str]:
    told = {"drawer": record.drawer, "drawer_before": record.drawer_before, "drawer_after": record.drawer_after}
    return {key: value for key, value in told.items() if value}


def as_table(record: Record, unit: str) -> dict[str, Any]:
    """The record as plain values, as a job's `[[record]]` has them; lengths in `unit`."""
    table: dict[str, Any] = {
        "id": record.id,
        "date": _date(record.date),
        "person": record.person,
        "instrument": record.instrument,
        **_states(record),
    }
    if record.places:
        table["place"] = [
            {"name": name, "installed": [_piece(piece, unit) for piece in pieces]}
            for name, pieces in record.places.items()
        ]
    table["gap"] = []
    for name, found in record.gaps.items():
        read = {} if found.read is None else {"read": _length(found.read, unit)}
        more: dict[str, Any] = {} if found.running is None else {"running_torque": str(found.running)}
        more |= {"machined": found.machined} if found.machined else {}
        more |= {"pulls": found.pulls} if found.pulls else {}
        pair = dict(zip(("go", "no_go"), (_text(Fraction(blade), unit) for blade in found.blades or ()), strict=False))
        table["gap"].append({"name": name, "predicted": _length(found.predicted, unit), **read, **pair, **more})
    return table


def _piece(piece: FittedPiece, unit: str) -> dict[str, Any]:
    tag = {} if piece.piece is None else {"piece": piece.piece}
    was = {"was": [_length(one, unit) for one in piece.was]} if piece.was else {}
    origin = {key: told for key, told in (("supplier", piece.supplier), ("lot", piece.lot)) if told}
    return {"part": piece.part, **tag, "thickness": _length(piece.thickness, unit), **was, **origin}


def _table(record: Record, unit: str) -> Any:
    """The same laid out for a person: a table per place and gap, pieces and brackets each in a line."""
    table = tomlkit.table()
    for key, value in as_table(record, unit).items():
        if key not in ("place", "gap"):
            table[key] = value
            continue
        entries = tomlkit.aot()
        for each in value:
            entry = tomlkit.table()
            for name, inner in each.items():
                entry[name] = _in_a_line(inner)
            entries.append(entry)
        table[key] = entries
    return table


def _in_a_line(value: Any) -> Any:
    if isinstance(value, dict):
        line = tomlkit.inline_table()
        line.update({key: _in_a_line(inner) for key, inner in value.items()})
        return line
    if isinstance(value, list):
        array = tomlkit.array()
        for inner in value:
            array.append(_in_a_line(inner))
        return array
    return value


def _date(text: str) -> Any:
    return datetime.datetime.fromisoformat(text) if "T" in text else datetime.date.fromisoformat(text)


def _length(bracket: Bracket, unit: str) -> Any:
    """A bracket as a person would write it; ends that are no whole nanometres are rounded outward."""
    low, high = bracket.low.__floor__(), bracket.high.__ceil__()
    if low == high:
        return _text(Fraction(low), unit)
    if abs(bracket.best - Fraction(low + high, 2)) < 1 and (low + high) % 2 == 0:
        return f"{_text(Fraction(low + high, 2), unit)} ± {_text(Fraction(high - low, 2), unit)}"
    best = min(max(round(bracket.best), low), high)
    return {key: _text(Fraction(nm), unit) for key, nm in (("low", low), ("best", best), ("high", high))}


def _text(nm: Fraction, unit: str) -> str:
    """A length in the unit where six decimals hold it exactly, else in mm, where they always do."""
    for each in (unit, "mm"):
        if (nm * 10**6 / UNITS[each]).denominator == 1:
            return f"{decimal_text(nm, each)} {each}"
    raise FaultError(f"{nm} nm is no whole number of nanometres")
