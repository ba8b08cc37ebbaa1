"""From job.toml and the files that it names to a Job, with every problem of all of them in one error."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from shimopt.errors import InputError, Problem, nearest_name
from shimopt.job.gap_building import GapBuilder
from shimopt.job.gaps_table import GapRow, GapRows, read_gaps_table
from shimopt.job.installed import installed_lines
from shimopt.job.model import Balance, Job, Sources, Window
from shimopt.job.places import places_of, places_of_gaps
from shimopt.job.problems import schema_problems
from shimopt.job.record import FittedPiece
from shimopt.job.schema import JobFile
from shimopt.job.seat import Seat
from shimopt.job.start import started_from_last_record
from shimopt.job.toml_file import job_path, read_toml
from shimopt.job.whole import whole_problems
from shimopt.job.window_schema import WindowTable
from shimopt.lengths import UNITS
from shimopt.parts.standards import catalogue_folder
from shimopt.parts.stock import Stock, load_stock, with_micrometer
from shimopt.tables.files import MOST_LISTED

__all__ = ["built_in_catalogues", "catalogue_file", "load_job", "too_few_allowed", "unit_of_file"]


def load_job(
    path: str | os.PathLike[str], *, drawer: str | os.PathLike[str] | None = None, from_start: bool = False
) -> Job:
    """Read a job and everything that it names.

    Parameters: path, the job file or the folder that holds `job.toml`; drawer, a drawer to use in place of the job's;
    from_start, whether to pass over what was recorded: else the job starts from its last record.
    Raises InputError with every problem found.
    """
    file = job_path(Path(path))
    raw = read_toml(file)
    problems: list[Problem] = []
    contents: JobFile | None = None
    try:
        contents = JobFile.model_validate(raw, context={"unit": unit_of_file(raw)})
    except ValidationError as error:
        # the tables are read all the same, so that one run shows everything that is wrong
        problems += schema_problems(error, raw, file)
    window = _window(contents.window) if contents else Window(-(10**10), 10**10, "") if "window" in raw else None
    stock, rows, inputs, sources = _load_named_files(file, raw, drawer, problems, window)
    if contents is not None:
        problems += too_few_allowed(contents, file)
    if problems or contents is None:
        raise InputError(problems)
    job = _job(contents, raw, rows, stock, file, (str(file), *inputs), sources)
    if from_start:
        return replace(job, records=())
    return started_from_last_record(job, stock.fingerprint)


def unit_of_file(raw: dict[str, Any]) -> str | None:
    """The job's unit; a stand-in where it is no known one, which is complaint enough, and None where it is missing."""
    unit = raw.get("unit")
    return unit if unit is None or (isinstance(unit, str) and unit in UNITS) else "mm"


def built_in_catalogues() -> dict[str, Path]:
    """Catalogues that come with shimopt, by name."""
    folder = catalogue_folder()
    return {file.stem: file for file in sorted(folder.glob("*.csv"))} if folder.is_dir() else {}


def _window(table: WindowTable | None) -> Window | None:
    return None if table is None else table.window()


def _load_named_files(
    file: Path,
    raw: dict[str, Any],
    drawer: str | os.PathLike[str] | None,
    problems: list[Problem],
    window: Window | None,
) -> tuple[Stock, GapRows, list[str], Sources]:
    """Stock and gap rows from the files that the job names, and the paths of these files."""
    folder = file.parent

    def text(key: str) -> str | None:
        return raw[key] if isinstance(raw.get(key), str) and raw[key].strip() else None

    drawer_path = Path(drawer) if drawer is not None else folder / name if (name := text("drawer")) else None
    names = raw.get("catalogues", [])
    catalogues = [name for name in names if isinstance(name, str)] if isinstance(names, list) else []
    catalogue_paths = [found for name in catalogues if (found := catalogue_file(name, folder, file, problems))]
    if drawer_path is None and "drawer" not in raw and not names:
        problems.append(Problem(str(file), "drawer", "", "the job names no drawer", 'add drawer = "drawer.csv"'))
    stock, rows = Stock(()), GapRows()
    try:
        stock = load_stock(drawer_path, catalogue_paths, complete=len(catalogue_paths) == len(catalogues))
    except InputError as error:
        problems += error.problems
    gaps_path = folder / name if (name := text("gaps")) else None
    if gaps_path is not None:
        rows = read_gaps_table(gaps_path, window, problems)
    problems += islice(whole_problems(raw, rows, file, gaps_path), MOST_LISTED)
    inputs = [str(path) for path in (drawer_path, *catalogue_paths, gaps_path) if path is not None]
    return stock, rows, inputs, Sources(file, drawer_path, tuple(catalogue_paths))


