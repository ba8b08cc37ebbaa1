"""Parts and pieces in hand on their seats, on a terminal: what suits, what does not, and why."""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.errors import shown
from shimopt.job import Job, Seat
from shimopt.parts import Part, StockLine
from shimopt.render.json.parts_json import SeatFits
from shimopt.render.screens.layout import Line, Marks, bold, plain
from shimopt.seats import OnSeat
from shimopt.seats.incoming import Checked
from shimopt.seats.part_facts import PressureLimitFromMemory
from shimopt.words.finding_words import finding_words, runs_off_told
from shimopt.words.fit_words import counted_words, missing_words, provenance_word
from shimopt.words.speaker import Speaker, listed, tagged

_MOST_OFFERED = 60
# rows that somebody reads one by one; of more, each kind of answer is told once
_MOST_LISTED = 120
_MOST_NAMED = 40
_SAID = {"suits": "suits", "caution": "caution", "stop": "stop"}
_OF_PIECES = {"suits": "fits", "caution": "fits; mind what is told", "stop": "does not fit"}


def listed_each(lines: Sequence[StockLine]) -> bool:
    """Whether each of these parts gets a row of its own: all that is on hand, and of the catalogues the first."""
    return sum(at < _MOST_OFFERED or line.on_hand > 0 for at, line in enumerate(lines)) <= _MOST_LISTED


def fit_lines(
    fits: Sequence[SeatFits], unit: str, width: int, marks: Marks, *, findings: bool, every: bool
) -> list[Line]:
    """The screen: one block a seat, a row a part; of very many parts what suits, and why others do not.

    Parameters: findings, whether to say all findings of a part, else the one that decided; every, whether to give each
    part its row, however many there are.
    """
    say = Speaker(unit)
    lines: list[Line] = []
    for seat_fits in fits:
        seat = seat_fits.seat
        lines += bold(_where(seat_fits, say), width, "", "  ")
        if not seat.shims_allowed:
            # no part is called suitable where none may go in
            lines += [*plain(f"takes no shims: {shown(seat.why)}", width, "  ", "    "), ("", False)]
            continue
        rows = list(zip(seat_fits.lines, seat_fits.answers, strict=True))
        if every or listed_each(seat_fits.lines):
            left_out = 0
            for at, (line, answer) in enumerate(rows):
                if every or at < _MOST_OFFERED or line.on_hand:
                    lines += _part_lines(line.part, answer, say, width, marks, full=findings)
                else:
                    left_out += 1
            if left_out:
                text = f"{left_out} more parts of the catalogues: see --full or --json, or name them with --part."
                lines += plain(text, width, "  ", "    ")
        else:
            lines += _kinds_of_answer([(line.part, answer) for line, answer in rows], say, width, marks)
        if missing := _missing(seat_fits.answers):
            lines += plain(f"Not checked: {missing}.", width, "  ", "    ")
        lines.append(("", False))
    return lines[:-1]


def runs_lines(job: Job, lines: Sequence[StockLine], unit: str, width: int) -> list[Line]:
    """Of which of these parts records say that they run thick or thin, as the job hands it on."""
    texts = [f"{listed(one.parts)}: {one.words}." for one in runs_off_told(job, lines, Speaker(unit))]
    return [("", False), *(line for text in texts for line in plain(text, width, "", "  "))] if texts else []


def _kinds_of_answer(rows: Sequence[tuple[Part, OnSeat]], say: Speaker, width: int, marks: Marks) -> list[Line]:
    """How many suit, the first of these by name, then each reason why others do not, with how many it keeps out."""
    kinds: dict[tuple[str, str], list[tuple[Part, OnSeat]]] = {}
    counts = dict.fromkeys(_SAID, 0)
    for part, answer in rows:
        deciding = answer.deciding
        kind = ("suits", "") if deciding is None else (deciding.grade, deciding.code)
        kinds.setdefault(kind, []).append((part, answer))
        counts[kind[0]] += 1
    lines = plain(counted_words(counts), width, "  ", "    ")
    suiting = kinds.pop(("suits", ""), [])
    for part, answer in suiting[:_MOST_NAMED]:
        lines += _part_lines(part, answer, say, width, marks, full=False)
    if (more := len(suiting) - _MOST_NAMED) > 0:
        lines += plain(f"{more:,} more suit.", width, "  ", "    ")
    for (grade, _), alike in sorted(kinds.items(), key=lambda one: (one[0][0], -len(one[1]))):
        (part, answer), sign = alike[0], _sign(grade, marks)
        if len(alike) == 1:
            lines += _part_lines(part, answer, say, width, marks, full=False)
        elif found := answer.deciding:
            such = f"such as {tagged(part.name, part.piece)} ({say(part.thickness.best)}): {finding_words(found, say)}"
            lines += plain(f"{sign} {len(alike):,} parts {grade}, {such}.", width, "  ", "      ")
    return lines + plain("Each part has its row with --full and in --json.", width, "  ", "    ")


