"""All rules about one part on one seat, in the order in which they are told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from shimopt.job import Place, Seat
from shimopt.parts import Part
from shimopt.seats.face import (
    clear_of_next_ring,
    covers_land_at_full_shift,
    outside_in_counterbore,
    pressure_on_face,
    share_of_face,
)
from shimopt.seats.finding import Broken, Finding, Grade, Lack, Rule, Unchecked, Unknown
from shimopt.seats.made import (
    form_allowed,
    hard_enough,
    material_allowed,
    named_among,
    part_taken,
    sets_clearance,
    tab_finds_room,
    thick_enough,
    wide_enough,
)
from shimopt.seats.shaft import bore_against_shaft, clears_fillet, over_groove

__all__ = ["RULES", "OnSeat", "found", "on_place_all", "on_seat", "on_seat_all"]

RULES: Mapping[str, Rule] = {
    "bore": bore_against_shaft,
    "counterbore": outside_in_counterbore,
    "next ring": clear_of_next_ring,
    "groove": over_groove,
    "fillet": clears_fillet,
    "full shift": covers_land_at_full_shift,
    "share of the face": share_of_face,
    "pressure": pressure_on_face,
    "wall": wide_enough,
    "thickness": thick_enough,
    "part": part_taken,
    "spring": sets_clearance,
    "form": form_allowed,
    "tab": tab_finds_room,
    "material": material_allowed,
    "hardness": hard_enough,
}


@dataclass(frozen=True, slots=True)
class OnSeat:
    """What the rules say of one part on one seat: findings (still without a place), and what was not checked."""

    findings: tuple[Finding, ...]
    not_checked: tuple[Unchecked, ...] = ()

    def checked(self, rule: str) -> bool:
        """Whether this rule had all that it looks at."""
        return all(one.rule != rule for one in self.not_checked)

    def has(self, grade: Grade) -> bool:
        """Whether there is a finding of this grade."""
        return any(finding.grade == grade for finding in self.findings)

    @property
    def verdict(self) -> str:
        """ "suits", "caution" or "stop"."""
        return "stop" if self.has("stop") else "caution" if self.has("caution") else "suits"

    @property
    def deciding(self) -> Finding | None:
        """The finding that decided: the first of the worst grade above a note."""
        grades = ("stop", "caution")
        return next((f for grade in grades for f in self.findings if f.grade == grade), None)


def on_seat(part: Part, seat: Seat | None) -> OnSeat:
    """Ask every rule about a part on a seat; without one the bore is not checked, and only a spring is no shim."""
    if seat is None:
        nowhere = Seat("")
        springs, without = sets_clearance(part, nowhere), (Unchecked("bore", Lack.NO_SEAT),)
        return OnSeat((found(springs, nowhere, part),) if isinstance(springs, Broken) else (), without)
    findings: list[Finding] = []
    not_checked: list[Unchecked] = []
    for name, rule in RULES.items():
        answer = rule(part, seat)
        if isinstance(answer, Broken):
            findings.append(found(answer, seat, part))
        elif isinstance(answer, Unknown):
            not_checked.append(Unchecked(name, answer.missing))
    return OnSeat(tuple(findings), tuple(not_checked))


def on_seat_all(parts: Sequence[Part], seat: Seat | None) -> list[OnSeat]:
    """Every part on a seat. Parts alike in all that rules look at are asked about once, and told by their own names."""
    known: dict[object, OnSeat] = {}
    answers = []
    for part in parts:
        # brackets by identity: the rows of a table share them, and exact fractions are slow to hash
        named = part.name if seat is not None and seat.parts else ""
        sizes = id(part.thickness), id(part.inner), id(part.outer), part.edge
        kind = named, sizes, part.form, part.material, part.hardness
        answer = known.get(kind)
        if answer is None:
            answer = known[kind] = on_seat(part, seat)
        elif answer.findings:
            own = tuple(replace(finding, part=part.name, piece=part.piece) for finding in answer.findings)
            answer = OnSeat(own, answer.not_checked)
        answers.append(answer)
    return answers


def on_place_all(parts: Sequence[Part], place: Place) -> list[OnSeat]:
    """Every part in a place: on its seat, and by the names that the place itself takes."""
    return [_in_place(part, place, answer) for part, answer in zip(parts, on_seat_all(parts, place.seat), strict=True)]


def _in_place(part: Part, place: Place, on_its_seat: OnSeat) -> OnSeat:
    kept_out = named_among(part, place.parts, "place")
    if kept_out is None:
        return on_its_seat
    return replace(on_its_seat, findings=(*on_its_seat.findings, found(kept_out, Seat(""), part)))


def found(broken: Broken, seat: Seat, part: Part | None = None, place: str = "") -> Finding:
    """A broken rule as a finding, graded as the seat wishes."""
    grades = dict(seat.grades)
    grade: Grade = grades.get(broken.fact.code, broken.grade)  # type: ignore[assignment]  # the schema lets no other in
    name, piece = (part.name, part.piece) if part else ("", None)
    return Finding(place=place, part=name, piece=piece, grade=grade, fact=broken.fact)
