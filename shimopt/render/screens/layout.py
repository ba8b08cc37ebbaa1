"""Lines of a screen: columns that never wrap a number, text folded to the width, and a small scale in characters."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from rich.cells import cell_len

from shimopt.errors import shown
from shimopt.job import Window
from shimopt.lengths import Bracket

_LONGEST = 2000
_UNIT_BEHIND = re.compile(r"(?<=\d) (?=(?:mm|um|in|thou)\b)")


class Span(NamedTuple):
    """From where to where in a line what is said means something: `role` is "do", "inside", "outside" or "unproven"."""

    start: int
    stop: int
    role: str


# text, and whether it is set in bold, or which of it means what: the words and signs say the same without colours
Line = tuple[str, bool | tuple[Span, ...]]


def _cells(text: str) -> int:
    """How many cells of a terminal a text takes."""
    return len(text) if text.isascii() else cell_len(text)


def padded(text: str, width: int) -> str:
    """Text filled up with spaces to `width` character cells (some characters take two)."""
    return text + " " * max(0, width - cell_len(text))


def whole_figures(text: str) -> str:
    """Text in which every number and its unit stand on one line."""
    return _UNIT_BEHIND.sub("\N{NO-BREAK SPACE}", text)


def folded(text: str, width: int, first: str = "", rest: str = "") -> list[str]:
    """Text in lines of at most `width` cells, broken at spaces, or within a word that is longer than a line.

    The first line begins with `first`, the others with `rest`.
    """
    words, room = text.split(" "), width - max(len(first), len(rest))
    if text.isascii() and max(map(len, words)) <= room:
        return _folded_plain(text, width, first, rest)
    lines, line, used = [], first, _cells(first)
    empty = True
    for word in words:
        for piece in _chopped(word, room):
            wide = _cells(piece)
            if not empty and used + 1 + wide > width:
                lines.append(line)
                line, used, empty = rest, _cells(rest), True
            line, used = (line + piece, used + wide) if empty else (f"{line} {piece}", used + 1 + wide)
            empty = False
    return [*lines, line]


def folded_line(line: str, width: int) -> list[str]:
    """One line of a report, folded to `width`; a path that is longer stays whole."""
    set_in = "  " if line.startswith("  ") else ""
    return textwrap.wrap(
        shown(line.strip(), _LONGEST),
        width,
        initial_indent=set_in,
        subsequent_indent=f"{set_in}  ",
        break_long_words=False,
        break_on_hyphens=False,
    )


def plain(text: str, width: int, first: str = "", rest: str = "") -> list[Line]:
    """Text folded into lines that are not bold; none of no text."""
    return [(line, False) for line in folded(text, width, first, rest)] if text else []


def bold(text: str, width: int, first: str = "", rest: str = "") -> list[Line]:
    """Text folded into bold lines."""
    return [(line, True) for line in folded(text, width, first, rest)]


def section(title: str, texts: Iterable[str], width: int) -> list[Line]:
    """Texts below each other under a bold title; nothing where there are none."""
    lines = [line for text in texts for line in plain(text, width, "  ", "    ")]
    return [(title, True), *lines] if lines else []


def spaced(sections: Iterable[list[Line]]) -> list[Line]:
    """Sections one below the other, an empty line between two; empty ones left out."""
    return [line for lines in sections if lines for line in [*lines, ("", False)]][:-1]


def _folded_plain(text: str, width: int, first: str, rest: str) -> list[str]:
    """The same where every character takes one cell and every word has room on a line."""
    lines, start = [], first
    while len(start) + len(text) > width:
        cut = text.rfind(" ", 0, width - len(start) + 1)
        lines.append(start + text[:cut])
        text, start = text[cut + 1 :], rest
    return [*lines, start + text]


def _chopped(word: str, width: int) -> list[str]:
    """A word in pieces of at most `width` cells, every character kept."""
    if _cells(word) <= width:
        return [word]
    pieces = [""]
    for character in word:
        if pieces[-1] and cell_len(pieces[-1] + character) > width:
            pieces.append("")
        pieces[-1] += character
    return pieces


def columns(rows: Sequence[Sequence[str]], width: int, gap: int = 2, least_first: int = 12) -> list[list[str]]:
    """Rows as lines: the first column folds into what the others leave, the others never fold.

    Every row becomes a list of lines. Where less than `least_first` cells are left, the first column gets lines of its
    own above the others.
    """
    widths = [max(cell_len(row[c]) for row in rows) for c in range(1, len(rows[0]))]
    rest = width - sum(widths) - gap * len(widths)
    first = min(rest, max(least_first, *(cell_len(row[0]) for row in rows)))
    laid = []
    for row in rows:
        cells = (" " * gap).join(padded(cell, w) for cell, w in zip(row[1:], widths, strict=True)).rstrip()
        if rest < least_first:
            laid.append([*folded(row[0], width, rest=" "), f"  {cells}"])
            continue
        names = folded(row[0], first, rest=" ")
        laid.append([f"{padded(names[0], first)}{' ' * gap}{cells}", *names[1:]])
    return laid


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """The characters of a scale and of the verdicts."""

    left: str
    right: str
    band: str
    open: str
    span: str
    before: str
    after: str
    unchanged: str
    inside: str
    outside: str
    unproven: str
    moved: str
    cut: str
    step: str


UNICODE = Marks(
    left="├",
    right="┤",
    band="─",
    open=" ",
    span="━",
    before="○",
    after="●",
    unchanged="●",
    inside="✓",
    outside="✗",
    unproven="?",
    moved="·",
    cut="//",
    step="→",
)
ASCII = Marks(
    left="[",
    right="]",
    band="-",
    open=" ",
    span="=",
    before="o",
    after="X",
    unchanged="X",
    inside="ok",
    outside="!!",
    unproven="??",
    moved=".",
    cut="//",
    step="->",
)


def drawn_scale(before: Bracket, after: Bracket, window: Window, marks: Marks, width: int) -> str:
    """One line of `width` characters: the window as a band, the brackets as bars, the best estimates as points."""
    ends = [before.low, before.high, after.low, after.high]
    ends += [Fraction(limit) for limit in (window.min, window.max) if limit is not None]
    low, high = min(ends), max(ends)
    # a one-sided window runs on beyond what was read
    room = (high - low or Fraction(1)) / 12
    low, high = low - room, high + room

    def at(value: Fraction | int) -> int:
        return int((value - low) * (width - 1) / (high - low) + Fraction(1, 2))

    line = [marks.open] * width
    first = 0 if window.min is None else at(window.min)
    last = width - 1 if window.max is None else at(window.max)
    line[first : last + 1] = marks.band * (last - first + 1)
    for bracket in (before, after):
        if bracket.low < bracket.high:
            start, stop = at(bracket.low), at(bracket.high)
            line[start : stop + 1] = marks.span * (stop - start + 1)
    if window.min is not None:
        line[first] = marks.left
    if window.max is not None:
        line[last] = marks.right
    line[at(before.best)] = marks.before
    line[at(after.best)] = marks.unchanged if before == after else marks.after
    return "".join(line)