def _part_lines(part: Part, answer: OnSeat, say: Speaker, width: int, marks: Marks, *, full: bool) -> list[Line]:
    deciding = answer.deciding
    verdict = "suits" if deciding is None else deciding.grade
    start = f"{_sign(verdict, marks)} {tagged(part.name, part.piece)} ({say(part.thickness.best)})"
    if full:
        lines = plain(f"{start}: {_SAID[verdict]}; {_dimensions(part, say)}", width, "  ", "      ")
        for finding in answer.findings:
            lines += plain(f"{finding.grade}: {finding_words(finding, say)}.", width, "    ", "      ")
        return lines
    said = f"{verdict}: {finding_words(deciding, say)}" if deciding else "suits"
    # what it passes by is not known for certain
    memory = [one for one in answer.findings if isinstance(one.fact, PressureLimitFromMemory)]
    said += "".join(f"; but it {finding_words(one, say)}" for one in memory if one is not deciding)
    return plain(f"{start} {said}.", width, "  ", "      ")


def checked_lines(checked: Sequence[Checked], unit: str, width: int, marks: Marks) -> list[Line]:
    """The incoming check on the screen: one block a piece."""
    say = Speaker(unit)
    lines: list[Line] = []
    for one in checked:
        part, label = one.piece.part, one.as_labelled
        said = {True: "what its label says", False: "not what its label says", None: "its label was not checked"}[label]
        thick = say.bracket(part.thickness.low, part.thickness.high)
        fits = (
            "fits; mind: " if one.best_verdict == "caution" and label is False else f"{_OF_PIECES[one.best_verdict]}; "
        )
        start = f"{_sign(one.best_verdict, marks)} {tagged(part.name, part.piece)}: {fits}{said}"
        lines += bold(start, width, "", "  ")
        spots = _spots(len(one.piece.spots))
        text = f"measured {thick} thick at {spots}; {_dimensions(part, say)}{_taken(one)}"
        lines += plain(text, width, "  ", "    ")
        for finding in one.findings:
            lines += plain(f"{finding.grade}: {finding_words(finding, say)}.", width, "  ", "    ")
        own = set(map(id, one.findings))
        for name, answer in one.seats.items():
            on_it = [f for f in answer.findings if id(f) not in own]
            worst = next((f for grade in ("stop", "caution") for f in on_it if f.grade == grade), None)
            why = f": {finding_words(worst, say)}" if worst else " as it is" if answer.verdict == "stop" else ""
            fits = "fits; mind" if answer.verdict == "caution" and worst else _OF_PIECES[answer.verdict]
            lines += plain(
                f"{_sign(answer.verdict, marks)} {shown(name)}: {fits}{why}.",
                width,
                "  ",
                "      ",
            )
        lines.append(("", False))
    return lines[:-1]


def _where(fits: SeatFits, say: Speaker) -> str:
    """A seat and what is known of it; a place and the parts that it takes."""
    if fits.place is None:
        return f"{shown(fits.seat.name)}: {_seat_text(fits.seat, say)}"
    on = f", on {shown(fits.seat.name)}" if fits.seat.name else ""
    return f"{shown(fits.place.name)}{on}: takes only {shown(', '.join(fits.place.parts))}"


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
    lacks = dict.fromkeys(one.lack for answer in answers for one in answer.not_checked)
    return listed([missing_words(lack) for lack in lacks], 12)


def _dimensions(part: Part, say: Speaker) -> str:
    said = []
    for name, bracket in (("bore", part.inner), ("outer diameter", part.outer)):
        said.append(f"{name} {say.bracket(bracket.low, bracket.high)}" if bracket else f"{name} not known")
    said += [shown(text) for text in (part.form, part.material, part.hardness) if text]
    if part.provenance:
        said.append(f"figures: {provenance_word(part.provenance)}")
    return ", ".join(said)


def _taken(one: Checked) -> str:
    """Diameters that were not measured."""
    label = one.piece.label
    taken = [
        word
        for key, word in (("inner", "bore"), ("outer", "outer diameter"))
        if label is not None and getattr(label, key) is not None and key not in one.piece.measured
    ]
    return f" ({' and '.join(taken)} as the label says, not measured)" if taken else ""


def _spots(count: int) -> str:
    return "one spot" if count == 1 else f"{count} spots"


def _sign(verdict: str, marks: Marks) -> str:
    return {"suits": marks.inside, "caution": marks.unproven, "stop": marks.outside}[verdict]