def catalogue_file(name: str, folder: Path, file: Path, problems: list[Problem]) -> Path | None:
    """The file that a catalogue's name means: one beside the job, or one that comes with shimopt."""
    try:
        if (folder / name).exists():
            return folder / name
    except (OSError, ValueError):
        pass
    built_in = built_in_catalogues()
    if name in built_in:
        return built_in[name]
    try:
        beside = sorted(entry.name for entry in folder.iterdir() if entry.is_file())
    except OSError:
        beside = []
    meant = nearest_name(name, [*built_in, *beside])
    remedy = f"did you mean {meant}?" if meant else f"name a file, or one of: {', '.join(built_in) or 'none built in'}"
    problems.append(Problem(str(file), "catalogues", name, "there is no such catalogue", remedy))
    return None


def _job(
    contents: JobFile,
    raw: dict[str, Any],
    table: GapRows,
    stock: Stock,
    file: Path,
    inputs: tuple[str, ...],
    sources: Sources,
) -> Job:
    """Tables and rows, already found to fit together, as one Job."""
    seats: dict[str | None, Seat] = {table.name: table.seat() for table in contents.seat}
    build = GapBuilder(contents, seats, file)
    gaps = [build.of_table(n, *one) for n, one in enumerate(zip(contents.gap, raw.get("gap", []), strict=True), 1)]
    gaps += [build.of_row(row) for row in table.rows]
    micrometer = None if contents.micrometer is None else contents.micrometer.micrometer()
    error = micrometer.error if micrometer and micrometer.error else 0
    measured = with_micrometer(stock.lines, error) if error else stock.lines
    lines, installed = installed_lines(
        contents.place, measured, error, file, build.problems, recorded=bool(contents.record)
    )
    if build.problems:
        raise InputError(build.problems)
    most = contents.stacks.most_pieces
    places = places_of(contents.place, gaps, seats, installed, most) if contents.place else places_of_gaps(gaps, most)
    about = {key: getattr(contents, key) for key in ("customer", "machine", "owner", "shop", "notes")}
    return Job(
        contents.title,
        contents.unit,
        tuple(gaps),
        places,
        tuple(_balances(contents, table.rows)),
        lines,
        tuple(contents.priority),
        {key: value for key, value in about.items() if value},
        stock.not_read + table.not_read,
        inputs,
        micrometer,
        () if contents.state is None else contents.state.told(),
        tuple(entry.tightening() for entry in contents.tightening),
        tuple(seats.values()),
        sources,
        tuple(table.record() for table in contents.record),
        equal=tuple(tuple(names) for names in contents.equal),
        was_in={
            place: tuple(FittedPiece.of(lines[i].part) for i in pieces) for place, pieces in installed.items() if pieces
        },
        suppliers=tuple(entry.supplier() for entry in contents.supplier),
    )


def too_few_allowed(contents: JobFile, file: Path) -> Iterator[Problem]:
    """Seats that ask for more pieces than the job allows in a stack, and do not say otherwise."""
    most = contents.stacks.most_pieces
    for number, seat in enumerate(contents.seat, start=1):
        if seat.fewest_pieces is not None and seat.most_pieces is None and seat.fewest_pieces > most:
            yield Problem(
                str(file),
                f'[[seat]] {number} "{seat.name}", fewest_pieces',
                str(seat.fewest_pieces),
                f"the seat takes at least more pieces than a stack may have ({most})",
                "raise most_pieces in [stacks], or give the seat its own",
            )


def _balances(contents: JobFile, rows: Sequence[GapRow]) -> Iterator[Balance]:
    for table in contents.balance:
        yield Balance(table.name, tuple(table.gaps), table.within, dict(table.offset))
    by_name: dict[str, list[str]] = {}
    for row in rows:
        if row.balance:
            by_name.setdefault(row.balance, []).append(row.name)
    for name, members in by_name.items():
        yield Balance(name, tuple(members), contents.balance_within)
