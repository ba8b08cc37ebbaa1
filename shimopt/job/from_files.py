"""A job from files: job.toml, which holds only plain values and floats as exact decimals, and the tables it names."""

from __future__ import annotations

import os
import re
import tomllib
from dataclasses import replace
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from shimopt.errors import InputError, Problem, did_you_mean
from shimopt.job.build import Named, job_of
from shimopt.job.gap import Window
from shimopt.job.gaps_table import GapRows, read_gaps_table
from shimopt.job.job_errors import DEEPEST, Written, depth
from shimopt.job.model import Job, Sources
from shimopt.machine import beside, is_folder
from shimopt.parts.csv_drawer import CsvDrawer
from shimopt.parts.drawer import Drawer
from shimopt.parts.drawer_and_catalogues import Stock, beside_catalogues, load_stock, models_of
from shimopt.parts.standards import catalogue_folder
from shimopt.stock.meant import drawer_meant
from shimopt.tables.files import ONE_QUOTE, decoded, file_bytes, file_fingerprint

_MOST_JOB_BYTES = 4 * 1024 * 1024
_LONGEST_NUMBER = 80
_MOST_POINTS = 300
# numbers that TOML does not take, where a value stands: .004 and 4., and after an equal sign 0,35
_POINT_AT_END = re.compile(r"[=\[,]\s*(?P<number>[+-]?(?:\.\d+|\d+\.))\s*(?=[,}\]#]|$)", re.ASCII)
_DECIMAL_COMMA = re.compile(r"=\s*(?P<number>[+-]?\d+,\d+)\s*(?=[,}#]|$)", re.ASCII)
_LONG_NUMBER = re.compile(r"[0-9a-fA-F_.]{81,}|[eE][+-]?[0-9_]{10,}")


def load_job(
    path: str | os.PathLike[str], *, drawer: str | os.PathLike[str] | None = None, from_start: bool = False
) -> Job:
    """Read a job and everything that it names.

    Parameters: path, the job file or the folder that holds `job.toml`; drawer, a drawer to use in place of the job's;
    from_start, whether to pass over what was recorded: else the job starts from its last record.
    Raises InputError with every problem found.

    >>> import shimopt
    >>> shimopt.load_job("demo_data/swing-bridge").title
    'Swing bridge drive, idler shafts'
    """
    file = job_path(Path(path))
    # before it is read: whoever changes it in between is noticed when something is to be written into it
    version = file_fingerprint(file)
    written = Written(read_toml(file), str(file))
    own_drawer = None if drawer is None else Path(drawer)

    def named(window: Window | None, problems: list[Problem]) -> Named:
        found = named_files(written, file.parent, window, problems, drawer=own_drawer, file=file)
        sources = replace(found.sources, job=file, version=version) if found.sources else None
        return replace(found, inputs=(str(file), *found.inputs), sources=sources)

    return job_of(written, named, from_start=from_start)


def named_files(
    written: Written,
    folder: Path,
    window: Window | None,
    problems: list[Problem],
    *,
    drawer: Path | None = None,
    file: Path | None = None,
) -> Named:
    """Stock and gap rows from what a job names, relative to `folder`; what is wrong is added to `problems`.

    `drawer` stands in place of the job's own; `file` is the job's, for which a stock may hold pieces.
    """
    raw = written.raw
    names = raw.get("catalogues", [])
    catalogues = [name for name in names if isinstance(name, str)] if isinstance(names, list) else []
    paths = [found for name in catalogues if (found := catalogue_file(name, folder, written, problems))]
    stock, table = Stock(()), drawer
    kept: Drawer | None = None
    files, key = tuple[str, ...](), ""
    try:
        if shared := drawer_meant(drawer or written.text("drawer")):
            # most jobs have their drawer in a file, and need no database
            from shimopt.stock.address import drawer_for_job

            offered = load_stock(None, paths)
            of_stock = drawer_for_job(shared, folder, file, written.text("title") or "", models_of(offered))
            stock = beside_catalogues(of_stock.stock(), offered)
            kept, table, files, key = of_stock, None, of_stock.files, of_stock.key
        else:
            if drawer is None and (name := written.text("drawer")):
                table = beside(folder, name)
            stock = load_stock(table, paths, complete=len(paths) == len(catalogues))
    except InputError as error:
        problems += error.problems
    gaps = beside(folder, name) if (name := written.text("gaps")) else None
    rows = GapRows() if gaps is None else read_gaps_table(gaps, window, problems)
    if table is not None:
        kept = CsvDrawer(table, paths)
    inputs = (*(str(path) for path in (table, *paths, gaps) if path is not None), *files)
    return Named(stock, rows, inputs, Sources(Path(), table, tuple(paths), stock=key), kept)


