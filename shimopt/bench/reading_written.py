"""Readings written into the files that a job is read from: comments, order and everything else stay as they were."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from shimopt.bench.gap_as_written import FORMS, GapAsWritten, as_written
from shimopt.bench.reading_said import Said
from shimopt.bench.table_row import bracket_of, cells_of, with_row
from shimopt.errors import FaultError, InputError, Problem
from shimopt.job.from_files import read_toml
from shimopt.machine import beside
from shimopt.recording.job_file import parsed_job, read_job_file, tables_of
from shimopt.tables.edit import read_to_change
from shimopt.tables.locking import locked
from shimopt.tables.replacing import replace_file
from shimopt.words.bench_words import RECORDED

# who is at a file for longer is waited for elsewhere: the reading is written with the next plan [s]
_LONGEST_WAIT = 5.0


@dataclass(frozen=True, slots=True)
class ToWrite:
    """A reading that is to stand in the job's file.

    `over` says what may stand there before, as `told` tells it; None where a person chose, and anything may. `seq` is
    its number in the log.
    """

    seq: int
    gap: str
    said: Said
    over: tuple[Any, ...] | None


@dataclass(frozen=True, slots=True)
class Written:
    """What became of readings: those that stand in the file now; what stands there where it is something else.

    `refused` are those that by themselves cannot stand there; `problems` say why others could not be written by now.
    """

    written: tuple[int, ...] = ()
    otherwise: tuple[tuple[int, Any], ...] = ()
    refused: tuple[tuple[int, tuple[Problem, ...]], ...] = ()
    problems: tuple[Problem, ...] = ()


class _NoSuchReadingError(Exception):
    """A reading by itself cannot stand there; any other trouble is one of the files, and is tried again."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__(problems)


@contextmanager
def _by_itself() -> Iterator[None]:
    try:
        yield
    except InputError as error:
        raise _NoSuchReadingError(error.problems) from error


def write_readings(path: Path, readings: Sequence[ToWrite], dropped: Callable[[], bool] = lambda: False) -> Written:
    """Write what may be written; a reading that cannot be holds up none of the others.

    Raises InputError where the job's file cannot be read or written at all. Parameter: dropped, whether newer readings
    are being written elsewhere; asked once nobody else can write.
    """
    done, otherwise = list[int](), list[tuple[int, Any]]()
    refused, problems = list[tuple[int, tuple[Problem, ...]]](), list[Problem]()
    with locked(path, _LONGEST_WAIT, "job"):
        if dropped():
            return Written()
        raw, text = read_toml(path), read_job_file(path)
        gaps, new_text = as_written(raw), text
        for one in readings:
            try:
                if one.gap in gaps:
                    new_text, told = _in_text(path, raw, new_text, gaps[one.gap], one)
                else:
                    told = _write_row(path, raw, one)
            except _NoSuchReadingError as error:
                refused.append((one.seq, error.problems))
            except InputError as error:
                problems += error.problems
            except Exception as error:  # whatever it is, the other readings are written, and this one is tried again
                rule = f"a fault of our own ({type(error).__name__}: {str(error)[:300]})"
                problems.append(Problem(str(path), one.gap, "", rule, "please report this line with the job's files"))
            else:
                if told is None:
                    done.append(one.seq)
                else:
                    otherwise.append((one.seq, told))
        if new_text != text:
            replace_file(path, new_text.encode(), "job file")
    return Written(tuple(done), tuple(otherwise), tuple(refused), tuple(problems))


def _in_text(path: Path, raw: Mapping[str, Any], text: str, now: GapAsWritten, one: ToWrite) -> tuple[str, Any | None]:
    """The job file's text with a reading in it; and what stands there where it may not be put over it."""
    with _by_itself():
        new = now.with_said(one.said)
        if new.same_as(now):
            return text, None
        _refuse_recorded(path, raw, one)
    if one.over is not None and now.told() not in one.over:
        return text, now.told()
    return with_gaps(path, text, {one.gap: (new, one.said.checked)}), None


def _refuse_recorded(path: Path, raw: Mapping[str, Any], one: ToWrite) -> None:
    """What was read before a record must not be changed under it."""
    if raw.get("record"):
        raise InputError.at(path, RECORDED, "give it there", where=one.gap)


