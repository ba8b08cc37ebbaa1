"""What is worth asking of places: packs on one gear, nothing that tells them apart, pieces in them that do not suit.

A clearance that is right does not make what is in right.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from shimopt.arithmetic import after_shimming, thickness_of
from shimopt.arithmetic.changes import Changes
from shimopt.arithmetic.clearance import Stack, unlike
from shimopt.arithmetic.interchanged import interchanged
from shimopt.job import EffectSource, Gap, Job, Place
from shimopt.lengths import Bracket
from shimopt.reasons import job_facts as facts
from shimopt.seats import Finding, fitting_order, lies_otherwise
from shimopt.seats.finding import of_piece
from shimopt.seats.part_rules import gives_way
from shimopt.seats.stack_facts import LiesOtherwise, PacksMeasureApart


def about_places(job: Job, changes: Changes | None = None) -> list[Finding]:
    """Questions about packs on one gear, gap by gap, then about places without seats. All are cautions.

    How far packs move a gap is not asked where it was read after fitting and, by the changes, they move no more.
    """
    asked = [gap for gap in job.gaps if changes is None or not _answered(gap, changes)]
    found = [finding for gap in asked for on in ("pinion", "wheel") for finding in _of_gear(gap, on)]
    alike = () if changes is None else _apart(job, changes)
    return [*found, *_without_seats(job), *_springs_in(job), *_crushed_in(job, changes), *alike]


def _answered(gap: Gap, changes: Changes) -> bool:
    return gap.reading.after_fitting and not any(changes.at[place].changed for place, _ in gap.effects)


def _of_gear(gap: Gap, on: str) -> Iterator[Finding]:
    """Packs that hold one gear mostly move it by half of what each gains, and one of two pushes it into mesh."""
    packs = [source for source in gap.effect_sources if source.kind == "bevel" and source.on == on]
    if len(packs) < 2:
        return
    places = tuple(source.place for source in packs)
    if _any_not_stated(packs, "share"):
        yield Finding(place=gap.name, grade="caution", fact=facts.GearShareAsked(places=places, on=on))
    if _any_not_stated(packs, "into_mesh") and all(source.effect > 0 for source in packs):
        yield Finding(place=gap.name, grade="caution", fact=facts.GearWayAsked(places=places, on=on))


def _any_not_stated(packs: list[EffectSource], key: str) -> bool:
    return any(key in source.not_stated for source in packs)


def _without_seats(job: Job) -> Iterator[Finding]:
    """Written-out places that would take any piece of the drawer."""
    bare = tuple(place.name for place in job.places if not _tells_parts_apart(place))
    if job.places_stated and len(bare) > 1 and len(job.stock) > 1:
        yield Finding(grade="caution", fact=facts.SeatsAsked(places=bare))


def _springs_in(job: Job) -> Iterator[Finding]:
    """Springs that were in while a gap was read: how thick one was then, nobody knows."""
    for place in job.places:
        for part in dict.fromkeys(job.stock[i].part for i in place.installed if job.stock[i].part.is_spring):
            fact = facts.SpringWasIn(form=part.spring, thickness=part.thickness.best)
            yield of_piece(part, place.name, "caution", fact)


def _crushed_in(job: Job, changes: Changes | None) -> Iterator[Finding]:
    """Pieces that a clamp crushes, in during the reading and counted as marked, at places that change."""
    for place in job.places:
        if changes is not None and not changes.at[place.name].changed:
            continue
        for part in dict.fromkeys(job.stock[i].part for i in place.installed):
            if not part.measured and (soft := gives_way(part)):
                fact = facts.CrushedWasIn(material=soft, thickness=part.thickness.best)
                yield of_piece(part, place.name, "caution", fact)


def _apart(job: Job, changes: Changes) -> Iterator[Finding]:
    """Packs that match by their names, and surely are not as thick as one another as measured."""
    for names in job.equal:
        packs = {name: (*changes.at[name].stays, *(piece.line for piece in changes.at[name].into)) for name in names}
        if unlike(job, packs, names) or not any(changes.at[name].changed for name in names):
            continue
        thick = {name: thickness_of(pack, job.stock) for name, pack in packs.items()}
        thinner, thicker = (ends(names, key=lambda name: thick[name].best) for ends in (min, max))
        if thick[thinner].high < thick[thicker].low:
            apart = thick[thicker].best - thick[thinner].best
            fact = PacksMeasureApart(thicker=thicker, thinner=thinner, apart=apart)
            yield Finding(place=thicker, grade="caution", fact=fact)


def _tells_parts_apart(place: Place) -> bool:
    """Whether a place or its seat says anything by which a piece could be kept out."""
    seat = place.seat
    if place.parts or seat is None:
        return bool(place.parts)
    said = (seat.shaft, seat.bore, seat.face, seat.next_ring, seat.thinnest, seat.tab)
    named = seat.forms or seat.materials or seat.parts
    return any(one is not None for one in said) or bool(named) or not seat.shims_allowed


def about_installed(job: Job, changes: Changes, stopped: Mapping[str, Mapping[int, Finding]]) -> Iterator[Finding]:
    """Of every place: shims where none may lie, pieces that its rules stop (`stopped`), too many, packs not alike."""
    for change in changes:
        yield from about_what_stays(job, job.place[change.place], change.stays, stopped.get(change.place, {}))
    stays = {change.place: () if change.changed else change.stays for change in changes}
    for names in job.equal:
        # what the plan changes it makes alike
        changed = any(changes.at[name].changed for name in names)
        if not changed and any(stays[name] for name in names) and unlike(job, stays, names):
            fact = facts.PacksNotAlike(packs=tuple((name, stays[name]) for name in names))
            yield Finding(place=names[0], grade="caution", fact=fact)
    for balance in interchanged(job, stays):
        if any(stays[name] for name in balance.places) and not any(changes.at[n].changed for n in balance.places):
            wrong = facts.PacksInterchanged(balance=balance.name, places=balance.places)
            yield Finding(place=balance.places[0], grade="caution", fact=wrong)


def _as_recorded(job: Job, place: Place) -> tuple[int, ...]:
    """The pieces of a place in the order of the last record; empty where that tells none."""
    left, found = [*place.installed], list[int]()
    for piece in job.records[-1].places.get(place.name, ()) if job.records else ():
        part = (piece.part, piece.piece)
        at = next((i for i in left if (job.stock[i].part.name, job.stock[i].part.piece) == part), None)
        if at is None:
            return ()
        left.remove(at)
        found.append(at)
    return () if left else tuple(found)


def about_what_stays(job: Job, place: Place, stays: Stack, stopped: Mapping[int, Finding]) -> Iterator[Finding]:
    """The same of one place, by the pieces that stay in it."""
    if not stays:
        return
    lies = _as_recorded(job, place) if len(stays) == len(place.installed) else ()
    if lies_otherwise(lies, job.stock, place.seat):
        right = fitting_order(sorted(lies), job.stock, place.seat)
        names, should = (tuple(job.stock[i].part.name for i in order) for order in (lies, right))
        rubs = place.seat is not None and place.seat.moving_face is True
        fact_of_order = LiesOtherwise(lies=names, right=should, rubs=rubs)
        yield Finding(place=place.name, grade="caution", fact=fact_of_order)
    if place.seat is not None and not place.seat.shims_allowed:
        yield Finding(place=place.name, grade="caution", fact=_where_none_goes(job, place, stays))
        return
    for line in dict.fromkeys(stays):
        if line in stopped:
            part, fact = job.stock[line].part, facts.InDoesNotSuit(why=stopped[line].fact)
            yield of_piece(part, place.name, "stop", fact)
    # a record keeps what it left in by letting the place take nothing more
    if 0 < place.most_pieces < len(stays):
        kind = facts.MoreInThanAssumed if place.most_assumed else facts.MoreInThanTaken
        fact_of_count = kind(pack=stays, most=place.most_pieces)
        yield Finding(place=place.name, grade="caution", fact=fact_of_count)


def _where_none_goes(job: Job, place: Place, stays: Stack) -> facts.InWhereNoneGoes:
    why = place.seat.why if place.seat is not None else ""
    moved = job.moved_by[place.name]
    if len(moved) != 1:
        return facts.InWhereNoneGoes(pack=stays, why=why, gap="", low=0, high=0)
    thick = thickness_of(stays, job.stock)
    out = Bracket(-thick.high, -thick.best, -thick.low)
    after = after_shimming(moved[0], {place.name: out})
    low, high = (Fraction(end) for end in (after.low, after.high))
    return facts.InWhereNoneGoes(pack=stays, why=why, gap=moved[0].name, low=low, high=high)
