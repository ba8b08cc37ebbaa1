"""All rules about one part on one seat, in the order in which they are told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import Any, cast

from shimopt.job import Place, Seat
from shimopt.parts import Part
from shimopt.seats.face_rules import (
    clear_of_next_ring,
    covers_land_at_full_shift,
    outside_in_counterbore,
    pressure_on_face,
    share_of_face,
)
from shimopt.seats.finding import Answer, Broken, Finding, Grade, Lack, Rule, Suits, Unchecked, Unknown
from shimopt.seats.part_rules import (
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
from shimopt.seats.shaft_rules import bore_against_shaft, clears_fillet, over_groove

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

    def of(self, part: Part) -> OnSeat:
        """The same of another part."""
        name, piece, thick = part.known_by
        own = (
            Finding(part=name, piece=piece, thickness=thick, grade=one.grade, fact=one.fact) for one in self.findings
        )
        return OnSeat(tuple(own), self.not_checked)

    @property
    def verdict(self) -> Suits:
        """The worst of what was found; a note is nothing against it."""
        worst = self.deciding
        return "suits" if worst is None else "stop" if worst.grade == "stop" else "caution"

    @property
    def deciding(self) -> Finding | None:
        """The finding that decided: the first of the worst grade above a note."""
        worst = None
        for finding in self.findings:
            if finding.grade == "stop":
                return finding
            if worst is None and finding.grade == "caution":
                worst = finding
        return worst


def on_seat(part: Part, seat: Seat | None) -> OnSeat:
    """Ask every rule about a part on a seat; without one the bore is not checked, and only a spring is no shim."""
    if seat is None:
        nowhere = Seat("")
        springs, without = sets_clearance(part, nowhere), (Unchecked("bore", Lack.NO_SEAT),)
        return OnSeat((found(springs, nowhere, part),) if isinstance(springs, Broken) else (), without)
    return _told([rule(part, seat) for rule in RULES.values()], part, seat)


def _told(answers: Sequence[Answer], part: Part, seat: Seat) -> OnSeat:
    """What the rules answered, in their order, as far as they were asked."""
    missing = (
        Unchecked(name, said.missing) for name, said in zip(RULES, answers, strict=False) if isinstance(said, Unknown)
    )
    return OnSeat(tuple(found(said, seat, part) for said in answers if isinstance(said, Broken)), tuple(missing))


def on_seat_all(parts: Sequence[Part], seat: Seat | None, *, to_first_stop: bool = False) -> list[OnSeat]:
    """Every part on a seat, as `on_seat` says of each: a rule is asked once about parts alike in what it looks at.

    With `to_first_stop` nothing more is asked of a part once it must not be fitted: its verdict and what decided it
    are known, what else there is to say of it is not.
    """
    if seat is None:
        return [on_seat(part, None) for part in parts]
    told: list[list[Answer]] = [[] for _ in parts]
    asked: Sequence[int] = range(len(parts))
    for rule in RULES.values():
        answers = _answers(rule, [parts[i] for i in asked], seat)
        for i, answer in zip(asked, answers, strict=True):
            told[i].append(answer)
        if to_first_stop:
            asked = [i for i, answer in zip(asked, answers, strict=True) if answer is None or not _stops(answer, seat)]
    known: dict[tuple[int, ...], OnSeat] = {}
    found_on = []
    for part, row in zip(parts, told, strict=True):
        alike = tuple(map(id, row))
        said = known.get(alike)
        if said is None:
            said = known[alike] = _told(row, part, seat)
        elif said.findings:
            said = said.of(part)
        found_on.append(said)
    return found_on


class _Watched:
    """A part that notes which of its figures a rule looks at."""

    def __init__(self, part: Part) -> None:
        self.part, self.looked_at = part, set[str]()

    def __getattr__(self, name: str) -> Any:
        if isinstance(worked_out := getattr(Part, name), property):
            return worked_out.__get__(self)
        self.looked_at.add(name)
        return getattr(self.part, name)


def _answers(rule: Rule, parts: Sequence[Part], seat: Seat) -> list[Answer]:
    """What a rule says of each part.

    A rule goes by the part's figures and the seat alone, so parts that are alike in every figure that it has looked at
    get the same answer. Figures are told apart by identity: the rows of a table share them, and exact fractions are
    slow to compare.
    """
    figures: tuple[str, ...] = ()
    while True:
        known: dict[object, Answer] = {}
        keys = _identities(parts, figures)
        for key, part in zip(keys, parts, strict=True):
            if key in known:
                continue
            watched = _Watched(part)
            known[key] = rule(cast("Part", watched), seat)
            if more := watched.looked_at.difference(figures):
                figures = (*figures, *sorted(more))
                break
        else:
            return [known[key] for key in keys]


def _identities(parts: Sequence[Part], figures: Sequence[str]) -> Sequence[object]:
    if not figures:
        return [()] * len(parts)
    columns = [list(map(id, map(attrgetter(name), parts))) for name in figures]
    return columns[0] if len(columns) == 1 else list(zip(*columns, strict=True))


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
    name, piece, thick = part.known_by if part else ("", None, None)
    return Finding(place=place, part=name, piece=piece, thickness=thick, grade=_grade(broken, seat), fact=broken.fact)


def _grade(broken: Broken, seat: Seat) -> Grade:
    wished: Grade | None = dict(seat.grades).get(broken.fact.code)  # type: ignore[assignment]  # the schema lets no other in
    return wished or broken.grade


def _stops(answer: Broken | Unknown, seat: Seat) -> bool:
    return isinstance(answer, Broken) and _grade(answer, seat) == "stop"