def _write_row(path: Path, raw: Mapping[str, Any], one: ToWrite) -> Any | None:
    """Write a reading into its row of the table of gaps; what stands there where it may not be."""
    name, again = raw.get("gaps"), "load the page again"
    with _by_itself():
        if not isinstance(name, str):
            raise InputError.at(path, "the job has no gap of this name any more", again, where=one.gap)
        bracket = bracket_of(one.said, str(raw.get("unit", "mm")), one.gap)
    file = beside(path.parent, name)
    with locked(file, _LONGEST_WAIT, "table of gaps"):
        table = read_to_change(file)
        row = next((row for row in table.rows if table.cell(row, "gap") == one.gap), None)
        if row is None:
            with _by_itself():
                raise InputError.at(file, "the table has no gap of this name any more", again, where=one.gap)
        now, changed = cells_of(table, row), with_row(file, row, bracket, checked=one.said.checked)
        if cells_of(changed, row) == now:
            return None
        with _by_itself():
            _refuse_recorded(path, raw, one)
        if one.over is not None and now not in one.over:
            return now
        changed.save()
    return None


def with_gaps(path: Path, text: str, changed: Mapping[str, tuple[GapAsWritten, bool]]) -> str:
    """The text of a job's file with other readings of some gaps. Raises InputError, FaultError."""
    _, mark = parsed_job(path, text)
    pieces = tables_of(text.removeprefix(mark))
    for at, piece in enumerate(pieces):
        document, _ = parsed_job(path, piece)
        for table in [one for one in document.get("gap", []) if one["name"] in changed]:
            _put(table, *changed[table["name"]])
            pieces[at] = document.as_string()
    found = "".join(pieces)
    found = mark + (re.sub(r"(?<!\r)\n", "\r\n", found) if "\r\n" in text else found)
    _check_kept(text.removeprefix(mark), found.removeprefix(mark), changed)
    return found


def _put(table: Any, now: GapAsWritten, checked: bool) -> None:
    """Put a reading into the table of its gap, in the place of the one that was there."""
    import tomlkit

    old = as_written({"gap": [table]})[table["name"]].form
    if old == now.form and (pairs := _alike(table[old], now.value)):
        # within its braces what stays is not touched
        for there, new in pairs:
            for key, value in new.items():
                if str(there[key]) != str(value):
                    there[key] = _item(value)
    elif old == now.form:
        table[old] = _item(now.value)
    else:
        # tables below a gap's own keys come after them
        below = [(key, it) for key, it in table.items() if isinstance(it, tomlkit.items.Table | tomlkit.items.AoT)]
        for key, _ in ((old, None), *below):
            del table[key]
        for key, it in ((now.form, _item(now.value)), *below):
            table[key] = it
    if checked:
        table["checked"] = True
    elif "checked" in table:
        del table["checked"]


def _alike(there: Any, new: Any) -> list[tuple[Any, Any]]:
    """The tables of a reading, each beside what it is to hold; none where they have not the same keys."""
    old, now = ([one] if isinstance(one, dict) else one for one in (there, new))
    if not (isinstance(old, list) and isinstance(now, list) and len(old) == len(now)):
        return []
    pairs = list(zip(old, now, strict=True))
    same = all(isinstance(a, dict) and isinstance(b, dict) and a.keys() == b.keys() for a, b in pairs)
    return pairs if same else []


def _item(value: Any) -> Any:
    """A plain value as tomlkit holds it, laid out as a person would, decimals with the digits that were typed."""
    import tomlkit

    if isinstance(value, dict):
        inner = ", ".join(f"{key} = {_item(it).as_string()}" for key, it in value.items())
        return tomlkit.value(f"{{ {inner} }}")
    if isinstance(value, list):
        return tomlkit.value(f"[{', '.join(_item(it).as_string() for it in value)}]")
    return tomlkit.value(f"{value:f}") if isinstance(value, Decimal) else tomlkit.item(value)


def _check_kept(old: str, new: str, changed: Mapping[str, Any]) -> None:
    """All but the readings must read as before, and the readings as they were said."""
    before, after = (tomllib.loads(text, parse_float=Decimal) for text in (old, new))
    found = as_written(after)
    if any(not found[name].same_as(now) for name, (now, _) in changed.items()):
        raise FaultError("the job file would not have held what was read")
    for raw in (before, after):
        for gap in raw.get("gap", []):
            if gap.get("name") in changed:
                for key in (*FORMS, "checked"):
                    gap.pop(key, None)
    if before != after:
        raise FaultError("the job file would not have kept what was in it")
