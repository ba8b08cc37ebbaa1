"""`shimopt parts` for people and programs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from shimopt.errors import shown
from shimopt.job import Seat
from shimopt.lengths import Bracket, mm_number
from shimopt.parts import StockLine
from shimopt.render.layout import Line, columns, folded
from shimopt.render.scale import Marks
from shimopt.seats import OnSeat
from shimopt.words.finding_words import finding_words
from shimopt.words.speaker import Speaker, plural

__all__ = ["FoundPart", "parts_lines", "parts_object"]

_MOST_SHOWN = 40


@dataclass(frozen=True, slots=True)
class FoundPart:
    """A part of a catalogue, and what the rules say of it where a seat was named."""

    line: StockLine
    catalogue: str
    answer: OnSeat | None


def parts_lines(
    found: Sequence[FoundPart], stopped: int, seat: Seat | None, unit: str, width: int, marks: Marks
) -> list[Line]:
    """The screen: a table, then what its figures rest on."""
    say = Speaker(unit)
    on_seat = f" on {shown(seat.name)}" if seat else ""
    left_out = f"; {plural(stopped, 'part')} of these sizes must not be fitted there" if stopped else ""
    if not found:
        return [(line, True) for line in folded(f"No such part{on_seat} in the catalogues{left_out}.", width)]
    head = f"{plural(len(found), 'part')} found{on_seat}{left_out}. All lengths in {unit}."
    lines: list[Line] = [(line, True) for line in folded(head, width)]
    shown_parts = sorted(found, key=_order)[:_MOST_SHOWN]
    rows = [("part", "thick", "bore", "outside", "figures")]
    for one in shown_parts:
        part = one.line.part
        sign = f" {marks.unproven}" if one.answer is not None and one.answer.verdict == "caution" else ""
        rows.append(
            (
                f"{shown(part.name)}{sign}",
                say.bare(part.marked or part.thickness.best),
                _span(part.inner, say),
                _span(part.outer, say),
                shown(part.provenance)[:16],
            )
        )
    head_row, *blocks = columns(rows, width, least_first=16)
    lines += [(text, True) for text in head_row]
    catalogue = ""
    for one, block in zip(shown_parts, blocks, strict=True):
        if one.catalogue != catalogue:
            catalogue = one.catalogue
            lines += _plain(folded(f"from {shown(catalogue)}", width))
        lines += _plain(block)
    if len(found) > len(shown_parts):
        lines += _plain(folded(f"{len(found) - len(shown_parts)} more: narrow the search, or see --json.", width))
    if unknown := sum("bore" in one.answer.not_checked for one in found if one.answer):
        text = f"Not checked whether the bore suits: {plural(unknown, 'part')} of these; a diameter is not known."
        lines += _plain(folded(text, width))
    cautions = {
        finding_words(f, say) for one in found if one.answer for f in one.answer.findings if f.grade == "caution"
    }
    lines += [
        (line, False) for text in sorted(cautions)[:3] for line in folded(f"{marks.unproven} {text}.", width, "", "  ")
    ]
    if memory := sum(one.line.part.from_memory for one in found):
        text = (
            f"The figures of {memory} of {plural(len(found), 'part')} are wholly or partly from memory, not from a "
            "document: check them against the standard or the piece."
        )
        lines += _plain(folded(text, width))
    return lines


def parts_object(found: Sequence[FoundPart], unit: str) -> dict[str, Any]:
    """What other programs read."""
    say = Speaker(unit)
    return {"format": 1, "lengths_in": "mm", "parts": [_part(one, say) for one in found]}


def _part(one: FoundPart, say: Speaker) -> dict[str, Any]:
    part, offer = one.line.part, one.line.offers[0]
    return {
        "part": part.name,
        "catalogue": one.catalogue,
        "thickness": _bracket(part.thickness),
        "inner": _bracket(part.inner),
        "outer": _bracket(part.outer),
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


def _bracket(bracket: Bracket | None) -> dict[str, float] | None:
    if bracket is None:
        return None
    return {"low": mm_number(bracket.low), "best": mm_number(bracket.best), "high": mm_number(bracket.high)}


def _order(one: FoundPart) -> tuple[object, ...]:
    """By catalogue; parts whose bore was checked first; then by bore, outside and thickness."""
    part = one.line.part
    unchecked = one.answer is not None and "bore" in one.answer.not_checked
    sizes = [bracket.best if bracket else Fraction(0) for bracket in (part.inner, part.outer, part.thickness)]
    return (unchecked, one.catalogue, *sizes, part.order)


def _span(bracket: Bracket | None, say: Speaker) -> str:
    if bracket is None:
        return "?"
    if bracket.exact:
        return say.bare(bracket.low)
    return f"{say.bare(bracket.low)}-{say.bare(bracket.high)}"


def _plain(lines: Sequence[str]) -> list[Line]:
    return [(line, False) for line in lines]
