"""Readings of places that act together which nothing serves: how likely they are, and what would serve them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product
from math import floor, prod

from shimopt.arithmetic.clearance import Stack
from shimopt.choose.thickness_ranges import apart
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket
from shimopt.ordering.demand import Demand, demand_of
from shimopt.ordering.readings_together import Range, Table, joined, share_open
from shimopt.ordering.unserved_readings import chance_between, closed_up, thickness_between

# thicker than any pack [mm]
_MOST_MADE = Fraction(1000)
# of more readings nobody reads which size serves which
_MOST_CELLS = 60


@dataclass(frozen=True, slots=True)
class OpenTogether:
    """Readings from .. to of each gap of a table [nm] that its order leaves open, and the chance of one of them.

    `hopeless`: whatever thickness goes in, not all gaps are surely inside. `each`: how thick a pack in every place
    would serve all of these readings, where packs are to be equal [nm]. `closed`: no blade goes at one of the gaps.
    """

    readings: tuple[Range, ...]
    chance: Fraction | float
    hopeless: bool
    each: Range | None = None
    closed: bool = False


def open_together(job: Job, table: Table) -> list[OpenTogether]:
    """All readings that a table leaves open: those that nothing can serve apart from those that another size could."""
    by_hope: dict[str, list[tuple[Range, ...]]] = {"closed": [], "hopeless": [], "": []}
    for cell in (cell for box in table.open for cell in _cells(table.demands, box)):
        by_hope["closed" if _closed(table, cell) else "hopeless" * _hopeless(job, table, cell)].append(cell)
    return [open_at(job, table, box) for cells in by_hope.values() for box in joined(table.demands, cells)]


def nothing_served(number: int, job: Job, names: Sequence[str]) -> Table | None:
    """These gaps of a job (by number) with all their readings open; None where no blades show them, or too many."""
    demands = tuple(demand_of(number, job, job.gap[name]) for name in names)
    shown = [[(x, x) for x in demand.pairs] for demand in demands]
    if not all(shown) or prod(map(len, shown)) > _MOST_CELLS:
        return None
    places = tuple(dict.fromkeys(name for demand in demands for name, _ in demand.gap.effects))
    return Table(number, demands, places, (), (), {}, tuple(joined(demands, list(product(*shown)))))


def gaps_left_open(jobs: Sequence[Job], tables: Sequence[Table]) -> tuple[int, int]:
    """How many gaps tables do not serve at every reading, and how many of them no order could."""
    partly = [table for table in tables if table.open]
    # where no thickness at all serves a reading, nothing on offer could
    never = [table for table in partly if any(one.hopeless for one in open_together(jobs[table.job], table))]
    return sum(len(table.demands) for table in partly), sum(len(table.demands) for table in never)


def missing_together(tables: Sequence[Table]) -> Fraction:
    """How much of all readings tables leave open: the share of each, as long as the readings of its gaps [nm]."""
    return sum((share_open(t) * sum(demand.width for demand in t.demands) for t in tables), Fraction(0))


def open_at(job: Job, table: Table, readings: tuple[Range, ...]) -> OpenTogether:
    """The same of some readings."""
    closed = [_closed(table, cell) for cell in _cells(table.demands, readings)]
    hopeless = all(closed) or all(_hopeless(job, table, cell) for cell in _cells(table.demands, readings))
    each = None if hopeless else _each(job, table, readings)
    return OpenTogether(readings, chance_of(table.demands, readings), hopeless, each, all(closed))


def chance_of(demands: Sequence[Demand], readings: Sequence[Range]) -> Fraction | float:
    """The chance that every gap is read from .. to; of blades, that they show one of their pairs there."""

    def of_gap(demand: Demand, low: Fraction, high: Fraction) -> Fraction | float:
        shown = [demand.as_read(x, x) or (x, x) for x in demand.pairs if low <= x <= high]
        return sum(chance_between(demand, *ends) for ends in ([(low, high)] if not demand.pairs else shown))

    return prod(of_gap(demand, *ends) for demand, ends in zip(demands, readings, strict=True))


def table_rows(table: Table) -> list[tuple[float, Stack]]:
    """How likely each row of a table is, and the pieces that it fits at all places."""
    return [
        (float(chance_of(table.demands, box.ranges)), tuple(sorted(pieces.elements())))
        for box, pieces in zip(table.boxes, table.used, strict=True)
    ]


def _cells(demands: Sequence[Demand], readings: Sequence[Range]) -> Iterator[tuple[Range, ...]]:
    """Readings apart by what blades can show of them, where these read a gap."""
    yield from product(
        *(
            [(x, x) for x in demand.pairs if low <= x <= high] if demand.pairs else [(low, high)]
            for demand, (low, high) in zip(demands, readings, strict=True)
        )
    )


def _closed(table: Table, cell: tuple[Range, ...]) -> bool:
    """Whether no blade goes at one of the gaps: it may be closed up and more."""
    return any(closed_up(demand, *ends) for demand, ends in zip(table.demands, cell, strict=True))


def _hopeless(job: Job, table: Table, cell: tuple[Range, ...]) -> bool:
    """Whether nothing can serve a reading; of lengths the one in the middle stands for all."""
    if _equal(job, table):
        return _each(job, table, cell) is None
    middles = [(low + high) / 2 for low, high in cell]
    gaps = tuple(_sure_at(demand, x) for demand, x in zip(table.demands, middles, strict=True))
    if any(g.window.min is not None and g.window.max is not None and g.window.min > g.window.max for g in gaps):
        return True
    made = {name: (Fraction(0), _MOST_MADE) for name in table.places if job.place[name].takes_shims}
    free = len(made) == len(table.places)
    return free and apart(replace(job, gaps=gaps), [gap.name for gap in gaps], made) > 0


def _sure_at(demand: Demand, reading: Fraction) -> Gap:
    """The gap read so and known exactly, its window narrower by what the reading leaves open."""
    window = demand.gap.window
    low = None if window.min is None else window.min + floor(demand.below)
    high = None if window.max is None else window.max - floor(demand.above)
    read = replace(demand.gap.reading, bracket=Bracket.between(reading, reading))
    return replace(demand.gap, reading=read, window=replace(window, min=low, max=high))


def _equal(job: Job, table: Table) -> bool:
    """Whether all that ties these gaps is that their packs are to be equal."""
    alone = all(len(d.gap.effects) == 1 and not d.place.installed for d in table.demands)
    return alone and any({*table.places} == {*names} for names in job.equal)


def _each(job: Job, table: Table, readings: tuple[Range, ...]) -> Range | None:
    """How thick equal packs would have to be; None where no thickness serves, or the packs need not be equal."""
    if not _equal(job, table):
        return None
    thick = list[Range]()
    for demand, ends in zip(table.demands, readings, strict=True):
        if (between := thickness_between(demand, *ends)) is None:
            return None
        thick.append(between)
    low, high = max(least for least, _ in thick), min(most for _, most in thick)
    return (low, high) if low <= high else None
