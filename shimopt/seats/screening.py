"""Every part against every seat: which may be fitted, with which findings. What is not given is not guessed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from shimopt.job import Job, Place, Seat
from shimopt.parts import Part
from shimopt.seats.all_rules import OnSeat, on_place_all
from shimopt.seats.finding import Finding, Unchecked
from shimopt.seats.stack_facts import Missing, NotChecked, SeatTakesNoShims


@dataclass(frozen=True, slots=True)
class Screening:
    """What the rules say of all parts on all places.

    `suits` and `cautions` hold, by place, the indices of stock lines that have no `stop`, and of those that have a
    `caution`; `findings` what was found, one note a place for what could not be checked; `unchecked` counts how often a
    rule had no dimension to go by, over all parts and places; `stopped` holds, by place, the stop that decided against
    a stock line, thin first.
    """

    suits: dict[str, tuple[int, ...]]
    cautions: dict[str, frozenset[int]]
    findings: tuple[Finding, ...]
    unchecked: int
    stopped: Mapping[str, Mapping[int, Finding]] = field(default_factory=dict)


def screen(job: Job, *, buy: bool = True) -> Screening:
    """Screen all stock of a job against the seats of all its places.

    Without `buy`, nothing is told of parts that are neither on hand nor in by the last record; what suits is worked out
    for all of them.
    """
    # what was said of a piece when it was planned holds once it is in
    fitted = {i for place in job.places for i in place.installed} if job.records else set()
    told = {i for i, line in enumerate(job.stock) if buy or line.on_hand or i in fitted}
    suits: dict[str, tuple[int, ...]] = {}
    cautions: dict[str, frozenset[int]] = {}
    findings: list[Finding] = []
    unchecked = 0
    stopped: dict[str, Mapping[int, Finding]] = {}
    # places alike in their seat, and in the parts that they take, are asked about once
    by_kind: dict[tuple[Seat | None, tuple[str, ...]], _SeatAnswers] = {}
    parts = [line.part for line in job.stock]
    for place in job.places:
        kind = place.seat, place.parts
        if kind not in by_kind:
            by_kind[kind] = _SeatAnswers.of(on_place_all(parts, place), told, parts)
        answers = by_kind[kind]
        allowed = place.takes_shims
        suits[place.name] = answers.suits if allowed else ()
        cautions[place.name] = answers.cautions
        stopped[place.name] = answers.stopped if allowed else {}
        findings += _at_place(place, answers)
        if allowed:
            unchecked += answers.missing.total()
    return Screening(suits, cautions, tuple(findings), unchecked, stopped)


@dataclass(frozen=True, slots=True)
class _SeatAnswers:
    """All stock on one seat; `missing` counts the parts for which a rule lacked something."""

    findings: tuple[Finding, ...]
    suits: tuple[int, ...]
    cautions: frozenset[int]
    missing: Counter[Unchecked]
    stopped: Mapping[int, Finding]

    @classmethod
    def of(cls, answers: Sequence[OnSeat], told: Collection[int], parts: Sequence[Part]) -> _SeatAnswers:
        suits = [i for i, answer in enumerate(answers) if answer.verdict != "stop"]
        careful = frozenset(i for i in suits if answers[i].verdict == "caution")
        missing = Counter(one for i in told for one in answers[i].not_checked)
        thin_first = sorted(range(len(answers)), key=lambda i: parts[i].thickness.best)
        decided = ((i, answers[i].deciding) for i in thin_first)
        stops = {i: finding for i, finding in decided if finding is not None and finding.grade == "stop"}
        findings = tuple(finding for i in sorted(told) for finding in answers[i].findings)
        return cls(findings, tuple(suits), careful, missing, stops)


def _at_place(place: Place, answers: _SeatAnswers) -> list[Finding]:
    """The findings with the place's name, and one note for all that could not be checked there."""
    if place.seat is not None and not place.seat.shims_allowed:
        return [Finding(place=place.name, grade="note", fact=SeatTakesNoShims(why=place.seat.why))]
    found = [replace(finding, place=place.name) for finding in answers.findings]
    if answers.missing:
        missing = tuple(Missing(*one, parts) for one, parts in sorted(answers.missing.items()))
        found.append(Finding(place=place.name, grade="note", fact=NotChecked(missing=missing)))
    return found
