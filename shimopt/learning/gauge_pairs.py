"""Pairs of readings by one gauge: from a table of gaps that were read twice, and from what records predicted and found.

What was predicted is the reading before, moved by the pieces that were changed: found and predicted are a pair of that
gauge, with the errors of these pieces and of the seat between them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from shimopt.arithmetic.chance_inside import errors_after
from shimopt.errors import InputError, RefusedError
from shimopt.job import Gap, Job
from shimopt.job.from_record import started_from_last_record
from shimopt.job.record import Record
from shimopt.learning.true_gauge import Pair, Repeatability, repeatability
from shimopt.lengths import Bracket, to_nm
from shimopt.parts.part import natural_key
from shimopt.probability import Even, standard_uncertainty
from shimopt.readings import Reading
from shimopt.tables.columns import Columns, read_columns
from shimopt.tables.files import MOST_LISTED
from shimopt.tables.read import Row, read_table

_HOW = 'write it like "0.35 to 0.40" (the first blade goes, the second does not), or as a number beside a resolution'
# fewer pairs give a range and no figure
ENOUGH_PAIRS = 20


@dataclass(frozen=True, slots=True)
class GaugePair:
    """Two readings by the gauge that is called so; lengths of the pair in nm. `recorded`: one is a prediction."""

    gauge: str
    pair: Pair
    recorded: bool = False


@dataclass(frozen=True, slots=True)
class GaugeKnown:
    """How well one gauge repeats; `recorded` of its pairs are predictions and what was found."""

    gauge: str
    known: Repeatability
    recorded: int

    @property
    def enough(self) -> bool:
        """Whether that is a figure to go by, and not a range alone."""
        return self.known.pairs >= ENOUGH_PAIRS


def gauges_of(pairs: Sequence[GaugePair]) -> list[GaugeKnown]:
    """Every gauge that has a name, in natural order."""
    names = sorted({pair.gauge for pair in pairs if pair.gauge}, key=lambda name: (natural_key(name), name))
    return [
        GaugeKnown(name, repeatability([one.pair for one in own]), sum(one.recorded for one in own))
        for name in names
        if (own := [pair for pair in pairs if pair.gauge == name])
    ]


def pairs_of_table(table: Path) -> list[GaugePair]:
    """The gaps of a table that were read twice. Raises InputError with all that is wrong."""
    read = read_table(table, "table of readings")
    columns = read_columns(read, ("first", "second", "resolution"), ("gauge", "gap"), ["gauge", "first", "second"])
    found = list[GaugePair]()
    for row in read.rows if columns is not None else ():
        if columns is not None and (pair := _pair(columns, row)) is not None:
            found.append(pair)
        if len(read.problems) >= MOST_LISTED:
            break
    if read.problems:
        raise InputError(read.problems)
    return found


def _pair(columns: Columns, row: Row) -> GaugePair | None:
    gauge, before = columns.text(row, "gauge"), len(columns.table.problems)
    if not gauge:
        columns.complain(row, "gauge", "a pair of readings names its gauge", "fill in the column gauge")
    resolution = columns.not_negative(row, "resolution") or 0
    first, second = (_interval(columns, row, name, resolution) for name in ("first", "second"))
    if len(columns.table.problems) > before or first is None or second is None:
        return None
    name = f"{columns.text(row, 'gap')}, {columns.table.path.name} row {row.number}".lstrip(", ")
    return GaugePair(gauge, Pair(first, second, name=name))


def _interval(columns: Columns, row: Row, name: str, resolution: int) -> tuple[float, float] | None:
    """From where to where a cell says that the gap lies [nm]."""

    def read(text: str) -> tuple[int, int]:
        low, between, high = text.partition(" to ")
        unit = columns.unit_of[name]
        ends = to_nm(columns.number(low.strip()), unit), to_nm(columns.number((high if between else low).strip()), unit)
        if between and ends[0] >= ends[1]:
            raise RefusedError("the blade that goes is thinner than the one that does not", "swap them")
        return ends

    if not columns.text(row, name):
        columns.complain(row, name, "a pair has two readings", "fill in both, or take the row out")
        return None
    ends = columns.read(row, name, read)
    if ends is None:
        return None
    if ends[0] == ends[1]:
        if not resolution:
            columns.complain(row, name, "how finely this gauge is read is not stated", f"add resolution, or {_HOW}")
            return None
        return ends[0] - resolution / 2, ends[0] + resolution / 2
    return float(ends[0]), float(ends[1])


def pairs_of_job(name: str, job: Job) -> list[GaugePair]:
    """What the first record predicted and found, of a job as it was first read; between later visits a gap wears."""
    return list(_pairs_of_visit(name, job, job.records[0])) if job.records else []


def _pairs_of_visit(name: str, first: Job, record: Record) -> Iterator[GaugePair]:
    job = started_from_last_record(replace(first, records=(record,)), "")
    if job.before is None:
        return
    stacks = {place.name: place.installed for place in job.places}
    for gap in job.before.gaps:
        recorded, read = record.gaps.get(gap.name), _as_read(gap.reading)
        if recorded is None or recorded.read is None or read is None:
            continue
        moved = recorded.predicted.best - gap.reading.bracket.best
        found = _as_found(recorded.read, gap.reading, read)
        pair = Pair(
            (float(read.low + moved), float(read.high + moved)),
            (float(found.low), float(found.high)),
            _other(job.before, gap, stacks),
            1 + 1 / (gap.reading.pulls or 1),
            f"{gap.name}, {name}, {record.date[:10]}",
        )
        if not found.exact:
            yield GaugePair(record.instrument, pair, recorded=True)


def _as_read(reading: Reading) -> Bracket | None:
    """From where to where blades, or half a graduation, had the gap; None of a reading that says no such thing."""
    marked = all(term.code == "shift" for term in reading.terms) and reading.no_blade is None
    if reading.kind == "feeler" and marked and reading.by in ("pair", "snug"):
        return reading.found
    resolution = next((term.half for term in reading.terms if term.code == "resolution"), None)
    if reading.kind == "indicator" and resolution:
        best = reading.bracket.best
        return Bracket(best - resolution, best, best + resolution)
    return None


def _as_found(read: Bracket, before: Reading, first: Bracket) -> Bracket:
    """The same of what was found: a dial is graduated as it was."""
    if before.kind != "indicator":
        return read
    half = (first.high - first.low) / 2
    return Bracket(read.best - half, read.best, read.best + half)


def _other(job: Job, gap: Gap, stacks: Mapping[str, tuple[int, ...]]) -> float:
    """The variance of pieces and seat between a reading and what is found with these stacks [nm²]."""
    pieces = errors_after(job, gap, stacks)[len(gap.reading.errors) :]
    seat = (Even(Fraction(gap.reading.shift)),) if gap.reading.shift else ()
    return standard_uncertainty((*pieces, *seat)) ** 2
