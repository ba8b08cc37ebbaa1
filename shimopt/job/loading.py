"""From job.toml and the files that it names to a Job, with every problem of all of them in one error."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable
from fractions import Fraction
from importlib import resources
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from shimopt.errors import InputError, Problem, nearest_name
from shimopt.job.gaps_table import GapRow, read_gaps_table
from shimopt.job.model import Balance, Gap, Job, Place, Seat, Window
from shimopt.job.problems import schema_problems
from shimopt.job.schema import GapTable, JobFile, WindowTable, is_bare
from shimopt.job.toml_file import job_path, read_toml
from shimopt.parts.loading import Stock, load_stock

__all__ = ["built_in_catalogues", "load_job"]

_MOST_GAPS = 200_000


def load_job(path: str | os.PathLike[str], *, drawer: str | os.PathLike[str] | None = None) -> Job:
    """Read a job and everything that it names.

    Parameters: path, the job file or the folder that holds `job.toml`; drawer, a drawer to use in place of the job's.
    Raises InputError with every problem found.
    """
    file = job_path(Path(path))
    raw = read_toml(file)
    problems: list[Problem] = []
    unit = raw.get("unit") if raw.get("unit") in ("mm", "um", "in", "thou") else None
    try:
        contents = JobFile.model_validate(raw, context={"unit": unit})
    except ValidationError as error:
        problems = schema_problems(error, raw, file)
        # the tables are read all the same, so that one run shows everything that is wrong
        stand_in = Window(-(10**10), 10**10, "") if "window" in raw else None
        _load_named_files(file, raw, drawer, problems, stand_in)
        raise InputError(problems) from None
    window = _window(contents.window)
    stock, rows, not_read, inputs = _load_named_files(file, raw, drawer, problems, window)
    job = _Builder(file, contents, raw, window, problems).build(rows, stock, not_read, (str(file), *inputs))
    if problems:
        raise InputError(problems)
    return job


def built_in_catalogues() -> dict[str, Path]:
    """Catalogues that come with shimopt, by name."""
    packed = Path(str(resources.files("shimopt") / "catalogs"))
    folder = packed if packed.is_dir() else Path(__file__).parents[2] / "catalogs"
    return {file.stem: file for file in sorted(folder.glob("*.csv"))} if folder.is_dir() else {}


def _window(table: WindowTable | None) -> Window | None:
    if table is None:
        return None
    low, high = (None if isinstance(limit, str) else limit for limit in (table.min, table.max))
    return Window(low, high, table.source, table.target)


def _load_named_files(
    file: Path,
    raw: dict[str, Any],
    drawer: str | os.PathLike[str] | None,
    problems: list[Problem],
    window: Window | None,
) -> tuple[Stock, list[GapRow], list[tuple[str, str]], list[str]]:
    """Stock and gap rows from the files that the job names, and the paths of these files."""
    folder = file.parent

    def text(key: str) -> str | None:
        return raw[key] if isinstance(raw.get(key), str) and raw[key].strip() else None

    drawer_path = Path(drawer) if drawer is not None else folder / name if (name := text("drawer")) else None
    names = raw.get("catalogues", [])
    catalogues = [name for name in names if isinstance(name, str)] if isinstance(names, list) else []
    catalogue_paths = [found for name in catalogues if (found := _catalogue(name, folder, file, problems))]
    if drawer_path is None and not catalogues:
        problems.append(Problem(str(file), "drawer", "", "the job names no drawer", 'add drawer = "drawer.csv"'))
    stock, rows, not_read = Stock(()), [], []
    try:
        stock = load_stock(drawer_path, catalogue_paths)
        not_read += stock.not_read
    except InputError as error:
        problems += error.problems
    gaps_path = folder / name if (name := text("gaps")) else None
    if gaps_path is not None:
        try:
            rows, columns = read_gaps_table(gaps_path, window, problems)
            not_read += columns
        except InputError as error:
            problems += error.problems
    inputs = [str(path) for path in (drawer_path, *catalogue_paths, gaps_path) if path is not None]
    return stock, rows, not_read, inputs


def _catalogue(name: str, folder: Path, file: Path, problems: list[Problem]) -> Path | None:
    """The file that a catalogue's name means: one beside the job, or one that comes with shimopt."""
    try:
        if (folder / name).exists():
            return folder / name
    except (OSError, ValueError):
        pass
    built_in = built_in_catalogues()
    if name in built_in:
        return built_in[name]
    beside = [entry.name for entry in folder.iterdir() if entry.is_file()] if folder.is_dir() else []
    meant = nearest_name(name, [*built_in, *beside])
    remedy = f"did you mean {meant}?" if meant else f"name a file, or one of: {', '.join(built_in) or 'none built in'}"
    problems.append(Problem(str(file), "catalogues", name, "there is no such catalogue", remedy))
    return None


