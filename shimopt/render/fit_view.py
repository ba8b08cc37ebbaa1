"""`shimopt fit` for people and programs: every part on every seat, and pieces in hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from shimopt.errors import shown
from shimopt.job import Seat
from shimopt.lengths import mm_number
from shimopt.parts import Part, StockLine
from shimopt.render.layout import Line, folded
from shimopt.render.scale import Marks
from shimopt.seats import Finding, OnSeat
from shimopt.seats.incoming import Checked
from shimopt.words.finding_words import finding_words
from shimopt.words.fit_words import missing_words
from shimopt.words.speaker import Speaker, listed

__all__ = ["SeatFits", "checked_lines", "fit_lines", "fits_object"]

_MOST_OFFERED = 60
_SAID = {"suits": "suits", "caution": "caution", "stop": "stop"}
_OF_PIECES = {"suits": "fits", "caution": "fits with care", "stop": "does not fit"}


@dataclass(frozen=True, slots=True)
class SeatFits:
    """All parts that were asked about on one seat."""

    seat: Seat
    lines: tuple[StockLine, ...]
    answers: tuple[OnSeat, ...]


def fit_lines(fits: Sequence[SeatFits], unit: str, width: int, marks: Marks, *, full: bool) -> list[Line]:
    """The screen: one block a seat; `full` says all findings of a part, else the one that decided."""
    say = Speaker(unit)
    lines: list[Line] = []
    for seat_fits in fits:
        seat = seat_fits.seat
        lines += [(line, True) for line in folded(f"{shown(seat.name)}: {_seat_text(seat, say)}", width, "", "  ")]
        if not seat.shims_allowed:
            lines += _plain(folded(f"takes no shims: {shown(seat.why)}", width, "  ", "    "))
        left_out = 0
        for at, (line, answer) in enumerate(zip(seat_fits.lines, seat_fits.answers, strict=True)):
            if at >= _MOST_OFFERED and not line.on_hand:
                left_out += 1
                continue
            lines += _part_lines(line.part, answer, say, width, marks, full=full)
        if left_out:
            text = f"{left_out} more parts of the catalogues: see --json, or name them with --part."
            lines += _plain(folded(text, width, "  ", "    "))
        if missing := _missing(seat_fits.answers):
            lines += _plain(folded(f"Not checked: {missing}.", width, "  ", "    "))
        lines.append(("", False))
    return lines[:-1]


def _part_lines(part: Part, answer: OnSeat, say: Speaker, width: int, marks: Marks, *, full: bool) -> list[Line]:
    sign = _sign(answer.verdict, marks)
    start = f"{sign} {_name(part)} ({say(part.thickness.best)})"
    if full:
        lines = _plain(folded(f"{start}: {_SAID[answer.verdict]}; {_dimensions(part, say)}", width, "  ", "      "))
        for finding in answer.findings:
            lines += _plain(folded(f"{finding.grade}: {finding_words(finding, say)}.", width, "    ", "      "))
        return lines
    deciding = answer.deciding
    said = f"{answer.verdict}: {finding_words(deciding, say)}" if deciding else "suits"
    return _plain(folded(f"{start} {said}.", width, "  ", "      "))


def checked_lines(checked: Sequence[Checked], unit: str, width: int, marks: Marks) -> list[Line]:
    """The incoming check on the screen: one block a piece."""
    say = Speaker(unit)
    lines: list[Line] = []
    for one in checked:
        part, label = one.piece.part, one.as_labelled
        said = {True: "what its label says", False: "not what its label says", None: "its label was not checked"}[label]
        thick = say.bracket(part.thickness.low, part.thickness.high)
        start = f"{_sign(one.best_verdict, marks)} {_name(part)}: {_OF_PIECES[one.best_verdict]}; {said}"
        lines += [(line, True) for line in folded(start, width, "", "  ")]
        spots = _spots(len(one.piece.spots))
        text = f"measured {thick} thick at {spots}; {_dimensions(part, say)}{_taken(one)}"
        lines += _plain(folded(text, width, "  ", "    "))
        for finding in one.findings:
            lines += _plain(folded(f"{finding.grade}: {finding_words(finding, say)}.", width, "  ", "    "))
        own = set(map(id, one.findings))
        for name, answer in one.seats.items():
            on_it = [f for f in answer.findings if id(f) not in own]
            worst = next((f for grade in ("stop", "caution") for f in on_it if f.grade == grade), None)
            why = f": {finding_words(worst, say)}" if worst else " as it is" if answer.verdict == "stop" else ""
            lines += _plain(
                folded(
                    f"{_sign(answer.verdict, marks)} {shown(name)}: {_OF_PIECES[answer.verdict]}{why}.",
                    width,
                    "  ",
                    "      ",
                )
            )
        lines.append(("", False))
    return lines[:-1]


def fits_object(fits: Sequence[SeatFits], checked: Sequence[Checked], unit: str) -> dict[str, Any]:
    """What other programs read."""
    say = Speaker(unit)
    rows = [
        _fit(seat_fits.seat.name, line.part, answer, say)
        for seat_fits in fits
        for line, answer in zip(seat_fits.lines, seat_fits.answers, strict=True)
    ]
    for one in checked:
        rows += [
            {**_fit(name, one.piece.part, answer, say), "as_labelled": one.as_labelled}
            for name, answer in one.seats.items()
        ]
    return {"format": 1, "fits": rows}


def _fit(seat: str, part: Part, answer: OnSeat, say: Speaker) -> dict[str, Any]:
    return {
        "seat": seat,
        "part": part.name,
        "piece": part.piece,
        "verdict": answer.verdict,
        "findings": [_finding(finding, say) for finding in answer.findings],
        "not_checked": [{"rule": rule, "words": missing_words(code)} for rule, code in answer.not_checked.items()],
        "provenance": part.provenance or None,
    }


def _finding(finding: Finding, say: Speaker) -> dict[str, Any]:
    numbers: Mapping[str, float] = {key: mm_number(length) for key, length in finding.lengths.items()} | {
        key: float(round(number, 9)) for key, number in finding.numbers.items()
    }
    return {"grade": finding.grade, "code": finding.code, "words": finding_words(finding, say), "numbers": numbers}


def _seat_text(seat: Seat, say: Speaker) -> str:
    """What is known of a seat, in a few words."""
    said = []
    for name, bracket in (("shaft", seat.shaft), ("counterbore", seat.bore), ("next ring", seat.next_ring)):
        if bracket is not None:
            said.append(f"{name} {say.bracket(bracket.low, bracket.high)}")
    if seat.face is not None:
        said.append(f"face {say.bracket(seat.face.inner.best, seat.face.outer.best)}")
    for groove in seat.grooves or ():
        said.append(f"groove {say(groove.diameter.best)} from {say.bracket(groove.start, groove.end)}")
    if seat.fillet:
        said.append(f"fillet {say(seat.fillet)}")
    return ", ".join(said) or "nothing is known of it but its name"


def _missing(answers: Sequence[OnSeat]) -> str:
    """What rules lacked, each named once."""
    codes = {code: None for answer in answers for code in answer.not_checked.values()}
    return listed([missing_words(code) for code in codes], 12)


def _dimensions(part: Part, say: Speaker) -> str:
    said = []
    for name, bracket in (("bore", part.inner), ("outside", part.outer)):
        said.append(f"{name} {say.bracket(bracket.low, bracket.high)}" if bracket else f"{name} not known")
    said += [shown(text) for text in (part.form, part.material, part.hardness) if text]
    if part.provenance:
        said.append(f"figures: {shown(part.provenance)}")
    return ", ".join(said)


def _taken(one: Checked) -> str:
    """Diameters that were not measured."""
    label = one.piece.label
    taken = [
        word
        for key, word in (("inner", "bore"), ("outer", "outside"))
        if label is not None and getattr(label, key) is not None and key not in one.piece.measured
    ]
    return f" ({' and '.join(taken)} as the label says, not measured)" if taken else ""


def _spots(count: int) -> str:
    return "one spot" if count == 1 else f"{count} spots"


def _sign(verdict: str, marks: Marks) -> str:
    return {"suits": marks.inside, "caution": marks.unproven, "stop": marks.outside}[verdict]


def _name(part: Part) -> str:
    return f"{shown(part.name)} [{shown(part.piece)}]" if part.piece else shown(part.name)


def _plain(lines: Sequence[str]) -> list[Line]:
    return [(line, False) for line in lines]
