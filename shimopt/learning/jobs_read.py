"""The jobs that a shop had: a table with a gap in each row, each a job of its own, or job files with their records."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import cached_property, partial
from pathlib import Path
from typing import Any

from shimopt.errors import InputError, Problem, RefusedError
from shimopt.job import Job, load_job
from shimopt.job.build import Named, job_of
from shimopt.job.gap import Window
from shimopt.job.gaps_table import GapRow, read_gaps_table
from shimopt.job.job_errors import Written
from shimopt.learning.needs import Need, need_of_job, needs_of_gaps
from shimopt.lengths import Bracket, length_of, spelled
from shimopt.parts import StockLine
from shimopt.parts.drawer_and_catalogues import Stock


@dataclass(frozen=True)
class JobsRead:
    """Where a shop's jobs stand: `tables` of gaps, job `files` by name, or a `spread` of readings [nm] in their place.

    `terms` is what a job states beside its gaps: unit, window, stacks.
    """

    tables: tuple[Path, ...]
    files: tuple[tuple[str, Path], ...]
    spread: tuple[int, int] | None
    terms: Mapping[str, Any]

    def needs(self, lines: Sequence[StockLine]) -> list[Need]:
        """What each of these jobs needs of parts. Raises InputError with all that is wrong in any of them."""
        stock = Stock(tuple(lines))
        if self.spread is not None:
            return needs_spread(*self.spread, stock, self.terms)
        found, problems = list[Need](), list[Problem]()
        of_tables = (partial(needs_of_table, table, stock, self.terms) for table in self.tables)
        for read in (*of_tables, partial(needs_of_jobs, self.files, stock)):
            try:
                found += read()
            except InputError as error:
                problems += error.problems
        if problems:
            raise InputError(problems)
        return found

    @cached_property
    def postage(self) -> dict[str, Decimal]:
        """What a parcel costs by supplier, as the first job that names one states it."""
        found: dict[str, Decimal] = {}
        for _, file in self.files:
            for supplier in load_job(file, from_start=True).suppliers:
                found.setdefault(supplier.name, supplier.postage)
        return found


# needs that are spread evenly are looked at in so many steps
_STEPS = 200


def needs_of_table(table: Path, stock: Stock, terms: Mapping[str, Any]) -> list[Need]:
    """What each row of a gaps table needs, by itself: what it is compared with is not looked at.

    Parameter: terms, what a job states beside its gaps: unit, window, stacks. Raises InputError.
    """

    def named(window: Window | None, problems: list[Problem]) -> Named:
        rows = read_gaps_table(table, window, problems)
        return Named(stock, replace(rows, rows=tuple(_by_itself(rows.rows))), inputs=(str(table),))

    return needs_of_gaps(job_of(Written(terms), named), stock.lines)


def needs_spread(low: int, high: int, stock: Stock, terms: Mapping[str, Any]) -> list[Need]:
    """What gaps need that read anything from low to high [nm], all alike likely. Raises InputError."""
    steps = range(_STEPS + 1)
    first = {"name": "reads", "value": f"{Decimal(low).scaleb(-6):f} mm"}
    job = job_of(Written({**terms, "gap": [first]}), lambda *_: Named(stock))
    gap = job.gaps[0]
    lengths = [Fraction(low) + Fraction((high - low) * step, _STEPS) for step in steps]
    found = []
    for length in lengths:
        reading = replace(gap.reading, bracket=Bracket.between(round(length), round(length)))
        (need,) = needs_of_gaps(replace(job, gaps=(replace(gap, reading=reading),)), stock.lines)
        found.append(replace(need, name=spelled(round(length), str(terms["unit"]))))
    return found


def needs_of_jobs(files: Sequence[tuple[str, Path]], stock: Stock) -> list[Need]:
    """What each job needed as it was first read, and what its last record left outside. Raises InputError."""
    found, problems = list[Need](), list[Problem]()
    for name, file in files:
        try:
            found.append(need_of_job(name, load_job(file, from_start=True), stock.lines))
            now = load_job(file)
            if now.found_outside:
                found.append(need_of_job(f"{name} (again)", _only(now, now.found_outside), stock.lines))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return found


def _only(job: Job, gaps: Sequence[str]) -> Job:
    return replace(job, gaps=tuple(gap for gap in job.gaps if gap.name in gaps), balances=())


def _by_itself(rows: Sequence[GapRow]) -> list[GapRow]:
    """Rows that are compared with none; those of one name are told apart by where they stand."""
    times = Counter(row.name for row in rows)
    return [
        replace(row, balance="", name=f"{row.name}, {row.where}" if times[row.name] > 1 else row.name) for row in rows
    ]


def range_of(text: str, where: str) -> tuple[int, int]:
    """A range of readings, `0.2 to 0.6 mm`; what has no unit takes that of its other end. Raises InputError."""
    low, to, high = (part.strip() for part in text.partition(" to "))
    unit = high.lstrip("+-0123456789./ ")
    try:
        ends = [length_of(low if low.lstrip("+-0123456789./ ") else f"{low} {unit}", None), length_of(high, None)]
    except RefusedError as error:
        raise InputError.at("", error.rule, error.remedy, where=where, value=text) from error
    if not to or ends[0] > ends[1]:
        raise InputError.at(
            "", "a range goes from low to high", 'write it like "0.2 to 0.6 mm"', where=where, value=text
        )
    return ends[0], ends[1]