class _Builder:
    """Joins tables and rows into one Job, noting what does not fit together."""

    def __init__(
        self, file: Path, contents: JobFile, raw: dict[str, Any], window: Window | None, problems: list[Problem]
    ) -> None:
        self.file, self.contents, self.raw, self.window, self.problems = file, contents, raw, window, problems

    def complain(self, where: str, value: str, rule: str, remedy: str) -> None:
        self.problems.append(Problem(str(self.file), where, value, rule, remedy))

    def build(
        self, rows: list[GapRow], stock: Stock, not_read: list[tuple[str, str]], inputs: tuple[str, ...]
    ) -> Job:
        contents = self.contents
        self._refuse_double("seat", [seat.name for seat in contents.seat])
        self._refuse_double("gap", [gap.name for gap in contents.gap] + [row.name for row in rows])
        self._refuse_double("balance", [balance.name for balance in contents.balance])
        seats = {
            s.name: Seat(s.name, s.shaft, s.bore_play, s.most_pieces, s.shims_allowed, s.why or "")
            for s in contents.seat
        }
        gaps = [self._gap(index, table, seats) for index, table in enumerate(contents.gap)]
        gaps += [self._gap_of_row(row, seats) for row in rows]
        if not gaps:
            self.complain("", "", "the job has no gaps", "add a [[gap]], or name a table: gaps = \"gaps.csv\"")
        if len(gaps) > _MOST_GAPS:
            self.complain("", f"{len(gaps):,} gaps", f"a job has at most {_MOST_GAPS:,} gaps", "split it")
        most = contents.stacks.most_pieces
        places = [
            Place(g.name, g.seat, min(most, g.seat.most_pieces) if g.seat and g.seat.most_pieces else most)
            for g in gaps
        ]
        about = {key: getattr(contents, key) for key in ("customer", "machine", "owner", "shop", "notes")}
        return Job(
            contents.title,
            contents.unit,
            tuple(gaps),
            tuple(places),
            tuple(self._balances(gaps, rows)),
            stock.lines,
            tuple(contents.priority),
            {key: value for key, value in about.items() if value},
            tuple(not_read),
            inputs,
        )

    def _refuse_double(self, table: str, names: list[str]) -> None:
        for name in sorted(name for name, count in Counter(names).items() if count > 1):
            self.complain(f"[[{table}]]", name, f"two {table}s have this name", "give each a name of its own")

    def _seat(self, name: str | None, where: str, seats: dict[str, Seat]) -> Seat | None:
        if not name:
            return None
        if name not in seats:
            meant = nearest_name(name, seats)
            remedy = f"did you mean {meant}?" if meant else f'add a [[seat]] with name = "{name}"'
            self.complain(where, name, "there is no such seat", remedy)
        return seats.get(name)

    def _gap(self, index: int, table: GapTable, seats: dict[str, Seat]) -> Gap:
        where = f'[[gap]] {index + 1} "{table.name}"'
        window = _window(table.window) or self.window
        if window is None:
            self._no_window(where)
        raw = self.raw["gap"][index]
        bare = is_bare(raw.get("value")) or is_bare(raw.get("feeler"))
        seat = self._seat(table.seat, f"{where}, seat", seats)
        return _gap(table.name, table.reading(), window, seat, bare)

    def _gap_of_row(self, row: GapRow, seats: dict[str, Seat]) -> Gap:
        where = f'{self.contents.gaps}, {row.where}, gap "{row.name}"'
        window = row.window or self.window
        if window is None:
            self._no_window(where)
        return _gap(row.name, row.reading, window, self._seat(row.seat, where, seats), True)

    def _no_window(self, where: str) -> None:
        self.complain(where, "", "the gap has no window", "add [window] to the job, or a window to this gap")

    def _balances(self, gaps: list[Gap], rows: list[GapRow]) -> Iterable[Balance]:
        names = {gap.name for gap in gaps}
        made: dict[str, Balance] = {}
        for index, table in enumerate(self.contents.balance):
            where = f'[[balance]] {index + 1} "{table.name}"'
            for key, listed in (("gaps", table.gaps), ("offset", list(table.offset))):
                for name in listed:
                    if name not in (names if key == "gaps" else table.gaps):
                        meant = nearest_name(name, names if key == "gaps" else table.gaps)
                        rule = "there is no such gap" if key == "gaps" else "this gap is not in the balance"
                        self.complain(f"{where}, {key}", name, rule, f"did you mean {meant}?" if meant else "take it out")
            made[table.name] = Balance(table.name, tuple(table.gaps), table.within, dict(table.offset))
        by_name: dict[str, list[str]] = {}
        for row in rows:
            if row.balance:
                by_name.setdefault(row.balance, []).append(row.name)
        for name, members in by_name.items():
            if name in made:
                self.complain(f"{self.contents.gaps}, column balance", name, "the job has a [[balance]] of this name",
                              "say in one of the two places which gaps it compares")  # fmt: skip
            elif len(members) < 2:
                self.complain(f"{self.contents.gaps}, column balance", name, "a balance compares at least two gaps",
                              "add a gap to it, or leave the cell blank")  # fmt: skip
            made.setdefault(name, Balance(name, tuple(members), self.contents.balance_within))
        return made.values()


def _gap(name: str, reading: Any, window: Window | None, seat: Seat | None, bare: bool) -> Gap:
    # a job without a window for this gap is refused before anyone looks at it
    allowed = window or Window(0, None, "none stated")
    return Gap(name, reading, allowed, ((name, Fraction(-1)),), seat, bare)
