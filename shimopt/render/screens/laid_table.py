"""A table on a screen: columns as wide as they need, folded where there is no room, else each row as a few lines."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from rich.cells import cell_len

from shimopt.render.screens.layout import Line, Span, bold, folded, padded, plain

_GAP = 2
_NARROWEST = 9
_MANY = 12  # rows: from then on folded names take many lines
# where a cell is broken first: behind what joins pieces, before what is told of one
_JOINTS = re.compile(r"(?<= \+) | (?=\()")


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell; from its character `starts` on it plays a `role`, which its words say too.

    `says_all` where it needs no head; a head that is `whole` has numbers below it, which are never folded.
    """

    text: str
    role: str = ""
    starts: int = 0
    says_all: bool = False
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """Cells side by side, and what is said under them."""

    cells: tuple[Cell, ...]
    under: str = ""


def table(
    head: Row,
    rows: Sequence[Row],
    width: int,
    above: Mapping[int, str] | None = None,
    last: Callable[[int], list[Cell]] | None = None,
) -> list[Line]:
    """Lines of at most `width` cells.

    Parameters: above, by number of a row what stands on a line above it; last, gives a last column, its head first, for
    the room that is left, or nothing.
    """
    rows_of = _used(head, rows)
    widths = _widths(rows_of, width)
    if widths is None:
        return _stacked(rows_of, width, above or {})
    more = last(width - sum(widths) - _GAP * len(widths)) if last is not None else []
    lines: list[Line] = []
    # a folded name leaves room below it
    is_folded = any(cell_len(row.cells[0].text) > widths[0] for row in rows_of)
    for at, row in enumerate(rows_of):
        if above and at - 1 in above:
            lines += plain(above[at - 1], width)
        lines += _laid(row, widths, more[at] if more else None)
        if row.under:
            indent = " " * (2 * _GAP if is_folded else min(widths[0] + _GAP, width // 3))
            lines += plain(row.under, width, indent, indent)
    return lines


def fits(head: Row, rows: Sequence[Row], width: int) -> bool:
    """Whether the columns find room beside each other."""
    return _widths(_used(head, rows), width) is not None


def _used(head: Row, rows: Sequence[Row]) -> list[Row]:
    """Head and rows without the columns in which nothing stands."""
    used = [at for at in range(len(head.cells)) if any(row.cells[at].text for row in rows)]
    return [Row(tuple(row.cells[at] for at in used), row.under) for row in (head, *rows)]


def _widths(rows: Sequence[Row], width: int) -> list[int] | None:
    """The widths of the columns: as they are, or with those that fold made narrower; None for no room.

    Either the widest of them give way, or one alone, or of many rows the first and another, whichever is shorter.
    """
    natural = [max(cell_len(row.cells[at].text) for row in rows) for at in range(len(rows[0].cells))]
    over = sum(natural) + _GAP * (len(natural) - 1) - width
    if over <= 0:
        return natural
    folds = [at for at, cell in enumerate(rows[0].cells) if not cell.whole]
    widest = _squeezed(natural, folds, over)
    if widest is None:
        return None
    alone = [
        [wide - over * (at == one) for at, wide in enumerate(natural)]
        for one in folds
        if natural[one] - over >= _NARROWEST
    ]
    shared = [
        [wide - (over - more) * (at == 0) - more * (at == one) for at, wide in enumerate(natural)]
        for one in folds
        for more in range(1, over)
        if len(rows) > _MANY
        and one
        and folds[0] == 0
        and min(natural[0] - over + more, natural[one] - more) >= _NARROWEST
    ]
    return min([widest, *alone, *shared], key=lambda widths: sum(_deep(row, widths) for row in rows))


def _squeezed(natural: Sequence[int], folds: Sequence[int], over: int) -> list[int] | None:
    """The widest of the columns that fold made narrower, one by one; None for no room."""
    widths = list(natural)
    for _ in range(over):
        wide = max(folds, key=lambda at: widths[at], default=None)
        if wide is None or widths[wide] <= _NARROWEST:
            return None
        widths[wide] -= 1
    return widths


def _deep(row: Row, widths: Sequence[int]) -> int:
    return max(len(_within(cell.text, wide)) for cell, wide in zip(row.cells, widths, strict=True))


def _laid(row: Row, widths: Sequence[int], last: Cell | None) -> list[Line]:
    cells = [_within(cell.text, wide) for cell, wide in zip(row.cells, widths, strict=True)]
    lines: list[Line] = []
    for deep in range(max(map(len, cells))):
        text, spans = "", []
        for cell, parts, wide in zip(row.cells, cells, widths, strict=True):
            part = parts[deep] if deep < len(parts) else ""
            if cell.role and part:
                spans.append(Span(len(text) + (cell.starts if deep == 0 else 0), len(text) + len(part), cell.role))
            text += padded(part, wide) + " " * _GAP
        text += last.text if last is not None and deep == 0 else ""
        lines.append((text.rstrip(), tuple(spans)))
    return lines


def _within(text: str, wide: int) -> list[str]:
    """A cell in lines of so many cells, broken at its joints where that takes no more of them."""
    if cell_len(text) <= wide:
        return [text]
    lines: list[str] = []
    # under the name, not under the sign before it
    hang = " " * (1 + len(text) - len(text.lstrip("<> ")))
    for part in _JOINTS.split(text):
        if lines and cell_len(f"{lines[-1]} {part}") <= wide:
            lines[-1] += f" {part}"
        else:
            lines += folded(part, wide, hang if lines else "", hang)
    return min(lines, folded(text, wide, rest=hang), key=len)


def _stacked(rows: Sequence[Row], width: int, above: Mapping[int, str]) -> list[Line]:
    """Each row as lines of its own: its name with what is done there, then the numbers, all after their heads."""
    head, *others = rows
    lines: list[Line] = []
    for at, row in enumerate(others):
        if at in above:
            lines += plain(above[at], width)
        beside = list(zip(head.cells[1:], row.cells[1:], strict=True))
        done = _said((title.text, cell) for title, cell in beside if not title.whole)
        told = [_said([(title.text, cell)]) for title, cell in beside if title.whole and cell.text]
        numbers = [", ".join(told)] if cell_len(", ".join(told)) + 2 <= width else told
        in_one = ", ".join([f"{row.cells[0].text}{': ' if done else ''}{done}", *told])
        if cell_len(in_one) <= width:
            lines.append((in_one, _signs(in_one, row)))
            lines += plain(row.under, width, "  ", "  ")
            continue
        lines += bold(f"{row.cells[0].text}{': ' if done else ''}{done}", width, rest="  ")
        lines += [(text, _signs(text, row)) for one in numbers if one for text in folded(one, width, "  ", "    ")]
        lines += plain(row.under, width, "  ", "  ")
    return lines


def _said(cells: Iterable[tuple[str, Cell]]) -> str:
    """`out S-20, in S-30 from tin 1`: what stands under each head; what says what is done needs none."""
    said = ""
    for title, cell in cells:
        if cell.text:
            text = cell.text if cell.says_all else f"{title} {cell.text}"
            if title == "from" and text == "leave":
                # the verb comes first where nothing stands in columns
                said = f"{text} {said}"
                continue
            said += f"{'' if not said else ' ' if title == 'from' else ', '}{text}"
    return said


def _signs(text: str, row: Row) -> tuple[Span, ...]:
    """Where the verdict stands in a line."""
    told = (cell for cell in row.cells if cell.starts and cell.text[cell.starts :] in text)
    return tuple(Span(text.index(one.text[one.starts :]), len(text), one.role) for one in told)
