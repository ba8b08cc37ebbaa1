"""What holds for every gap of a batch: parts, seats, and the window and number of pieces where a row says nothing.

What a job says of it is read first: its window, seats, pieces in a stack and parts, none of its gaps.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import KW_ONLY, dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

from shimopt.errors import InputError, Problem, did_you_mean
from shimopt.job import Micrometer, Seat, Window, built_in_catalogues
from shimopt.job.build import too_few_allowed
from shimopt.job.from_files import catalogue_file, job_path, read_toml
from shimopt.job.gap import AT_ODDS
from shimopt.job.job_errors import Written, contents_of
from shimopt.lengths import LengthError, length_of
from shimopt.parts import StockLine
from shimopt.parts.drawer_and_catalogues import Stock, beside_catalogues, load_stock, models_of, with_micrometer
from shimopt.stock.meant import drawer_meant
from shimopt.tables.read import Frame

# what would change the answer for a gap and is no matter of the gap alone
_REFUSED = {
    "priority": ("the job puts other levels first", "take `priority` out, or plan these gaps as a job"),
    "place": ("places that are written out tie gaps together", "plan these gaps as a job"),
    "decision": ("the job lets a chance decide", "take `decision` out (sure brackets decide), or plan them as a job"),
    "true_size": ("the job says how thick sizes run", "take `[[true_size]]` out, or plan these gaps as a job"),
    "repeatability": ("the job says how well a gauge repeats", "take `repeatability` out, or plan these gaps as a job"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class JobTerms:
    """The job's `unit`, its window where it states one, seats by name, the most pieces of a stack, `shift` [nm].

    `drawer` and `catalogues` are the files of its parts; `shared` is its drawer in the stock, in place of a file.
    """

    unit: str
    window: Window | None
    seats: Mapping[str, Seat]
    most_pieces: int
    shift: int
    micrometer: Micrometer | None
    file: Path
    drawer: Path | None
    catalogues: tuple[Path, ...]
    shared: str | None = None

    @property
    def inputs(self) -> tuple[str, ...]:
        """All files that take part."""
        return tuple(str(path) for path in (self.file, self.drawer, *self.catalogues) if path is not None)

    def stock(self) -> Stock | None:
        """The job's parts; None where it names none. Raises InputError."""
        if self.shared:
            # most jobs have their drawer in a file, and need no database
            from shimopt.stock.address import drawer_for_job

            offered = load_stock(None, list(self.catalogues))
            drawer = drawer_for_job(self.shared, self.file.parent, None, "", models_of(offered))
            return beside_catalogues(drawer.stock(), offered)
        if self.drawer is None and not self.catalogues:
            return None
        return load_stock(self.drawer, list(self.catalogues))

    def measured(self, lines: Iterable[StockLine]) -> tuple[StockLine, ...]:
        """Parts with the micrometer's error, where the job names one."""
        error = self.micrometer.error if self.micrometer is not None else None
        return with_micrometer(lines, error) if error else tuple(lines)


def read_terms(path: Path) -> JobTerms:
    """Read a job file, or the one in a folder; its gaps and balances need not be there. Raises InputError."""
    file = job_path(path)
    written = Written(read_toml(file), str(file))
    problems: list[Problem] = []
    contents = contents_of(written, problems)
    if contents is None:
        raise InputError(problems)
    raw = written.raw
    for key, (rule, remedy) in _REFUSED.items():
        if key in raw and _matters(key, raw[key]):
            problems.append(written.problem((key,), "", rule, remedy))
    problems += too_few_allowed(contents, written)
    catalogues = [catalogue_file(name, file.parent, written, problems) for name in contents.catalogues]
    if problems:
        raise InputError(problems)
    shared = drawer_meant(contents.drawer)
    return JobTerms(
        unit=contents.unit,
        window=None if contents.window is None else contents.window.window(),
        seats={table.name: table.seat() for table in contents.seat},
        most_pieces=contents.stacks.most_pieces,
        shift=contents.shift,
        micrometer=None if contents.micrometer is None else contents.micrometer.micrometer(),
        file=file,
        drawer=None if contents.drawer is None or shared else file.parent / contents.drawer,
        catalogues=tuple(path for path in catalogues if path is not None),
        shared=shared,
    )


def _matters(key: str, value: Any) -> bool:
    return bool(value) and not (key == "decision" and value == "sure")


