"""A job as it stands after its last record: the readings taken then, and the pieces that are in now.

A place whose gap is inside as last read keeps what is in it: it takes nothing more. A place whose gap is not inside is
planned anew: what is in it comes out and lies in the drawer, and its gap counts as read without it. Where places act
together, or held pieces from the beginning, they hold what was recorded as pieces that are in.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from shimopt.job.gap import Gap
from shimopt.job.model import Job, Place, clusters_of
from shimopt.job.record import RecordedGap, last_settled, pieces_moved
from shimopt.lengths import Bracket
from shimopt.parts import Part, StockLine
from shimopt.parts.drawer import FittedPiece, matching_line
from shimopt.readings import Reading

__all__ = ["recorded_part", "started_from_last_record"]


def started_from_last_record(job: Job, drawer_now: str) -> Job:
    """The job with its last record applied; the job itself where it has none. `drawer_now` is the drawer's version.

    Pieces that were fitted without changing the drawer's counts are no longer there to be planned with.
    """
    if not job.records:
        return job
    together = any(place.installed for place in job.places) or not all(cluster.alone for cluster in clusters_of(job))
    if together or _shimmed_and_outside(job):
        return _with_pieces_in(job, drawer_now)
    last = job.records[-1]
    gaps: list[Gap] = []
    places: dict[str, Place] = {place.name: replace(place, came_out=()) for place in job.places}
    stock = _really_on_hand(job, drawer_now)
    for gap in job.gaps:
        found = last.gaps.get(gap.name)
        if found is None or len(gap.effects) != 1:
            gaps.append(gap)
            continue
        now = _as_read(gap, found)
        place, _ = gap.effects[0]
        pieces = last.places.get(place, ())
        gaps.append(now)
        if pieces:
            # inside with what is in it: it stays as it is
            places[place] = replace(places[place], most_pieces=0)
    ordered = sorted(stock, key=lambda line: line.part.order)
    return replace(
        job,
        gaps=tuple(gaps),
        places=tuple(places[place.name] for place in job.places),
        stock=tuple(ordered),
        as_first_read={gap.name: gap.reading for gap in job.gaps},
    )


def _shimmed_and_outside(job: Job) -> bool:
    """Whether a gap whose place was shimmed was found outside: then the pieces in it come into the plan again."""
    last = job.records[-1]
    return any(
        _outside(_as_read(gap, last.gaps[gap.name]).reading.bracket.best, gap)
        for gap in job.gaps
        if gap.name in last.gaps and any(last.places.get(place) for place, _ in gap.effects)
    )


def _with_pieces_in(job: Job, drawer_now: str) -> Job:
    """Where places hold pieces or act together: what was recorded is in them, and the gaps read as last read."""
    last, stock = job.records[-1], _really_on_hand(job, drawer_now)
    parts: dict[str, list[Part]] = {}
    for place in job.places:
        parts[place.name] = []
        for piece in last.places.get(place.name, ()):
            parts[place.name].append(recorded_part(piece, stock))
    ordered = tuple(sorted(stock, key=lambda line: line.part.order))
    index = {line.part: i for i, line in enumerate(ordered)}
    places = (
        replace(place, installed=tuple(sorted(index[part] for part in parts[place.name])), came_out=())
        for place in job.places
    )
    gaps = (_as_read(gap, last.gaps[gap.name]) if gap.name in last.gaps else gap for gap in job.gaps)
    return replace(
        job,
        gaps=tuple(gaps),
        places=tuple(places),
        stock=ordered,
        as_first_read={gap.name: gap.reading for gap in job.gaps},
    )


def recorded_part(piece: FittedPiece, stock: list[StockLine]) -> Part:
    """The part that a recorded piece is; one that was measured when it was fitted gets a line of its own."""
    at = matching_line(piece, tuple(stock))
    if at is not None and (piece.piece is not None or _alike(stock[at].part.thickness, piece.thickness)):
        return stock[at].part
    like = next((line.part for line in stock if line.part.name == piece.part), None)
    part = Part(piece.part, piece.thickness, piece.piece)
    if like is not None:
        part = replace(like, thickness=piece.thickness, piece=piece.piece, measured=True, at="")
    if all(line.part != part for line in stock):
        stock.append(StockLine(part, 0))
    return part


def _alike(one: Bracket, other: Bracket) -> bool:
    """Whether two thicknesses are the same as far as a record can say: it knows whole nanometres."""
    ends = ((one.low, other.low), (one.best, other.best), (one.high, other.high))
    return all(abs(here - there) <= 1 for here, there in ends)


def _as_read(gap: Gap, found: RecordedGap) -> Gap:
    if found.read is None:
        return replace(gap, reading=Reading(found.predicted, "record"), typed_in=None, again=None, blades=None)
    return replace(gap, reading=Reading(found.read, "record after fitting"), typed_in=None, again=None, blades=None)


def _outside(best: Fraction, gap: Gap) -> bool:
    return gap.window.off(best) > 0


def _really_on_hand(job: Job, drawer_now: str) -> list[StockLine]:
    """The stock without the pieces that are in the machine but still counted in the drawer."""
    stock, last = list(job.stock), job.records[-1]
    begun = last.drawer in ("pending", "by hand") and last.drawer_before == drawer_now
    if last.drawer == "untouched" or begun:
        for piece, count in pieces_moved(last_settled(job.records, job.was_in, drawer_now), last).items():
            at = matching_line(piece, tuple(stock), taken=count > 0)
            if at is not None:
                stock[at] = replace(stock[at], on_hand=max(0, stock[at].on_hand - count))
    return stock
