"""A job as it stands after its last record: the readings taken then, and the pieces that are in now.

What was recorded in a place is in it as pieces that were installed are: it stays while every gap that it moves is
inside, and comes into the plan again where one is not.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from shimopt.assembly import turns
from shimopt.job.gap import Gap
from shimopt.job.model import Job, Place
from shimopt.job.record import Record, RecordedGap, alike, last_settled, measured_anew, pieces_moved
from shimopt.lengths import Bracket
from shimopt.parts import Part, StockLine
from shimopt.parts.drawer import FittedPiece, matching_line, put_aside
from shimopt.probability import Even
from shimopt.readings import Reading
from shimopt.readings.reading import Told, from_nothing, spread_of_95


def started_from_last_record(job: Job, drawer_now: str) -> Job:
    """The job with its last record applied; the job itself where it has none. `drawer_now` is the drawer's version.

    Pieces that were fitted without changing the drawer's counts are no longer there to be planned with.
    """
    if not job.records:
        return job
    last, stock = job.records[-1], _really_on_hand(job, drawer_now)
    earlier = job.records[-2] if len(job.records) > 1 else None
    in_a_row = {line.part for line in stock if line.row is not None or line.on_hand}
    installed = {place.name: [FittedPiece.of(part) for part in _parts(place, job)] for place in job.places}
    now_in, was_in, before, read_with = (
        {
            place.name: [
                recorded_part(piece, stock)
                for piece in measured_anew(pieces.get(place.name, ()), last.places.get(place.name, ()))
            ]
            for place in job.places
        }
        for pieces in (last.places, job.was_in, earlier.places if earlier else {}, installed)
    )
    was_in, before, read_with = (
        {name: measured_since(parts, now_in[name], in_a_row | _elsewhere(held, name)) for name, parts in held.items()}
        for held in (was_in, before, read_with)
    )
    ordered = tuple(sorted(stock, key=lambda line: line.part.order))
    index = {line.part: i for i, line in enumerate(ordered)}

    def lines(parts: Mapping[str, list[Part]]) -> dict[str, tuple[int, ...]]:
        return {name: tuple(sorted(index[part] for part in of)) for name, of in parts.items()}

    def at(records: Sequence[Record], held: Mapping[str, tuple[int, ...]]) -> tuple[tuple[Gap, ...], tuple[Place, ...]]:
        return (
            tuple(_as_it_reads(gap, job, records) for gap in job.gaps),
            tuple(replace(place, installed=held[place.name], came_out=()) for place in job.places),
        )

    (gaps, places), (old_gaps, old_places) = (
        at(job.records, lines(now_in)),
        at(job.records[:-1], lines(before if earlier else read_with)),
    )
    first = replace(job, as_first_read={gap.name: gap.reading for gap in job.gaps}, read_with=lines(read_with))
    return replace(
        first,
        gaps=gaps,
        places=places,
        stock=ordered,
        before=replace(first if earlier else job, gaps=old_gaps, places=old_places, stock=ordered),
        began_with=lines(was_in),
    )


def recorded_part(piece: FittedPiece, stock: list[StockLine]) -> Part:
    """The part that a recorded piece is; one that was measured when it was fitted gets a line of its own."""
    at = matching_line(piece, tuple(stock))
    if at is not None and (piece.piece is not None or alike(stock[at].part.thickness, piece.thickness)):
        return stock[at].part
    like = next((line.part for line in stock if line.part.name == piece.part), None)
    part = Part(piece.part, piece.thickness, piece.piece)
    if like is not None:
        part = replace(like, thickness=piece.thickness, piece=piece.piece, measured=True, at="")
    part = replace(part, supplier=piece.supplier, lot=piece.lot)
    if all(line.part != part for line in stock):
        stock.append(StockLine(part, 0))
    return part


def _elsewhere(held: Mapping[str, list[Part]], name: str) -> set[Part]:
    """What was in all other places."""
    return {part for place, parts in held.items() if place != name for part in parts}


def measured_since(were: Sequence[Part], now: Sequence[Part], given: Collection[Part] = ()) -> list[Part]:
    """The pieces that were in, those that are still in by name but were measured since with their measure.

    What is measured where it is, is still the same piece: it went neither out nor in. Records of earlier versions do
    not say so. `given` are pieces that came from elsewhere, known by their measure before.
    """
    free = [part for part in now if part.measured and part not in were and part not in given]
    found = []
    for part in were:
        same = (one for one in free if (one.name, one.piece) == (part.name, part.piece) and not part.measured)
        twin = next(same, None) if part not in now else None
        if twin is not None:
            free.remove(twin)
        found.append(twin or part)
    return found


def _as_it_reads(gap: Gap, job: Job, records: Sequence[Record]) -> Gap:
    """A gap as it was last read; as predicted where what moves it was changed since and nobody read it again."""
    movers, at_first = [job.place[place] for place, _ in gap.effects], gap.reading
    pieces = {place.name: tuple(FittedPiece.of(part) for part in _parts(place, job)) for place in movers}
    for record in records:
        found = record.gaps.get(gap.name)
        now = {place.name: record.places.get(place.name, ()) for place in movers}
        changed = {name: _changed(pieces[name], now[name]) for name in now}
        if found is not None and (found.read is not None or any(changed.values())):
            moved = [(one.thickness, effect) for name, effect in gap.effects for one in changed[name]]
            gap = _read_or_predicted(gap, found, at_first, moved)
        pieces = now
    return gap


def _changed(before: Sequence[FittedPiece], now: Sequence[FittedPiece]) -> list[FittedPiece]:
    """The pieces that went in or came out, by part and tag."""
    (was, of_was), (is_in, of_now) = (
        (Counter((one.part, one.piece) for one in pieces), {(one.part, one.piece): one for one in pieces})
        for pieces in (before, now)
    )
    return [of_was[key] for key in (was - is_in).elements()] + [of_now[key] for key in (is_in - was).elements()]


def _parts(place: Place, job: Job) -> list[Part]:
    return [job.stock[i].part for i in place.installed]


def _read_or_predicted(
    gap: Gap, found: RecordedGap, at_first: Reading, moved: Sequence[tuple[Bracket, Fraction]]
) -> Gap:
    """The basis is that of the reading before: what was predicted from it, or read as finely as it was, is no surer.

    Parameters: at_first, how it was read before any record; pulls are of the dial that was used then. moved, how thick
    the pieces are that went in or came out since, each with its effect.
    """
    read, kind = (found.predicted, "record") if found.read is None else (found.read, "record after fitting")
    before = gap.reading.bracket
    as_fine = found.read is None or 2 * (read.high - read.best) == before.high - before.low
    basis = gap.reading.basis if as_fine else "worst case"
    # a reading of nothing hides as much after fitting as it does before
    hides = gap.reading.no_preload_assumed if found.read is None else from_nothing(read)
    # unless it turns as its maker states, or easier: that tells what no blade does
    hides = hides and not (found.running is not None and turns(found.running, gap.running) in ("right", "loose"))
    first, blades = gap.reading.first or gap.reading.kind, None if found.read is None else found.blades
    by: Told = "pair" if blades else ""
    # pulls repeat only so well; what is known 19 times in 20 is not known for sure
    pulls = found.pulls if found.read is not None else 0
    basis = at_first.basis if pulls else basis
    spread = spread_of_95(read, (pulls or at_first.pulls or 0) - 1) if basis == "95 %" else None
    # what was calculated errs as its reading and its pieces do, whose bounds add up
    rest = (read.high - read.low - (before.high - before.low)) / 2
    if found.read is None and rest >= 0:
        each = [(one.high - one.low) / 2 * abs(effect) for one, effect in moved]
        # each piece errs by itself, where they are all of it
        apart = each if abs(sum(each) - rest) <= len(each) + 1 else [rest]
        spread = (*gap.reading.errors, *(Even(half) for half in apart if half))
    reading = Reading(read, kind, basis, no_preload_assumed=hides, by=by, first=first, spread=spread)
    if gap.reading.repeats is not None:
        reading = reading.repeating(gap.reading.repeats)
    return replace(gap, reading=reading, typed_in=None, again=None, blades=blades)


def _really_on_hand(job: Job, drawer_now: str) -> list[StockLine]:
    """The stock without the pieces that are in the machine but still counted in the drawer."""
    stock, last = list(job.stock), job.records[-1]
    begun = last.drawer in ("pending", "by hand") and last.drawer_before == drawer_now
    if last.drawer == "untouched" or begun:
        for piece, count in pieces_moved(last_settled(job.records, job.was_in, drawer_now), last).items():
            # what came out worn went back into no drawer
            if count < 0 and put_aside(piece, stock):
                recorded_part(piece, stock)
                continue
            at = matching_line(piece, tuple(stock), taken=count > 0)
            if at is None and count < 0:
                part = recorded_part(piece, stock)
                at = next(i for i, line in enumerate(stock) if line.part == part)
            if at is not None:
                stock[at] = replace(stock[at], on_hand=max(0, stock[at].on_hand - count))
    return stock
