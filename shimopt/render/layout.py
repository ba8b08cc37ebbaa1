"""Lines of a screen: columns that never wrap a number, and text folded to the width."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

__all__ = ["Line", "columns", "folded", "padded"]

Line = tuple[str, bool]  # text, and whether it is set in bold


def padded(text: str, width: int) -> str:
    """Text filled up with spaces to `width` character cells (some characters take two)."""
    return text + " " * max(0, width - cell_len(text))


def folded(text: str, width: int, first: str = "", rest: str = "") -> list[str]:
    """Text in lines of at most `width` cells, broken at spaces, or within a word that is longer than a line.

    The first line begins with `first`, the others with `rest`.
    """
    lines, line = [], first
    empty = True
    for word in text.split(" "):
        for piece in _chopped(word, width - max(len(first), len(rest))):
            if not empty and cell_len(line) + 1 + cell_len(piece) > width:
                lines.append(line)
                line, empty = rest, True
            line = line + piece if empty else f"{line} {piece}"
            empty = False
    return [*lines, line]


def _chopped(word: str, width: int) -> list[str]:
    """A word in pieces of at most `width` cells, every character kept."""
    if cell_len(word) <= width:
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
