"""What a job file says that holds for gaps read elsewhere: window, seats, pieces in a stack, parts; no gaps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shimopt.errors import InputError, Problem
from shimopt.job.build import too_few_allowed
from shimopt.job.from_files import catalogue_file, job_path, read_toml
from shimopt.job.gap import Window
from shimopt.job.model import Micrometer
from shimopt.job.seat import Seat
from shimopt.job.written import Written, contents_of
from shimopt.parts import StockLine
from shimopt.parts.stock import Stock, load_stock, with_micrometer

# what would change the answer for a gap and is no matter of the gap alone
_REFUSED = {
    "priority": ("the job puts other levels first", "take `priority` out, or plan these gaps as a job"),
    "place": ("places that are written out tie gaps together", "plan these gaps as a job"),
    "decision": ("the job lets a chance decide", "take `decision` out (sure brackets decide), or plan them as a job"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class JobTerms:
    """The job's `unit`, its window where it states one, seats by name, the most pieces of a stack, `shift` [nm].

    `drawer` and `catalogues` are the files of its parts.
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

    @property
    def inputs(self) -> tuple[str, ...]:
        """All files that take part."""
        return tuple(str(path) for path in (self.file, self.drawer, *self.catalogues) if path is not None)

    def stock(self) -> Stock | None:
        """The job's parts; None where it names none. Raises InputError."""
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
    return JobTerms(
        unit=contents.unit,
        window=None if contents.window is None else contents.window.window(),
        seats={table.name: table.seat() for table in contents.seat},
        most_pieces=contents.stacks.most_pieces,
        shift=contents.shift,
        micrometer=None if contents.micrometer is None else contents.micrometer.micrometer(),
        file=file,
        drawer=None if contents.drawer is None else file.parent / contents.drawer,
        catalogues=tuple(path for path in catalogues if path is not None),
    )


def _matters(key: str, value: Any) -> bool:
    return bool(value) and not (key == "decision" and value == "sure")
