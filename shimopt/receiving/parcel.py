"""A parcel: what came, and whether it is enough, by the cards made again from what is there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

from shimopt.job import Job, Seat
from shimopt.ordering.demand import Unanswered
from shimopt.ordering.merged_jobs import merged
from shimopt.ordering.order import make_order
from shimopt.ordering.order_result import Order
from shimopt.ordering.readings_together import Table, no_longer
from shimopt.ordering.unserved_readings import Hole, chance_between
from shimopt.ordering.unserved_together import OpenTogether, open_at
from shimopt.parts import StockLine
from shimopt.parts.drawer import told_apart
from shimopt.parts.drawer_and_catalogues import with_micrometer
from shimopt.parts.measured import MeasuredPiece, columns_not_read
from shimopt.parts.part import ROW
from shimopt.receiving.against_order import Held, fits, held_against
from shimopt.receiving.ordered import AskedFor, asked_in, asked_of
from shimopt.seats.incoming import Checked, check_pieces, tags_in
from shimopt.tables.read import Source
from shimopt.watch import Watch


@dataclass(frozen=True, slots=True)
class Lost:
    """Final readings from .. to [nm] of a gap that the order served and what came does not, and their chance."""

    gap: int
    start: Fraction
    end: Fraction
    chance: Fraction | float


@dataclass(frozen=True, slots=True)
class LostTogether:
    """The same of gaps whose places act together: by the promised `table`, which readings of all of them."""

    table: Table
    open: OpenTogether


@dataclass(frozen=True, slots=True)
class Again:
    """The order that makes it enough again; `whole` whether it serves all that the first was to serve."""

    order: Order
    whole: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Parcel:
    """What arrived against what was asked for.

    `promised` is the order, or what the list of it comes to; `now` the cards that what is there makes, with nothing
    more on offer; `lost` what the one served and the other does not, `together` the same of gaps that act together,
    `left` those for which there was a table and is none now; `there_already` the pieces that the drawer holds by name
    and tag, `not_read` the columns of what came that mean nothing here, `gone` how many pieces by name the cards of the
    list take out of the drawer, and that lie there no more.
    """

    jobs: tuple[Job, ...]
    stock: tuple[StockLine, ...]
    asked: AskedFor
    held: tuple[Held, ...]
    there_already: frozenset[tuple[str, str | None]]
    promised: Order
    now: Order
    lost: tuple[Lost, ...]
    left: tuple[Unanswered, ...]
    again: Again | None
    together: tuple[LostTogether, ...] = ()
    not_read: tuple[str, ...] = ()
    gone: Mapping[str, int] = field(default_factory=dict)

    def came_of(self, line: int) -> Counter[str]:
        """How many of an ordered line came, by kind; what did not come at all is "missing"."""
        found: Counter[str] = Counter()
        for one in self.held:
            if one.line == line:
                found[one.kind] += one.pieces
        found["missing"] = max(0, self.asked.lines[line].pieces - found.total())
        return found

    @property
    def complete(self) -> bool:
        """Whether as many pieces came as were ordered, those counted that stand in for others."""
        lines = range(len(self.asked.lines))
        came = [self.came_of(line) for line in lines]
        return all(
            found["as ordered"] + found["stands in"] >= asked.pieces
            for found, asked in zip(came, self.asked.lines, strict=True)
        )

    @property
    def enough(self) -> bool:
        """Whether every reading that the order was to serve is served by what is there."""
        return not self.lost and not self.left and not self.together and (not self.gone or self.now.whole)

    @property
    def whole(self) -> bool:
        """Whether what is there serves every gap at every final reading, those included that the order left out."""
        return self.enough and self.now.whole

    @property
    def card_holds(self) -> bool:
        """Whether a card made with the order still counts: all as ordered, and each within what its label promises.

        What stands in for another has a name that the card does not know.
        """
        return (
            self.complete
            and self.enough
            and not self.gone
            and not any(one.kind == "stands in" for one in self.held)
            and not self.beyond_labels
        )

    @property
    def beyond_labels(self) -> list[MeasuredPiece]:
        """What may be thicker or thinner, as measured, than the label of what was ordered promises."""
        return [
            one.checked.piece
            for one in self.held
            if one.line is not None and not _within(one.checked.piece, self.stock[self.asked.lines[one.line].part])
        ]

    @property
    def perhaps_there(self) -> list[tuple[MeasuredPiece, StockLine]]:
        """What would go in, and lies in a drawer as thick and by a row of another table: perhaps the same pieces."""
        lines = [line for job in self.jobs for line in job.stock if line.row is not None and line.on_hand]
        return [
            (piece, line)
            for piece in self.accepted
            for line in lines
            if (piece.part.name, piece.part.piece) not in self.there_already
            and line.part.name == piece.part.name
            and line.part.thickness.best == piece.part.thickness.best
            and ROW in (line.part.piece or "")
            and ROW in (piece.part.piece or "")
        ]

    @property
    def accepted(self) -> list[MeasuredPiece]:
        """What goes into the drawer: every piece that suits a seat, each row once.

        Of what counts towards a line its supplier is known, if the parcel's table names none.
        """
        found: dict[int, MeasuredPiece] = {}
        for one in self.held:
            piece = one.checked.piece
            if one.fits and one.line is not None and not piece.part.supplier:
                piece = replace(piece, part=replace(piece.part, supplier=self.asked.lines[one.line].supplier))
            if one.fits and (one.line is not None or id(one.checked) not in found):
                found[id(one.checked)] = piece
        return list(found.values())


def _within(piece: MeasuredPiece, ordered: StockLine) -> bool:
    low, high = ordered.part.thickness.low, ordered.part.thickness.high
    return low <= piece.part.thickness.low and piece.part.thickness.high <= high


def received(
    jobs: Sequence[Job],
    came: Source,
    *,
    ordered: Path | None = None,
    anew: Callable[[Sequence[Job]], Order] = make_order,
    watch: Watch | None = None,
) -> Parcel:
    """Hold a table of what arrived against the order.

    Parameters: jobs, those that were ordered for; came, what arrived, counted, and measured as far as it was; ordered,
    the list that the order wrote; anew, how the order is worked out where no list is given; watch, when to stop. Raises
    InputError, FaultError.
    """
    watch = watch or Watch()
    # this counts what is here, and not what is on order
    jobs = [replace(job, stock=tuple(replace(line, coming=0) for line in job.stock)) for job in jobs]
    together = merged(jobs)
    seats = _seats_of(jobs)
    everything = replace(together.jobs[0], seats=tuple(seats))
    tags = tags_in(everything, came, seats)
    there = {(line.part.name, line.part.piece) for job in jobs for line in job.stock if line.row is not None}
    before = [_without(job, tags) for job in jobs]
    if ordered is None:
        promised = anew(before)
        asked = asked_of(promised)
    else:
        asked = asked_in(ordered, merged(before).jobs[0].stock)
        promised = make_order(_with_ordered(before, asked), watch=_rest(watch))
    stock = promised.stock
    checked = check_pieces(everything, came, seats, ordered=[stock[line.part].part for line in asked.lines])
    for job in jobs:
        if job.drawer_of is not None:
            # what is there under the tag of a piece, and is another, would be taken for it
            told_apart([one.piece for one in checked], job.drawer_of.stock(), job.drawer_of.name)
    held = held_against(asked, checked, stock, seats)
    new = [one.piece for one in checked if fits(one) and _tag(one) not in there]
    with_it = _with_pieces(jobs, new)
    now = make_order([_nothing_on_offer(job) for job in with_it], watch=_rest(watch))
    lost, left, lost_together = (
        tuple(_lost(promised, now)),
        tuple(_left(promised, now)),
        tuple(_together(promised, now)),
    )
    again = None
    if lost or left or lost_together:
        more = make_order(with_it, watch=_rest(watch))
        again = Again(more, not [*_lost(promised, more), *_left(promised, more), *_together(promised, more)])
    return Parcel(
        jobs=tuple(jobs),
        stock=stock,
        asked=asked,
        held=held,
        there_already=frozenset(tags & there),
        promised=promised,
        now=now,
        lost=lost,
        left=left,
        again=again,
        together=lost_together,
        not_read=columns_not_read(came),
        gone=asked.gone_from(before),
    )


def _tag(one: Checked) -> tuple[str, str | None]:
    return one.piece.part.name, one.piece.part.piece


def _rest(watch: Watch) -> Watch:
    """The time that is left, and as many steps for each question."""
    return Watch(watch.left(), watch.steps)


def _seats_of(jobs: Sequence[Job]) -> list[Seat]:
    """Every seat of all jobs, by names that tell them apart; for places without one, one of which nothing is known."""
    found: dict[str, Seat] = {}
    for job in jobs:
        for seat in job.seats:
            own = seat if found.get(seat.name, seat) == seat else replace(seat, name=f"{job.title}: {seat.name}")
            found.setdefault(own.name, own)
    if not found or any(place.seat is None for job in jobs for place in job.places):
        found[""] = Seat("")
    return list(found.values())


def _without(job: Job, tags: set[tuple[str, str | None]]) -> Job:
    """The job with these pieces not yet in its drawer."""
    gone = (
        replace(line, on_hand=0) if line.row is not None and (line.part.name, line.part.piece) in tags else line
        for line in job.stock
    )
    return replace(job, stock=tuple(gone))


def _nothing_on_offer(job: Job) -> Job:
    return replace(job, stock=tuple(replace(line, offers=()) for line in job.stock))


def _with_ordered(jobs: Sequence[Job], asked: AskedFor) -> list[Job]:
    """The jobs with all that was ordered in the drawer, as marked, and nothing more on offer."""
    stock = merged(jobs).jobs[0].stock
    come = [StockLine(stock[line.part].part, line.pieces) for line in asked.lines]
    return [_nothing_on_offer(job) for job in _with_lines(jobs, come)]


def _with_pieces(jobs: Sequence[Job], pieces: Sequence[MeasuredPiece]) -> list[Job]:
    come = [StockLine(piece.part, piece.count) for piece in pieces]
    error = jobs[0].micrometer.error if jobs[0].micrometer else None
    return _with_lines(jobs, with_micrometer(come, error) if error else come)


def _with_lines(jobs: Sequence[Job], come: Sequence[StockLine]) -> list[Job]:
    """The jobs with more pieces at hand, counted once however many share them; places keep the lines that they hold.

    A job that does not name a part takes it only where its bore can be held against a shaft, as in any order.
    """
    found = []
    for number, job in enumerate(jobs):
        stock = list(job.stock)
        at, names = {_kind(line): n for n, line in enumerate(stock)}, {line.part.name for line in stock}
        for line in come:
            if number and line.part.name not in names:
                continue
            more = 0 if number else line.on_hand
            if (same := at.get(_kind(line))) is not None:
                stock[same] = replace(stock[same], on_hand=stock[same].on_hand + more)
            else:
                at[_kind(line)] = len(stock)
                stock.append(replace(line, on_hand=more))
        found.append(replace(job, stock=tuple(stock)))
    return found


def _kind(line: StockLine) -> object:
    part = line.part
    return part.name, part.piece, part.thickness, part.inner, part.outer


def _lost(promised: Order, now: Order) -> Iterator[Lost]:
    """What the one order serves and the other leaves open."""
    for gap, demand in enumerate(now.demands):
        beyond = [(hole.start, hole.end) for hole in promised.holes if hole.gap == gap]
        for start, end in _less([hole for hole in now.holes if hole.gap == gap], beyond):
            yield Lost(gap, start, end, chance_between(demand, start, end))


def _left(promised: Order, now: Order) -> Iterator[Unanswered]:
    """The gaps that the one order answers and the other does not."""
    before = {(one.job, one.gap.name) for one in promised.unanswered}
    yield from (one for one in now.unanswered if (one.job, one.gap.name) not in before)


def _together(promised: Order, now: Order) -> Iterator[LostTogether]:
    """What the tables of the one order serve and those of the other do not; of lengths where it has a table."""
    tables = {(table.job, tuple(d.gap.name for d in table.demands)): table for table in now.tables}
    for table in promised.tables:
        here = tables.get((table.job, tuple(demand.gap.name for demand in table.demands)))
        if here is not None or all(demand.pairs for demand in table.demands):
            for readings in no_longer(table, here):
                yield LostTogether(table, open_at(promised.jobs[table.job], table, readings))


def _less(holes: Sequence[Hole], others: Sequence[tuple[Fraction, Fraction]]) -> Iterator[tuple[Fraction, Fraction]]:
    """What of these holes is in none of the others; ends that only touch are nothing, one reading alone is."""
    for hole in holes:
        if hole.start == hole.end:
            if not any(start <= hole.start <= end for start, end in others):
                yield hole.start, hole.end
            continue
        at = hole.start
        for start, end in sorted(others):
            if at < min(start, hole.end):
                yield at, min(start, hole.end)
            at = max(at, end)
        if at < hole.end:
            yield at, hole.end
