"""What a shop's files tell of suppliers, gauges, seats and machines: drawers, records, tables."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from shimopt.errors import InputError, Problem
from shimopt.job import Job
from shimopt.learning.gauge_pairs import GaugeKnown, GaugePair, gauges_of, pairs_of_job, pairs_of_table
from shimopt.learning.pieces_measured import Measured, each_once, pieces_of_job, pieces_of_table
from shimopt.learning.supplier_sizes import SizeOf, names_alike, sizes_of
from shimopt.learning.visits import Needs, Visit, as_first_read, needs_of_machines, visits_of_job
from shimopt.learning.wear import Wear, wear_of
from shimopt.parts import StockLine
from shimopt.tables.read import read_table

_Found = TypeVar("_Found")


@dataclass(frozen=True, slots=True)
class HistoryFiles:
    """Where a shop's history stands: job `files` by name, `tables` of pieces or of readings.

    `offered` are the parts of catalogues: what they print, and who offers them. `same` says what the name of a supplier
    is to be read as, `apart` which are suppliers of their own however alike they look.
    """

    files: tuple[tuple[str, Path], ...]
    tables: tuple[Path, ...]
    _: KW_ONLY
    offered: Sequence[StockLine] = ()
    same: Mapping[str, str] = field(default_factory=dict)
    apart: Collection[str] = ()


@dataclass(frozen=True, slots=True)
class History:
    """What it tells: a supplier's sizes, gauges; and pieces and pairs of readings that cannot be told of.

    `visits` is every gap in every record, `wear` each gap of a machine that was read on two days or
    more, those first that surely wear.
    `nameless` pieces name no supplier, `unmarked` ones are measured, and nobody says as what they were sold. `asked`:
    suppliers in pieces or records that may be one, written in two ways; they are counted apart here.
    """

    sizes: tuple[SizeOf, ...]
    gauges: tuple[GaugeKnown, ...]
    nameless: tuple[Measured, ...] = ()
    nameless_pairs: tuple[GaugePair, ...] = ()
    unmarked: tuple[Measured, ...] = ()
    visits: tuple[Visit, ...] = ()
    wear: tuple[tuple[Needs, Wear], ...] = ()
    asked: tuple[Problem, ...] = ()


def history_of(files: HistoryFiles) -> History:
    """All that the files tell. Raises InputError with all that is wrong in any of them."""
    problems = list[Problem]()

    def read(reader: Callable[[], Sequence[_Found]]) -> Sequence[_Found]:
        try:
            return reader()
        except InputError as error:
            problems.extend(error.problems)
            return ()

    pieces, pairs = list[Measured](), list[GaugePair]()
    visits, needs, told = list[Visit](), list[Needs](), list[tuple[str, str]]()
    drawers = set[object]()
    for name, file in files.files:
        for job in read(partial(_loaded, file)):
            pieces += read(partial(_of_drawer, job, file, drawers))
            pairs += pairs_of_job(name, job)
            of_records, as_read = visits_of_job(name, job)
            visits += [_renamed(visit, files.same) for visit in of_records]
            needs += as_read
            told += [(supplier.name, f"[[supplier]] of {name}") for supplier in job.suppliers]
    for table in files.tables:
        if _holds_pairs(table):
            pairs += read(partial(pairs_of_table, table))
        else:
            pieces += read(partial(pieces_of_table, table, files.offered))
    if problems:
        raise InputError(dict.fromkeys(problems))
    named = [replace(piece, supplier=files.same.get(piece.supplier, piece.supplier)) for piece in each_once(pieces)]
    told += [(piece.supplier, piece.name) for piece in named]
    told += [(supplier, f"record of {visit.date}, {visit.job}") for visit in visits for supplier, _ in visit.delivered]
    return History(
        tuple(sizes_of(named)),
        tuple(gauges_of(pairs)),
        tuple(piece for piece in named if not piece.supplier and piece.marked is not None),
        tuple(pair for pair in pairs if not pair.gauge),
        tuple(piece for piece in named if piece.marked is None),
        tuple(visits),
        tuple(sorted(_worn(needs), key=lambda one: not one[1].shows)),
        tuple(names_alike(told, files.apart)),
    )


def _renamed(visit: Visit, same: Mapping[str, str]) -> Visit:
    """The visit with suppliers by the names that they have now."""
    return replace(visit, delivered=tuple((same.get(supplier, supplier), lot) for supplier, lot in visit.delivered))


def _worn(needs: Sequence[Needs]) -> list[tuple[Needs, Wear]]:
    """Each gap of a machine that was read often enough."""
    return [(one, wear) for one in needs_of_machines(needs) if (wear := wear_of(one.readings)) is not None]


def _loaded(file: Path) -> Sequence[Job]:
    return [as_first_read(file)]


def _of_drawer(job: Job, file: Path, seen: set[object]) -> Sequence[Measured]:
    """The measured pieces of a job's drawer; of one that several jobs share once."""
    sources = job.sources
    drawer: object = file
    if sources is not None:
        drawer = sources.stock or (sources.drawer.resolve() if sources.drawer is not None else file)
    if drawer in seen:
        return ()
    seen.add(drawer)
    return pieces_of_job(job)


def _holds_pairs(table: Path) -> bool:
    """Whether a table is one of readings. Raises InputError."""
    columns = read_table(table, "table").columns
    return "gauge" in columns or any(column.startswith("first_") for column in columns)
