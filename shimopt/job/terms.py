"""What a job file says that holds for gaps read elsewhere: window, seats, pieces in a stack, parts; no gaps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from shimopt.errors import InputError, Problem
from shimopt.job.loading import catalogue_file, too_few_allowed, unit_of_file
from shimopt.job.model import Micrometer, Window
from shimopt.job.problems import schema_problems
from shimopt.job.schema import JobFile
from shimopt.job.seat import Seat
from shimopt.job.toml_file import job_path, read_toml
from shimopt.parts import StockLine
from shimopt.parts.stock import Stock, load_stock, with_micrometer

__all__ = ["JobTerms", "read_terms"]

# what would change the answer for a gap and is no matter of the gap alone
_REFUSED = {
    "priority": ("the job puts other levels first", "take `priority` out, or plan these gaps as a job"),
    "place": ("places that are written out tie gaps together", "plan these gaps as a job"),
    "decision": ("the job lets a chance decide", "take `decision` out (sure brackets decide), or plan them as a job"),
}


@dataclass(frozen=True, slots=True)
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
    raw = read_toml(file)
    try:
        contents = JobFile.model_validate(raw, context={"unit": unit_of_file(raw)})
    except ValidationError as error:
        raise InputError(schema_problems(error, raw, file)) from None
    problems = [
        Problem(str(file), key, "", rule, remedy)
        for key, (rule, remedy) in _REFUSED.items()
        if key in raw and _matters(key, raw[key])
    ]
    problems += too_few_allowed(contents, file)
    found = [(name, catalogue_file(name, file.parent, file, problems)) for name in contents.catalogues]
    if problems:
        raise InputError(problems)
    return JobTerms(
        contents.unit,
        None if contents.window is None else contents.window.window(),
        {table.name: table.seat() for table in contents.seat},
        contents.stacks.most_pieces,
        contents.shift,
        None if contents.micrometer is None else contents.micrometer.micrometer(),
        file,
        None if contents.drawer is None else file.parent / contents.drawer,
        tuple(path for _, path in found if path is not None),
    )


def _matters(key: str, value: Any) -> bool:
    return bool(value) and not (key == "decision" and value == "sure")
