"""What is worth asking of places as a job states them: two packs on one gear, places that nothing tells apart."""

from __future__ import annotations

from collections.abc import Iterator

from shimopt.job import EffectSource, Gap, Job, Place
from shimopt.reasons.job_facts import GearShareAsked, GearWayAsked, SeatsAsked, SpringWasIn
from shimopt.seats import Finding

__all__ = ["about_places"]


def about_places(job: Job) -> list[Finding]:
    """Questions about packs on one gear, gap by gap, then about places without seats. All are cautions."""
    found = [finding for gap in job.gaps for on in ("pinion", "wheel") for finding in _of_gear(gap, on)]
    return [*found, *_without_seats(job), *_springs_in(job)]


def _of_gear(gap: Gap, on: str) -> Iterator[Finding]:
    """Packs that hold one gear mostly move it by half of what each gains, and one of two pushes it into mesh."""
    packs = [source for source in gap.effect_sources if source.kind == "bevel" and source.on == on]
    if len(packs) < 2:
        return
    places = tuple(source.place for source in packs)
    if _any_not_stated(packs, "share"):
        yield Finding(place=gap.name, grade="caution", fact=GearShareAsked(places=places, on=on))
    if _any_not_stated(packs, "into_mesh") and all(source.effect > 0 for source in packs):
        yield Finding(place=gap.name, grade="caution", fact=GearWayAsked(places=places, on=on))


def _any_not_stated(packs: list[EffectSource], key: str) -> bool:
    return any(key in source.not_stated for source in packs)


def _without_seats(job: Job) -> Iterator[Finding]:
    """Written-out places that would take any piece of the drawer."""
    bare = tuple(place.name for place in job.places if not _tells_parts_apart(place))
    if job.places_stated and len(bare) > 1 and len(job.stock) > 1:
        yield Finding(grade="caution", fact=SeatsAsked(places=bare))


def _springs_in(job: Job) -> Iterator[Finding]:
    """Springs that were in while a gap was read: how thick one was then, nobody knows."""
    for place in job.places:
        for part in dict.fromkeys(job.stock[i].part for i in place.installed if job.stock[i].part.is_spring):
            fact = SpringWasIn(form=part.form, thickness=part.thickness.best)
            yield Finding(place=place.name, part=part.name, piece=part.piece, grade="caution", fact=fact)


def _tells_parts_apart(place: Place) -> bool:
    """Whether a place or its seat says anything by which a piece could be kept out."""
    seat = place.seat
    if place.parts or seat is None:
        return bool(place.parts)
    said = (seat.shaft, seat.bore, seat.face, seat.next_ring, seat.thinnest, seat.tab)
    named = seat.forms or seat.materials or seat.parts
    return any(one is not None for one in said) or bool(named) or not seat.shims_allowed
