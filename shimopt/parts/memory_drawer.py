"""A drawer in memory, for jobs that are built from Python."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from threading import Lock

from shimopt.parts.drawer import Accepted, Change, DrawerChangedError, Moved, fewer_than_came, matching_line, worked_out
from shimopt.parts.measured import MeasuredPiece
from shimopt.parts.part import Part, StockLine

__all__ = ["MemoryDrawer"]


class MemoryDrawer:
    """Pieces on hand as a list of stock lines; safe for threads."""

    name = "the drawer in memory"
    writable = True

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

    def version(self) -> str:
        """How often it was changed."""
        return str(self._version)

    def move(self, changes: Sequence[Change], expected_version: str, record_id: str) -> Moved:
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
            fewer = fewer_than_came(pieces, self._lines, self.name)
            there = {(line.part.name, line.part.piece) for line in self._lines}
            new = [piece for piece in pieces if (piece.part.name, piece.part.piece) not in there]
            old = tuple(f"{piece.part.name} [{piece.part.piece}]" for piece in pieces if piece not in new)
            self._lines += [StockLine(piece.part, piece.count) for piece in new]
            self._version += bool(new)
        rows = tuple(
            {"part": piece.part.name, "piece": piece.part.piece or "", "on_hand": str(piece.count)} for piece in new
        )
        return Accepted(rows, old, bool(new), fewer)
