"""What is in, stays in, and does not suit where it is: a clearance that is right does not make it right."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from shimopt.arithmetic import after_shimming, thickness_of
from shimopt.arithmetic.changes import Changes, PlaceChange
from shimopt.job import Job, Place
from shimopt.lengths import Bracket
from shimopt.reasons.job_facts import InDoesNotSuit, InWhereNoneGoes, MoreInThanTaken
from shimopt.seats import Finding

__all__ = ["about_installed"]


def about_installed(job: Job, changes: Changes, stopped: Mapping[str, Mapping[int, Finding]]) -> Iterator[Finding]:
    """Of every place: shims where none may lie, pieces that its rules stop (`stopped`), more than it takes."""
    for change in changes:
        if change.stays:
            yield from _at_place(job, job.place[change.place], change, stopped.get(change.place, {}))


def _at_place(job: Job, place: Place, change: PlaceChange, stopped: Mapping[int, Finding]) -> Iterator[Finding]:
    if place.seat is not None and not place.seat.shims_allowed:
        yield Finding(place=place.name, grade="caution", fact=_where_none_goes(job, place, change))
        return
    for line in dict.fromkeys(change.stays):
        if line in stopped:
            part, fact = job.stock[line].part, InDoesNotSuit(why=stopped[line].fact)
            yield Finding(place=place.name, part=part.name, piece=part.piece, grade="stop", fact=fact)
    # a record keeps what it left in by letting the place take nothing more
    if 0 < place.most_pieces < len(change.stays):
        fact_of_count = MoreInThanTaken(pack=change.stays, most=place.most_pieces)
        yield Finding(place=place.name, grade="caution", fact=fact_of_count)


def _where_none_goes(job: Job, place: Place, change: PlaceChange) -> InWhereNoneGoes:
    why = place.seat.why if place.seat is not None else ""
    moved = job.moved_by[place.name]
    if len(moved) != 1:
        return InWhereNoneGoes(pack=change.stays, why=why, gap="", low=0, high=0)
    thick = thickness_of(change.stays, job.stock)
    out = Bracket(-thick.high, -thick.best, -thick.low)
    after = after_shimming(moved[0], {place.name: out})
    low, high = (Fraction(end) for end in (after.low, after.high))
    return InWhereNoneGoes(pack=change.stays, why=why, gap=moved[0].name, low=low, high=high)
