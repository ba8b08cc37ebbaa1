"""A drawer in a table that a person keeps: a CSV is read and changed cell by cell, a workbook is only read.

A file `.NAME.moves` beside it keeps the ids of the last moves, with the fingerprints of the drawer before and after. It
is written before the drawer is, so that a move that was cut off can be told from one that was made.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from shimopt.errors import InputError
from shimopt.parts.drawer import Accepted, Change, DrawerChangedError, Held, Moved, told_apart, worked_out
from shimopt.parts.drawer_and_catalogues import load_stock
from shimopt.parts.drawer_rows import accepted_row, columns_needed, with_returned
from shimopt.parts.measured import MeasuredPiece
from shimopt.parts.part import StockLine
from shimopt.tables.csv_text import csv_of
from shimopt.tables.edit import EditedTable, read_to_change
from shimopt.tables.files import file_fingerprint, fingerprint_of
from shimopt.tables.locking import locked
from shimopt.tables.read import is_workbook, read_table
from shimopt.tables.replacing import replace_file

_MOST_MOVES = 200
_PLAIN = ("part", "piece", "on_hand", "measured_mm", "measuring_error_mm", "inner_mm", "outer_mm")
_MARKED = ("thickness_mm", "tolerance_mm", "supplier", "lot", "at", "note")


class _Move(NamedTuple):
    before: str
    after: str
    record_id: str


class CsvDrawer:
    """The drawer in the file `path`; what its rows leave out stands in the catalogues."""

    shared = False

    def __init__(self, path: Path, catalogues: Sequence[Path] = ()) -> None:
        self.path, self.catalogues = path, tuple(catalogues)

    def __repr__(self) -> str:
        return f"<CsvDrawer {self.name!r}>"

    @property
    def name(self) -> str:
        """The file's path."""
        return str(self.path)

    @property
    def writable(self) -> bool:
        """Whether it is no workbook: writing one would lose the results that its formulas have. Raises InputError."""
        return not is_workbook(self.path)

    def stock(self) -> tuple[StockLine, ...]:
        """What lies in it now, in natural order. Raises InputError."""
        return tuple(line for line in load_stock(self.path, self.catalogues).lines if line.row is not None)

    def held(self) -> tuple[Held, ...]:
        """Nothing: a list promises no piece to anybody."""
        return ()

    def version(self) -> str:
        """The fingerprint of the file; empty where it cannot be read."""
        return file_fingerprint(self.path)

    def move(
        self,
        changes: Sequence[Change],
        expected_version: str,
        record_id: str,
        person: str = "",  # noqa: ARG002 (a list names nobody)
    ) -> Moved:
        """Make all changes or none, as every drawer does. Raises DrawerChangedError, InputError."""
        with locked(self.path):
            drawer = read_to_change(self.path)
            now = self.version()
            moves = self._moves_until(now)
            mine = next((at for at, move in enumerate(moves) if move.record_id == record_id), None)
            if mine is not None and (moves[mine].after == now or mine < len(moves) - 1):
                return Moved(now, ())
            if mine is not None or now != expected_version:
                raise DrawerChangedError(self.name)
            made = worked_out(changes, self.stock(), self.name)
            changed = _with_counts(drawer, made)
            self._keep([*moves, _Move(now, changed.fingerprint, record_id)])
            changed.save()
            return Moved(changed.fingerprint, tuple(made))

    @property
    def _ledger(self) -> Path:
        target = Path(os.path.realpath(self.path))
        return target.with_name(f".{target.name}.moves")

    def _moves_until(self, now: str) -> list[_Move]:
        """The moves that were made; the last one not, if the drawer is as it was before it."""
        try:
            lines = self._ledger.read_text(encoding="utf-8").splitlines()
        except (OSError, UnicodeDecodeError):
            return []
        moves = [_Move(*words) for line in lines if len(words := line.split(" ", 2)) == len(_Move._fields)]
        if moves and moves[-1].before == now != moves[-1].after:
            moves.pop()
        return moves

    def _keep(self, moves: Sequence[_Move]) -> None:
        text = "".join(f"{' '.join(move)}\n" for move in moves[-_MOST_MOVES:])
        replace_file(self._ledger, text.encode(), "list of the drawer's moves")

    def accept(self, pieces: Sequence[MeasuredPiece]) -> Accepted:
        """Put pieces in, from what the drawer holds at this moment. Raises InputError; the drawer is then as it was.

        A workbook is not written: the rows that it should get are handed back.
        """
        if not self.writable:
            columns = (*_PLAIN, *_MARKED)
            return Accepted(tuple(accepted_row(piece, columns, comma=False) for piece in pieces), (), False)
        with locked(self.path):
            drawer = read_to_change(self.path)
            new, old, fewer = told_apart(pieces, self.stock(), self.name)
            if not new:
                return Accepted((), old, False, fewer)
            count = len(drawer.rows)
            elsewhere = {line.part.name for line in load_stock(None, self.catalogues).lines} if self.catalogues else ()
            for column in columns_needed(drawer.columns, new, elsewhere):
                # where nobody counts, a row is one piece
                drawer = drawer.with_column(column, "1" if column == "on_hand" else "")
            rows = tuple(accepted_row(piece, drawer.columns, comma=drawer.uses_comma) for piece in new)
            for row in rows:
                drawer = drawer.with_row(row)
            if len(drawer.rows) != count + len(rows):
                rule, remedy = "the rows cannot be added to this file", "open it in a spreadsheet, save it as CSV"
                raise InputError.at(self.name, rule, remedy, value=f"{len(rows)} rows")
            drawer.save()
        return Accepted(rows, old, True, fewer)


def _with_counts(drawer: EditedTable, changes: Sequence[Change]) -> EditedTable:
    """The drawer with its counts changed, not yet written. Raises InputError."""
    if "on_hand" not in drawer.columns and changes:
        drawer = drawer.with_column("on_hand", "1")
    cells = {(change.row, "on_hand"): str(change.count + change.by) for change in changes if change.row is not None}
    drawer = drawer.with_cells(cells)
    for change in changes:
        if change.row is None:
            drawer = with_returned(drawer, change.piece, change.by)
    return drawer


def write_as_csv(workbook: Path) -> tuple[Path, bool]:
    """Write a workbook's table as a CSV beside it, cell for cell as it is read; whether that is new. Raises InputError.

    A file that is there already is left alone: one that holds the same was written by a run that was cut off.
    """
    path = workbook.with_suffix(".csv")
    table = read_table(workbook, "drawer")
    if table.problems:
        raise InputError(table.problems)
    if table.spoilt:
        cells = ", ".join(f"row {row} column {column}" for row, column in list(table.spoilt)[:8])
        raise InputError.at(workbook, "these cells cannot be read", "mend them first", value=cells)
    # it is read again, each name as it is
    raw = csv_of(table.columns, (row.cells for row in table.rows), exact_names=True).encode()
    if path.exists():
        if file_fingerprint(path) == fingerprint_of(raw):
            return path, False
        rule = "this file is there already, and holds something else than the workbook"
        raise InputError.at(path, rule, "move it away, or name it as the job's drawer")
    replace_file(path, raw, "drawer")
    return path, True
