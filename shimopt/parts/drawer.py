"""A drawer, wherever it is kept: what lies in it, in which version, and how pieces come and go.

Whoever keeps one (a CSV file, a list in memory, a database) fulfils `Drawer`; `tests/test_drawers.py` is what any must
pass. Who changes a drawer says which version was looked at and under which id: where somebody else was faster nothing
happens, and the same id twice moves the pieces once.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from threading import Lock
from typing import Protocol, runtime_checkable

from shimopt.errors import InputError, Problem
from shimopt.lengths import Bracket, spelled
from shimopt.parts.measured import MeasuredPiece
from shimopt.parts.part import Part, StockLine, called, is_worn


@dataclass(frozen=True, slots=True)
class FittedPiece:
    """A piece by name and tag, with the thickness that a plan took it for [nm].

    `was` holds what it was taken for before it was measured anew in its place: it is still the same piece. `supplier`
    delivered it, and it came in `lot`, "" where nobody knows.
    """

    part: str
    piece: str | None
    thickness: Bracket
    was: tuple[Bracket, ...] = field(default=(), compare=False)
    supplier: str = field(default="", compare=False)
    lot: str = field(default="", compare=False)

    @classmethod
    def of(cls, part: Part) -> FittedPiece:
        """A piece of this part."""
        return cls(part.name, part.piece, part.thickness)


@dataclass(frozen=True, slots=True)
class Change:
    """By how much the count of a piece changes: below zero it leaves the drawer.

    `count` is what is there before and `row` where it stands, as a drawer tells them; None for a piece that is new.
    """

    piece: FittedPiece
    by: int
    count: int = 0
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Moved:
    """The version afterwards, and the changes that were made: none where this id was there already."""

    version: str
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class Accepted:
    """What was done: the rows as column and cell, pieces there already, and whether the drawer was written.

    `fewer` are those of `there_already` of which the drawer holds fewer than came: fitted since, or another parcel.
    """

    rows: tuple[dict[str, str], ...]
    there_already: tuple[str, ...]
    written: bool
    fewer: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Held:
    """So many pieces of a part promised to another job, called `title`, until the end of a day (ISO), by whom."""

    part: Part
    pieces: int
    title: str
    until: str
    who: str
    bench: str

    @property
    def whose(self) -> str:
        """`Quarry until Friday 2026-12-04 (A. Roe, bench 2)`, as it was typed."""
        by = ", ".join(name for name in (self.who, self.bench) if name)
        return f"{self.title} until {date.fromisoformat(self.until):%A} {self.until}{f' ({by})' if by else ''}"


class DrawerChangedError(InputError):
    """The drawer is not in the version that was expected: somebody else changed it."""

    def __init__(self, name: str) -> None:
        rule = "somebody else changed the drawer since it was looked at"
        super().__init__([Problem(name, "", "", rule, "look at it again, and plan again")])


@runtime_checkable
class Drawer(Protocol):
    """Pieces on hand. `name` is what messages call it; one that is not `writable` is only read."""

    @property
    def name(self) -> str:
        """What messages call it."""

    @property
    def writable(self) -> bool:
        """Whether `move` and `accept` change it."""

    @property
    def shared(self) -> bool:
        """Whether others count on it at once: its counts follow every record unasked, and it forgets no id."""

    def stock(self) -> tuple[StockLine, ...]:
        """What is there to be used now, in natural order. Raises InputError."""

    def held(self) -> tuple[Held, ...]:
        """What lies in it for other jobs, and is not there to be used. Raises InputError."""

    def version(self) -> str:
        """A short name for its content: another after every change. Raises InputError."""

    def move(self, changes: Sequence[Change], expected_version: str, record_id: str, person: str = "") -> Moved:
        """Make all changes or none; with an id that was there before, none. A drawer with a ledger names `person`.

        Raises DrawerChangedError where it is in another version, InputError where it holds less than is to leave it.
        """

    def accept(self, pieces: Sequence[MeasuredPiece]) -> Accepted:
        """Put pieces in, each told apart by name and tag: twice adds nothing.

        Raises InputError, also where a piece of this name and tag is there and is another one.
        """


def told_apart(
    pieces: Sequence[MeasuredPiece], stock: Sequence[StockLine], name: str
) -> tuple[list[MeasuredPiece], tuple[str, ...], tuple[str, ...]]:
    """Pieces that a drawer lacks by name and tag, what those that it holds are called, and of which it holds fewer.

    Raises InputError where one is of another thickness there, or more of it are there: then it is another piece.
    """
    there = {(line.part.name, line.part.piece): line for line in stock}
    new, old, fewer, problems = [], [], [], []
    for piece in pieces:
        line = there.get((piece.part.name, piece.part.piece))
        if line is None:
            new.append(piece)
            continue
        which, known = called(piece.part.name, piece.part.piece), line.part.thickness
        old.append(which)
        # a drawer holds whole nanometres
        alike = all(abs(one - two) <= 2 for one, two in zip(_ends(known), _ends(piece.part.thickness), strict=True))
        if line.on_hand > piece.count or not alike:
            found = f"{line.on_hand} x {spelled(known.best, 'mm')} there"
            rule = (
                f"{which} is in the drawer, and is another: {piece.count} x {spelled(piece.part.thickness.best, 'mm')}"
            )
            remedy = "name the table of another parcel by its date, or give its pieces tags of their own (piece)"
            problems.append(Problem(name, f"row {line.row}" if line.row else "", found, f"{rule} came", remedy))
        elif line.on_hand < piece.count:
            fewer.append(f"{which} ({line.on_hand} of {piece.count})")
    if problems:
        raise InputError(problems)
    return new, tuple(old), tuple(fewer)


def plain_row(piece: MeasuredPiece) -> dict[str, str]:
    """The row of a piece in a drawer that keeps no cells: what it is called, and how many."""
    return {"part": piece.part.name, "piece": piece.part.piece or "", "on_hand": str(piece.count)}


def _ends(bracket: Bracket) -> tuple[Fraction, Fraction]:
    return bracket.low, bracket.high


def matching_line(piece: FittedPiece, stock: Sequence[StockLine], *, taken: bool = False) -> int | None:
    """The stock line that a piece cannot be told from: of its name and tag, and as thick.

    A piece that was `taken` and measured only then is one of those that nobody had measured. One that comes back goes
    to those that are marked as it is; measured otherwise it keeps its measure, and has no line yet.
    """
    same = [i for i, line in enumerate(stock) if (line.part.name, line.part.piece) == (piece.part, piece.piece)]
    exact = [i for i in same if stock[i].part.thickness == piece.thickness]
    if exact or not same:
        return exact[0] if exact else None

    if not taken and piece.piece is None:
        alike = [i for i in same if _marked(stock[i].part, piece.thickness.best)]
        return alike[0] if len(alike) == 1 else None

    def off(i: int) -> Fraction:
        return abs(stock[i].part.thickness.best - piece.thickness.best)

    # its thickness in the drawer may have been measured anew since
    of = [i for i in same if not stock[i].part.measured] if taken and len(same) > 1 else same
    return min(of, key=off) if len(of) == 1 else None


def _marked(part: Part, thickness: Fraction) -> bool:
    """Whether a part is marked with this thickness, as far as a record can say: it knows whole nanometres."""
    marked = part.marked if part.measured else part.thickness.best
    return marked is not None and abs(marked - thickness) <= 1


def put_aside(piece: FittedPiece, stock: Sequence[StockLine]) -> bool:
    """Whether a piece that comes back is worn, and no row of the drawer knows it by its measure."""
    if matching_line(piece, stock) is not None:
        return False
    return any(line.part.name == piece.part and is_worn(piece.thickness.best, line.part.marked) for line in stock)


def worked_out(
    changes: Sequence[Change], stock: Sequence[StockLine], name: str, held: Sequence[Held] | None = None
) -> list[Change]:
    """The changes with what is there before, in natural order. Raises InputError where more leaves than is there.

    Parameter: held, what lies in it for other jobs, of a drawer that promises pieces and is no list with rows.
    """
    found, problems = [], []
    left: dict[int, int] = {}
    # what comes out of the machine lies there before anything goes in
    for change in sorted(changes, key=lambda c: (c.piece.part, c.piece.piece or "", c.by < 0, c.piece.thickness.low)):
        at = matching_line(change.piece, stock, taken=change.by < 0)
        line = None if at is None else stock[at]
        there = 0 if at is None or line is None else left.setdefault(at, line.on_hand)
        if there + change.by < 0:
            problems.append(_too_few(change, line, there, name, held))
        elif change.by:
            if at is not None:
                left[at] = there + change.by
            found.append(replace(change, count=there, row=line.row if line else None))
    if problems:
        raise InputError(problems)
    return found


def _too_few(change: Change, line: StockLine | None, there: int, name: str, held: Sequence[Held] | None) -> Problem:
    """More of a piece went into the machine than is there, or than others left free."""
    piece = change.piece
    of = f"{called(piece.part, piece.piece)} ({spelled(piece.thickness.best, 'mm')})"
    went = f"{-change.by} x {of} went into the machine, and"
    others = [one.whose for one in held or () if (one.part.name, one.part.piece) == (piece.part, piece.piece)]
    if others:
        rule = f"{went} what there is, is held for {' and for '.join(others)}"
        return Problem(name, "", f"{there} free", rule, "have it let go: shimopt hold THAT-JOB --free; or count again")
    where = f"row {line.row}" if line and line.row and held is None else ""
    rule = f"{went} the drawer does not hold so many"
    remedy = "count them, or plan again; what was bought since is put into the drawer first"
    return Problem(name, where, f"{there} on hand", rule, remedy)


class MemoryDrawer:
    """Pieces on hand as a list of stock lines; safe for threads."""

    name = "the drawer in memory"
    writable = True
    shared = False

    def __init__(self, lines: Iterable[StockLine]) -> None:
        self._lines = list(lines)
        self._moved: set[str] = set()
        self._version = 0
        self._lock = Lock()

    def __repr__(self) -> str:
        return f"<MemoryDrawer, rows: {len(self._lines)}>"

    def stock(self) -> tuple[StockLine, ...]:
        """What lies in it now, in natural order."""
        with self._lock:
            return tuple(sorted(self._lines, key=lambda line: line.part.order))

    def held(self) -> tuple[Held, ...]:
        """Nothing: a list promises no piece to anybody."""
        return ()

    def version(self) -> str:
        """How often it was changed."""
        return str(self._version)

    def move(
        self,
        changes: Sequence[Change],
        expected_version: str,
        record_id: str,
        person: str = "",  # noqa: ARG002 (a list names nobody)
    ) -> Moved:
        """Make all changes or none, as every drawer does. Raises DrawerChangedError, InputError."""
        with self._lock:
            if record_id in self._moved:
                return Moved(self.version(), ())
            if expected_version != self.version():
                raise DrawerChangedError(self.name)
            made = worked_out(changes, self._lines, self.name)
            for change in made:
                at = matching_line(change.piece, self._lines, taken=change.by < 0)
                if at is None:
                    piece = change.piece
                    self._lines.append(StockLine(Part(piece.part, piece.thickness, piece.piece), change.by))
                else:
                    line = self._lines[at]
                    self._lines[at] = replace(line, on_hand=line.on_hand + change.by)
            self._moved.add(record_id)
            self._version += 1
            return Moved(self.version(), tuple(made))

    def accept(self, pieces: Sequence[MeasuredPiece]) -> Accepted:
        """Put pieces in, as every drawer does."""
        with self._lock:
            new, old, fewer = told_apart(pieces, self._lines, self.name)
            self._lines += [StockLine(piece.part, piece.count) for piece in new]
            self._version += bool(new)
        return Accepted(tuple(map(plain_row, new)), old, bool(new), fewer)