_BARE = re.compile(r"[+-]?[0-9]{1,12}(\.[0-9]{0,20})?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Terms:
    """`window` None: every row states its own. `seat` names the one for rows that name none, empty for no seat.

    `shift` widens every reading [nm]; `inputs` are the files that all this was read from, `not_read` columns of theirs
    that nobody reads; `from_python`, whether the call was made from there, and is told of its arguments.
    """

    stock: tuple[StockLine, ...]
    window: Window | None = None
    most_pieces: int = 3
    _: KW_ONLY
    seats: Mapping[str, Seat] = field(default_factory=dict)
    seat: str = ""
    shift: int = 0
    micrometer: Micrometer | None = None
    inputs: tuple[str, ...] = ()
    not_read: tuple[tuple[str, str], ...] = ()
    from_python: bool = False

    def called(self, name: str) -> str:
        """An argument as whoever called knows it."""
        return _called(name, from_python=self.from_python)


def _called(name: str, *, from_python: bool) -> str:
    return name if from_python else f"--{name.replace('_', '-')}"


# what the call says, each option by its name: the command and `plan_many` hand them on as they are
def load_terms(
    parts: str | os.PathLike[str] | Frame | None,
    job: str | os.PathLike[str] | None = None,
    *,
    min: str | None = None,
    max: str | None = None,
    target: str | None = None,
    most_pieces: int | None = None,
    seat: str | None = None,
    from_python: bool = False,
) -> Terms:
    """Read parts and job, and put what the call says in place of what the job says. Raises InputError.

    Parameters: parts, a parts table (a file or a frame) or the name of a catalogue that comes with shimopt (None: those
    of the job); job, a job file or its folder; min, max, target, lengths such as "0.10 mm", or "none" for no limit;
    seat, its name; from_python, whether what is wrong is told of arguments instead of options.
    """
    problems: list[Problem] = []
    told = None if job is None else read_terms(Path(job))
    table = _parts_path(parts) if isinstance(parts, str | os.PathLike) else parts
    stock = load_stock(table, []) if table is not None else None if told is None else told.stock()

    def called(name: str) -> str:
        return _called(name, from_python=from_python)

    if stock is None:
        rule, remedy = "there are no parts to choose from", "name a parts table, or a job with a drawer"
        raise InputError.at("", rule, remedy, where=called("parts"))
    # a drawer says what sizes there are; catalogues only complete it, and are all there is where there is no drawer
    in_drawer = tuple(line for line in stock.lines if line.row is not None)
    window = _window(
        None if told is None else told.window,
        None if told is None else told.unit,
        {"min": min, "max": max, "target": target},
        called,
        problems,
    )
    seats = {} if told is None else told.seats
    if seat is not None and seat not in seats:
        remedy = did_you_mean(seat, seats, f"name a seat of the job that {called('job')} names")
        problems.append(Problem("", called("seat"), seat, "there is no such seat", remedy))
    if problems:
        raise InputError(problems)
    most = most_pieces or (3 if told is None else told.most_pieces)
    inputs = (*((str(table),) if isinstance(table, Path) else ()), *(() if told is None else told.inputs))
    lines = in_drawer or stock.lines
    if told is None:
        return Terms(lines, window, most, inputs=inputs, not_read=stock.not_read, from_python=from_python)
    return Terms(
        told.measured(lines),
        window,
        most,
        seats=seats,
        seat=seat or "",
        shift=told.shift,
        micrometer=told.micrometer,
        inputs=inputs,
        not_read=stock.not_read,
        from_python=from_python,
    )


def _parts_path(parts: str | os.PathLike[str]) -> Path:
    path = Path(parts)
    if drawer_meant(parts) is not None:
        rule, remedy = "a drawer of the stock is no table of parts", "write it out: shimopt stock write-out FILE"
        raise InputError.at("", rule, remedy, where="--parts", value=str(parts))
    return path if path.exists() else built_in_catalogues().get(str(parts), path)


def _window(
    stated: Window | None,
    unit: str | None,
    said: Mapping[str, str | None],
    called: Callable[[str], str],
    problems: list[Problem],
) -> Window | None:
    """The job's window with what the call says in its place; None where nobody says one."""
    if not any(said.values()):
        return stated
    before = len(problems)
    own = {
        key: _limit(called(key), text, unit, problems, none=key != "target")
        for key, text in said.items()
        if text is not None
    }
    known: dict[str, int | None] = (
        {} if stated is None else {"min": stated.min, "max": stated.max, "target": stated.stated_target}
    )
    if {"min", "max"} & set(own):
        known.pop("target", None)
    both = known | own
    missing = [key for key in ("min", "max") if key not in both]
    problems += [
        Problem(
            "",
            called(key),
            "",
            f"the window has no {key}",
            f'state {called(key)}, or {called(key)} "none" for no limit',
        )
        for key in missing
    ]
    if len(problems) > before:
        return None
    low, high, target = both["min"], both["max"], both.get("target")
    window = Window(low, high, "the call", target)
    if window.at_odds is None:
        return window
    key = "target" if window.at_odds == "target" else "min"
    value = "" if window.at_odds == "limits" else str(said[key] or "")
    problems.append(Problem("", called(key), value, *AT_ODDS[window.at_odds]))
    return None


def _limit(where: str, text: str, unit: str | None, problems: list[Problem], *, none: bool) -> int | None:
    if none and text.strip().casefold() == "none":
        return None
    try:
        # a bare number is in the job's unit
        return length_of(Decimal(text) if unit and _BARE.fullmatch(text.strip()) else text, unit)
    except LengthError as error:
        bare = unit is None and _BARE.fullmatch(text.strip())
        rule = "a bare number is in the job's unit, and no job is named" if bare else error.rule
        problems.append(Problem("", where, text, rule, error.remedy))
        return None
