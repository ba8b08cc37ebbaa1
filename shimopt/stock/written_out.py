"""A drawer of the stock as a table that any spreadsheet opens and any job may name as its drawer, and back again.

One column more, `stock_row`, says of which lot a row is and as of which ledger row: `12@4711-3f9c`. What was changed in
the table since is known from it, whatever happened to the stock meanwhile.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from shimopt.parts.drawer_rows import accepted_row
from shimopt.parts.measured import MeasuredPiece
from shimopt.parts.part import Part
from shimopt.stock.lots import Lot
from shimopt.tables.csv_text import csv_of

_LENGTHS = ("thickness", "tolerance", "measured", "measuring_error", "inner", "outer", "edge")
_ALWAYS = ("part", "thickness", "on_hand", "stock_row")
_COLUMNS = (
    *("part", "piece", "thickness", "tolerance", "measured", "measuring_error", "inner", "outer", "edge", "on_hand"),
    *("at", "material", "form", "hardness", "provenance", "note", "supplier", "lot", "stock_row"),
)
_STAMP = re.compile(r"(?P<lot>\d{1,18})@(?P<ledger>\d{1,18})-(?P<sheet>[0-9a-f]{4,16})")


class Stamp(NamedTuple):
    """Which lot a row is, as of which ledger row it was written, and in which writing out."""

    lot: int
    ledger: int
    sheet: str

    def __str__(self) -> str:
        return f"{self.lot}@{self.ledger}-{self.sheet}"


def stamp_of(text: str) -> Stamp | None:
    """The stamp that a cell holds; None where it holds none."""
    found = _STAMP.fullmatch(text.strip())
    return None if found is None else Stamp(int(found["lot"]), int(found["ledger"]), found["sheet"])


def rows_of(lots: Sequence[Lot], unit: str, ledger: int, sheet: str) -> list[list[str]]:
    """The table, its header first; columns that no lot needs are left out."""
    names = [f"{name}_{unit}" if name in _LENGTHS else name for name in _COLUMNS]
    cells = []
    for lot in lots:
        row = accepted_row(_as_piece(lot), names, comma=False)
        row["stock_row"] = str(Stamp(lot.id, ledger, sheet))
        row["on_hand"] = str(lot.on_hand)
        if lot.part.thickness.exact:
            # of what is taken as exact nobody stated anything
            row[f"{'measuring_error' if lot.part.measured else 'tolerance'}_{unit}"] = ""
        if lot.part.provenance:
            row["provenance"] = lot.part.provenance
        cells.append(row)
    always = {f"{name}_{unit}" if name in _LENGTHS else name for name in _ALWAYS}
    kept = [name for name in names if name in always or any(row.get(name) for row in cells)]
    return [kept, *([row.get(name, "") for name in kept] for row in cells)]


def _as_piece(lot: Lot) -> MeasuredPiece:
    """A lot as a row of a drawer is made from: measured, or as it is marked."""
    part: Part = lot.part
    if not part.measured and part.marked is None:
        part = replace(part, marked=(part.thickness.low + part.thickness.high).__floor__() // 2)
    spots = (part.thickness.best.__floor__(),) if part.measured else ()
    return MeasuredPiece(part, None, spots, None, 0, "", 0, frozenset(), count=lot.on_hand)


def as_file(rows: Sequence[Sequence[str]], path: Path) -> bytes:
    """The table as the kind of file that its name says: a workbook or CSV."""
    head, *others = rows
    if path.suffix.lower() == ".xlsx":
        return _workbook(head, others)
    # it is read again, each name as it is
    return csv_of(head, others, exact_names=True).encode()


def _workbook(head: Sequence[str], rows: Sequence[Sequence[str]]) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    sheet.append(list(head))
    for row in rows:
        sheet.append([cell or None for cell in row])
        for cell in sheet[sheet.max_row]:
            # as text nothing is reckoned: neither a name =S-40 nor a tolerance +0/-0.05, and 0050 stays a name
            cell.data_type = "s" if cell.value is not None else "n"
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()
