"""From the tables of a job, and the stock and gaps that they name, to a Job, with every problem in one error."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from math import lcm

from shimopt.errors import InputError, Problem
from shimopt.job.clusters import Balance
from shimopt.job.effects import FINEST_EFFECT
from shimopt.job.from_record import started_from_last_record
from shimopt.job.gap import Window
from shimopt.job.gap_builder import GapBuilder
from shimopt.job.gaps_table import GapRow, GapRows
from shimopt.job.installed import installed_lines
from shimopt.job.job_errors import Written, contents_of
from shimopt.job.model import Job, Sources
from shimopt.job.money import in_one_currency
from shimopt.job.places import places_of, places_of_gaps
from shimopt.job.schema import JobFile
from shimopt.job.seat import Seat
from shimopt.job.slip_problems import slip_problems
from shimopt.job.whole_job import whole_problems
from shimopt.parts.drawer import Drawer, FittedPiece
from shimopt.parts.drawer_and_catalogues import Stock, with_micrometer
from shimopt.tables.files import MOST_LISTED


@dataclass(frozen=True, slots=True)
class Named:
    """What a job names and does not hold itself: its stock, the rows of its table of gaps, and the files of both."""

    stock: Stock = field(default_factory=lambda: Stock(()))
    rows: GapRows = field(default_factory=GapRows)
    inputs: tuple[str, ...] = ()
    sources: Sources | None = None
    drawer: Drawer | None = None


def job_of(
    written: Written,
    named_by: Callable[[Window | None, list[Problem]], Named],
    *,
    from_start: bool = False,
    heed_slips: bool = True,
) -> Job:
    """The job that is written, as it stands after its last record unless `from_start`.

    Parameters: named_by, finds what the job names, given its window, and adds what is wrong to a list; heed_slips,
    whether to refuse what is probably a slip of a unit. The tables it names are read even where the job's own cannot
    be, so that one run shows everything. Raises InputError.
    """
    problems: list[Problem] = []
    contents = contents_of(written, problems)
    window = None if contents is None or contents.window is None else contents.window.window()
    if contents is None and "window" in written.raw:
        # a stand-in: rows without a window of their own do have one
        window = Window(-(10**10), 10**10, "")
    named = named_by(window, problems)
    problems += islice(whole_problems(written, named.rows), MOST_LISTED)
    if contents is not None:
        problems += too_few_allowed(contents, written)
        problems += _too_fine(contents, written)
        problems += _own_rate(contents, written)
    if problems or contents is None:
        raise InputError(problems)
    job = _built(contents, written, named)
    if heed_slips and (slips := list(islice(slip_problems(job, contents, named.rows.rows, written), MOST_LISTED))):
        raise InputError(slips)
    if not job.records:
        return job
    if from_start:
        return replace(job, records=())
    return started_from_last_record(job, named.drawer.version() if named.drawer else "")


def _built(contents: JobFile, written: Written, named: Named) -> Job:
    """Tables and rows, already found to fit together, as one Job."""
    seats: dict[str | None, Seat] = {table.name: table.seat() for table in contents.seat}
    build = GapBuilder(contents, seats, written)
    as_written = written.raw.get("gap", [])
    gaps = [build.of_table(("gap", n), table, as_written[n]) for n, table in enumerate(contents.gap)]
    gaps += [build.of_row(row) for row in named.rows.rows]
    micrometer = None if contents.micrometer is None else contents.micrometer.micrometer()
    error = micrometer.error if micrometer and micrometer.error else 0
    measured = with_micrometer(named.stock.lines, error) if error else named.stock.lines
    lines, was_in = installed_lines(
        contents.place, measured, error, written, build.problems, recorded=bool(contents.record)
    )
    if build.problems:
        raise InputError(build.problems)
    most = contents.stacks.most_pieces
    assumed = "most_pieces" not in contents.stacks.model_fields_set
    places = (
        places_of(contents.place, gaps, seats, was_in, most, assumed=assumed)
        if contents.place
        else places_of_gaps(gaps, most, assumed=assumed)
    )
    suppliers = tuple(entry.supplier() for entry in contents.supplier)
    lines, suppliers, money = in_one_currency(lines, suppliers, contents.money())
    keys = ("customer", "machine", "owner", "shop", "contact", "deliver_to", "order_number", "notes")
    about = {key: getattr(contents, key) for key in keys}
    return Job(
        contents.title,
        contents.unit,
        tuple(gaps),
        places,
        tuple(_balances(contents, named.rows.rows)),
        lines,
        tuple(contents.priority),
        about={key: value for key, value in about.items() if value},
        not_read=named.stock.not_read + named.rows.not_read,
        inputs=named.inputs,
        micrometer=micrometer,
        state=() if contents.state is None else contents.state.told(),
        tightening=tuple(entry.tightening() for entry in contents.tightening),
        seats=tuple(seats.values()),
        sources=named.sources,
        drawer_of=named.drawer,
        held=named.drawer.held() if named.drawer else (),
        records=tuple(table.record() for table in contents.record),
        equal=tuple(tuple(names) for names in contents.equal),
        places_stated=bool(contents.place),
        was_in={
            place: tuple(FittedPiece.of(lines[i].part) for i in (*pieces, *was_in["came_out"][place]))
            for place, pieces in was_in["installed"].items()
            if pieces or was_in["came_out"][place]
        },
        suppliers=suppliers,
        money=money,
        learnt_sizes=tuple(entry.size() for entry in contents.true_size),
    )


def too_few_allowed(contents: JobFile, written: Written) -> Iterator[Problem]:
    """Seats that ask for more pieces than the job allows in a stack, and do not say otherwise."""
    most = contents.stacks.most_pieces
    for number, seat in enumerate(contents.seat):
        if seat.fewest_pieces is not None and seat.most_pieces is None and seat.fewest_pieces > most:
            rule = f"the seat takes at least more pieces than a stack may have ({most})"
            remedy = "raise most_pieces in [stacks], or give the seat its own"
            at = ("seat", number, "fewest_pieces")
            yield written.problem(at, str(seat.fewest_pieces), rule, remedy)


def _too_fine(contents: JobFile, written: Written) -> Iterator[Problem]:
    """The first effect that makes ticks finer than whole numbers carry, together with those before it."""
    common = 1
    for number, gap in enumerate(contents.gap):
        for place, table in (gap.effects or {}).items():
            effect = table.known(place).effect
            common = lcm(common, effect.denominator)
            if common > FINEST_EFFECT:
                rule = "with the effects before it this one divides lengths finer than whole numbers can carry"
                remedy = "write the effects of a job with at most six decimals, or as fractions of one denominator"
                yield written.problem(("gap", number, "effects", place), str(effect), rule, remedy)
                return


def _own_rate(contents: JobFile, written: Written) -> Iterator[Problem]:
    """A rate of the job's own currency, which is 1 whatever is written."""
    if contents.currency is not None and contents.currency in contents.rates:
        rule = "this is the job's own currency, and what others cost is said in it"
        yield written.problem(("rates", contents.currency), "", rule, "take it out, or name another `currency`")


def _balances(contents: JobFile, rows: Sequence[GapRow]) -> Iterator[Balance]:
    for table in contents.balance:
        gaps, places = (tuple(names or ()) for names in (table.gaps, table.places))
        yield Balance(table.name, gaps, table.within, dict(table.offset), places)
    by_name: dict[str, list[str]] = {}
    for row in rows:
        if row.balance:
            by_name.setdefault(row.balance, []).append(row.name)
    for name, members in by_name.items():
        yield Balance(name, tuple(members), contents.balance_within)
