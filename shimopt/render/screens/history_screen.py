"""What a shop's history tells on a terminal, section by section."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shimopt.errors import shown
from shimopt.learning.history import History
from shimopt.render.screens.layout import Line, bold, plain
from shimopt.words.history_words import NEVER_SURE, gauge_lines, gauge_notes, pieces_notes, size_lines, size_title

# the texts of a section: what stands out, and what stands below it
_Told = Iterator[tuple[str, list[str]]]


def history_lines(history: History, unit: str, width: int) -> list[Line]:
    """The screen."""
    lines: list[Line] = []
    for title, section in _SECTIONS:
        for number, (head, texts) in enumerate(section(history, unit)):
            if not number:
                lines += [("", False), *bold(title, width)]
            lines += plain(head, width, "  ", "  ") if head else []
            lines += [line for text in texts for line in plain(text, width, "    " if head else "  ", "    ")]
    return lines[1:] or [("Nothing was measured, and nothing read twice.", False)]


def _suppliers(history: History, unit: str) -> _Told:
    for size in history.sizes:
        yield size_title(size, unit), list(size_lines(size, unit))
    notes = list(pieces_notes(history))
    if history.sizes:
        notes.append(NEVER_SURE)
    if notes:
        yield "", notes


def _gauges(history: History, unit: str) -> _Told:
    for gauge in history.gauges:
        yield shown(gauge.gauge), list(gauge_lines(gauge, unit))
    if notes := list(gauge_notes(history)):
        yield "", notes


# what it is called, and its texts: another section is another pair
_SECTIONS: tuple[tuple[str, Callable[[History, str], _Told]], ...] = (
    ("Suppliers: what a marking really measures", _suppliers),
    ("Gauges: how well they repeat", _gauges),
)