def built_in_catalogues() -> dict[str, Path]:
    """Catalogues that come with shimopt, by name."""
    folder = catalogue_folder()
    return {file.stem: file for file in sorted(folder.glob("*.csv"))} if folder.is_dir() else {}


def catalogue_file(name: str, folder: Path, written: Written, problems: list[Problem]) -> Path | None:
    """The file that a catalogue's name means: one beside the job, or one that comes with shimopt."""
    try:
        if (file := beside(folder, name)).exists():
            return file
    except (OSError, ValueError):
        pass
    built_in = built_in_catalogues()
    if name in built_in:
        return built_in[name]
    try:
        files = sorted(entry.name for entry in folder.iterdir() if entry.is_file())
    except OSError:
        files = []
    otherwise = f"name a file, or one of: {', '.join(built_in) or 'none built in'}"
    remedy = did_you_mean(name, [*built_in, *files], otherwise)
    problems.append(written.problem(("catalogues",), name, "there is no such catalogue", remedy))
    return None


def job_path(path: Path) -> Path:
    """The job file itself, where the folder that holds it was named."""
    # a path that cannot even be looked at is refused where it is opened
    return path / "job.toml" if is_folder(path) else path


def read_toml(path: Path) -> dict[str, Any]:
    """Parse a job file. Raises InputError with line and column."""
    text = decoded(file_bytes(path, _MOST_JOB_BYTES, "job file"), path, "job file", strict_utf8=True)
    if not text.strip():
        raise InputError.at(path, "the job file is empty", "start one with: shimopt new FOLDER")
    _refuse_endless_keys(text, path)
    try:
        raw = tomllib.loads(text, parse_float=_decimal)
    except RecursionError:
        raise _too_deep(path, "") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError([_syntax_problem(path, str(error), text)]) from None
    except ValueError:
        raise InputError([_long_number(path, text)]) from None
    if deep := [key for key, value in raw.items() if depth(value) > DEEPEST]:
        raise _too_deep(path, deep[0])
    return raw


def _refuse_endless_keys(text: str, path: Path) -> None:
    # a key of very many parts (a.a.a...) would keep the parser busy for hours
    for number, line in enumerate(text.split("\n"), start=1):
        if line.count(".") > _MOST_POINTS:
            rule = f"a line has at most {_MOST_POINTS} points"
            raise InputError.at(path, rule, "break it over several lines", where=f"line {number}", value=line[:80])


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
    if number := _number_meant(value):
        rule = "a number is written with a digit before its point, another after it, and no comma"
        return Problem(str(path), where, value, rule, f"write {number}")
    if "\\" in value and re.match(r"Invalid hex value|Unescaped", found["what"]):
        return Problem(str(path), where, value, "this is not TOML", ONE_QUOTE)
    return Problem(
        str(path), where, value, f"this is not TOML ({found['what']})", "check quotes, brackets and equal signs there"
    )


def _number_meant(line: str) -> str:
    """The number that TOML does not take as it stands in a line: `.004`, `4.` or `0,35`; empty where there is none."""
    found = _POINT_AT_END.search(line) or _DECIMAL_COMMA.search(line)
    if found is None:
        return ""
    whole, _, part = found["number"].replace(",", ".").partition(".")
    return f"{whole}{'' if whole[-1:].isdigit() else 0}.{part or 0}"


def _too_deep(path: Path, where: str) -> InputError:
    return InputError.at(path, "the tables are nested deeper than a job can be", "flatten them", where=where)
