"""What a shop's history tells on a terminal, section by section."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from shimopt.errors import shown
from shimopt.learning.history import History
from shimopt.learning.visits import Visit, outcomes_by
from shimopt.learning.wear import Wear
from shimopt.render.screens.layout import Line, bold, plain
from shimopt.words.came_back_words import (
    MOST_DRAWN,
    STRAIGHT,
    outcome_lines,
    outcome_title,
    visits_notes,
    wear_lines,
    wear_title,
)
from shimopt.words.history_words import (
    NEVER_SURE,
    NOTHING_KNOWN,
    gauge_lines,
    gauge_notes,
    pieces_notes,
    size_lines,
    size_title,
    sizes_note,
    speaker_of,
)

_BAR = 12
# the texts of a section: what stands out, and what stands below it
_Told = Iterator[tuple[str, list[str]]]
_Named = tuple[str, Callable[[History, str], _Told]]


class Section(NamedTuple):
    """A title, and below it texts under what each is about, "" for what is about all."""

    title: str
    told: list[tuple[str, list[str]]]


def history_sections(history: History, unit: str) -> list[Section]:
    """All that there is to tell; what nothing is known of is left out."""
    return _told(history, unit, _SECTIONS)


def _told(history: History, unit: str, sections: Sequence[_Named]) -> list[Section]:
    found = [Section(title, list(section(history, unit))) for title, section in sections]
    return [section for section in found if section.told]


def history_lines(history: History, unit: str, width: int) -> list[Line]:
    """The screen."""
    lines: list[Line] = []
    # what a picture shows elsewhere is drawn here
    for title, told in _told(history, unit, (*_SECTIONS[:-1], (_SECTIONS[-1][0], _wear_drawn))):
        lines += [("", False), *bold(title, width)]
        for head, texts in told:
            lines += plain(head, width, "  ", "  ") if head else []
            lines += [line for text in texts for line in plain(text, width, "    " if head else "  ", "    ")]
    return lines[1:] or [(NOTHING_KNOWN, False)]


def _suppliers(history: History, unit: str) -> _Told:
    for size in history.sizes:
        yield size_title(size, unit), list(size_lines(size, unit))
    notes = [*sizes_note(history), *pieces_notes(history)]
    if history.sizes:
        notes.append(NEVER_SURE)
    if notes:
        yield "", notes


def _gauges(history: History, unit: str) -> _Told:
    for gauge in history.gauges:
        yield shown(gauge.gauge), list(gauge_lines(gauge, unit))
    if notes := list(gauge_notes(history)):
        yield "", notes


def _by(names_of: Callable[[Visit], Sequence[str]]) -> Callable[[History, str], _Told]:
    def told(history: History, unit: str) -> _Told:
        for outcomes in outcomes_by(history.visits, names_of):
            yield outcome_title(outcomes), list(outcome_lines(outcomes, unit))

    return told


def _wear(history: History, unit: str) -> _Told:
    for needs, wear in history.wear[:MOST_DRAWN]:
        yield wear_title(needs, wear), list(wear_lines(needs, wear, unit))
    notes = list(visits_notes(history))
    if history.wear:
        notes.append(STRAIGHT)
    if notes:
        yield "", notes


def _wear_drawn(history: History, unit: str) -> _Told:
    worn = [wear for _, wear in history.wear[:MOST_DRAWN]]
    for at, (head, texts) in enumerate(_wear(history, unit)):
        yield head, [*texts, *(_drawn(worn[at], unit) if head else [])]


def _drawn(wear: Wear, unit: str) -> Iterator[str]:
    """Each reading, and what the next is expected to be, where it lies between the least and the most."""
    say = speaker_of(unit)
    points = [(reading.date, float(reading.value), "●") for reading in wear.readings]
    points.append((wear.next_date, wear.next.best, "○"))
    least, most = min(value for _, value, _ in points), max(value for _, value, _ in points)
    for date, value, sign in points:
        at = round(_BAR * (value - least) / (most - least)) if most > least else 0
        yield f"{date}  {'─' * at}{sign} {say(round(value))}"


# what it is called, and its texts: another section is another pair
_SECTIONS: tuple[_Named, ...] = (
    ("Suppliers: what a marking really measures", _suppliers),
    ("Gauges: how well they repeat", _gauges),
    ("Seats: what came of what was fitted", _by(lambda visit: (visit.seat,))),
    ("Machines: what came of what was fitted", _by(lambda visit: (visit.machine,))),
    ("Suppliers: what came of what they delivered", _by(lambda visit: visit.suppliers)),
    ("Gauges: what came of what was fitted by them", _by(lambda visit: (visit.gauge,))),
    ("Wear: what a gap is without shims, and what it will need", _wear),
)
