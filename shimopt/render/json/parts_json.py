"""Parts on seats, parts found and stacks made, as JSON; lengths in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from shimopt.arithmetic import thickness_of
from shimopt.arithmetic.clearance import Stack
from shimopt.job import Job, Place, Seat
from shimopt.parts import Part, StockLine
from shimopt.render.json.results_json import bracket_object, finding_object, mm
from shimopt.seats import Finding, OnSeat
from shimopt.seats.finding import Grade, Unchecked
from shimopt.seats.incoming import Checked
from shimopt.words.finding_words import finding_words, runs_off_told
from shimopt.words.fit_words import missing_words
from shimopt.words.speaker import Speaker


@dataclass(frozen=True, slots=True)
class SeatFits:
    """All parts that were asked about on one seat, or in a `place` that says itself which parts it takes."""

    seat: Seat
    lines: tuple[StockLine, ...]
    answers: tuple[OnSeat, ...]
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class FoundPart:
    """A part of a catalogue, and what the rules say of it where a seat was named."""

    line: StockLine
    catalogue: str
    answer: OnSeat | None


@dataclass(frozen=True, slots=True)
class Made:
    """A thickness that was asked for [nm], the stack that makes it, and where there is none the nearest.

    `assumed`: nobody said how far off it may be.
    """

    wanted: int
    within: int
    most: int
    stock: Sequence[StockLine]
    stack: Stack | None
    nearest: Stack
    assumed: bool = False


def fits_object(job: Job, fits: Sequence[SeatFits], checked: Sequence[Checked], unit: str) -> dict[str, Any]:
    """What other programs read."""
    say = Speaker(unit)
    rows, lines = _Rows(say), [line for one in fits for line in one.lines]
    told = [
        rows.of(seat_fits.seat.name, line.part, answer) | {"place": seat_fits.place.name if seat_fits.place else None}
        for seat_fits in fits
        for line, answer in zip(seat_fits.lines, seat_fits.answers, strict=True)
    ]
    for one in checked:
        told += [
            {**rows.of(name, one.piece.part, answer), "place": None, "as_labelled": one.as_labelled}
            for name, answer in one.seats.items()
        ]
    runs = [
        {
            "parts": one.parts,
            "supplier": one.size.supplier,
            "marked": mm(one.size.marked),
            "lot": one.size.of_lot or None,
            "off": mm(one.off),
            "words": one.words,
        }
        for one in runs_off_told(job, lines, say)
    ]
    return {"format": 1, "fits": told, "runs_off": runs}


class _Rows:
    """Rows of parts on seats. What the parts of a large drawer share is said once."""

    def __init__(self, say: Speaker) -> None:
        self._say = say
        self._found: dict[tuple[int, Grade], dict[str, Any]] = {}
        self._missing: dict[tuple[Unchecked, ...], list[dict[str, str]]] = {}

    def of(self, seat: str, part: Part, answer: OnSeat) -> dict[str, Any]:
        """One part on one seat."""
        return {
            "seat": seat,
            "part": part.name,
            "piece": part.piece,
            "verdict": answer.verdict,
            "findings": [self._finding(finding) for finding in answer.findings],
            "not_checked": self._not_checked(answer.not_checked),
            "provenance": part.provenance or None,
        }

    def _finding(self, finding: Finding) -> dict[str, Any]:
        key = id(finding.fact), finding.grade
        if key not in self._found:
            self._found[key] = finding_object(finding, self._say)
        return self._found[key]

    def _not_checked(self, missing: tuple[Unchecked, ...]) -> list[dict[str, str]]:
        if missing not in self._missing:
            self._missing[missing] = [{"rule": one.rule, "words": missing_words(one.lack)} for one in missing]
        return self._missing[missing]


def parts_object(found: Sequence[FoundPart], unit: str) -> dict[str, Any]:
    """What other programs read."""
    say = Speaker(unit)
    return {"format": 1, "lengths_in": "mm", "parts": [_part(one, say) for one in found]}


def _part(one: FoundPart, say: Speaker) -> dict[str, Any]:
    part, offer = one.line.part, one.line.offers[0]
    return {
        "part": part.name,
        "catalogue": one.catalogue,
        "thickness": bracket_object(part.thickness),
        "inner": bracket_object(part.inner),
        "outer": bracket_object(part.outer),
        "form": part.form or None,
        "material": part.material or None,
        "hardness": part.hardness or None,
        "provenance": part.provenance or None,
        "note": part.note or None,
        "price": None if offer.price is None else float(offer.price),
        "pack": offer.pack,
        "supplier": offer.supplier or None,
        "verdict": one.answer.verdict if one.answer else None,
        "findings": [
            {"grade": f.grade, "code": f.code, "words": finding_words(f, say)}
            for f in (one.answer.findings if one.answer else ())
        ],
    }


def make_object(made: Made) -> dict[str, Any]:
    """What other programs read."""
    return {
        "format": 1,
        "lengths_in": "mm",
        "wanted": mm(made.wanted),
        "tolerance": mm(made.within),
        "made": None if made.stack is None else _made(made.stack, made.stock),
        "nearest": None if made.stack is not None or not made.nearest else _made(made.nearest, made.stock),
    }


def _made(stack: Stack, stock: Sequence[StockLine]) -> dict[str, Any]:
    made = thickness_of(stack, stock)
    return {
        "stack": [
            {"part": stock[i].part.name, "piece": stock[i].part.piece, "pieces": stack.count(i)}
            for i in sorted(set(stack))
        ],
        "thickness": bracket_object(made),
    }
