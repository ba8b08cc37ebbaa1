"""Every part against every seat: which may be fitted, with which findings. Geometry that is not given is not guessed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shimopt.fit.bore import bore_against_shaft, missing_dimension
from shimopt.fit.finding import Finding
from shimopt.job import Job, Place, Seat
from shimopt.parts import StockLine

__all__ = ["Screening", "screen"]


@dataclass(frozen=True, slots=True)
class Screening:
    """What the rules say of all parts on all places.

    `suits` and `cautions` hold, by place, the indices of stock lines that have no `stop`, and of those that have a
    `caution`; `unchecked` counts part-and-place pairs on which a rule had no dimension to go by.
    """

    suits: dict[str, tuple[int, ...]]
    cautions: dict[str, frozenset[int]]
    findings: tuple[Finding, ...]
    unchecked: int


def screen(job: Job) -> Screening:
    """Screen all stock of a job against the seats of all its places."""
    suits: dict[str, tuple[int, ...]] = {}
    cautions: dict[str, frozenset[int]] = {}
    findings: list[Finding] = []
    unchecked = 0
    by_seat: dict[Seat | None, list[list[Finding]]] = {}
    for place in job.places:
        if place.seat not in by_seat:
            by_seat[place.seat] = [_part_on_seat(line, place.seat) for line in job.stock]
        per_line = by_seat[place.seat]
        stopped = {i for i, found in enumerate(per_line) if any(f.grade == "stop" for f in found)}
        careful = {i for i, found in enumerate(per_line) if any(f.grade == "caution" for f in found)}
        allowed = place.seat is None or place.seat.shims_allowed
        suits[place.name] = tuple(i for i in range(len(job.stock)) if allowed and i not in stopped)
        cautions[place.name] = frozenset(careful - stopped)
        here, missing = _at_place(place, per_line, job.stock)
        findings += here
        unchecked += missing
    return Screening(suits, cautions, tuple(findings), unchecked)


def _part_on_seat(line: StockLine, seat: Seat | None) -> list[Finding]:
    """All findings about one part on one seat, still without the place's name."""
    part = line.part
    found: list[Finding] = []
    if missing := missing_dimension(part, seat):
        found.append(Finding("", part.name, "note", "bore_not_checked", {}, {"missing": missing}, part.piece))
    elif seat is not None and (broken := bore_against_shaft(part, seat)):
        grade, code, numbers = broken
        found.append(Finding("", part.name, grade, code, numbers, {}, part.piece))
    return found


def _at_place(place: Place, per_line: Sequence[list[Finding]], stock: Sequence[StockLine]) -> tuple[list[Finding], int]:
    """The findings with the place's name, and how many rules were not checked; one note where the seat is to blame."""
    found: list[Finding] = []
    unchecked = 0
    if place.seat is not None and not place.seat.shims_allowed:
        return [Finding(place.name, "", "note", "shims_not_allowed", {}, {"why": place.seat.why})], 0
    for finding in (f for findings in per_line for f in findings):
        unchecked += finding.code == "bore_not_checked"
        if finding.texts.get("missing") in ("no_seat", "no_shaft_diameter"):
            continue
        found.append(Finding(place.name, finding.part, finding.grade, finding.code, finding.lengths, finding.texts,
                             finding.piece))  # fmt: skip
    if stock and (place.seat is None or place.seat.shaft is None):
        missing = "no_seat" if place.seat is None else "no_shaft_diameter"
        found.append(Finding(place.name, "", "note", "bore_not_checked", {}, {"missing": missing}))
    return found, unchecked
