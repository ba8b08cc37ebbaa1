"""The pieces that a shop measured: rows of its drawers, of its stock, and of tables of pieces in hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import KW_ONLY, dataclass
from fractions import Fraction
from pathlib import Path

from shimopt.errors import InputError
from shimopt.job import Job
from shimopt.lengths import Bracket
from shimopt.parts import StockLine
from shimopt.parts.cells import tolerance
from shimopt.parts.drawer_and_catalogues import load_stock
from shimopt.parts.measured import spots_read
from shimopt.parts.part import called
from shimopt.parts.part_rows import LENGTHS, PLAIN
from shimopt.tables.columns import Columns, read_columns
from shimopt.tables.files import MOST_LISTED
from shimopt.tables.read import Row, read_table


@dataclass(frozen=True, slots=True)
class Measured:
    """One piece that was measured [nm]: how thick it is, and what its label says.

    `marked` is the marking, None where nobody knows it; `printed` what its tolerance allows, exact where none is
    printed. `own` is how far the reading may be off for this piece alone, `common` for every piece that this micrometer
    measured. `by_catalogue`: the supplier is the only one that a catalogue names for it. `name` is what it is told by.
    """

    supplier: str
    lot: str
    marked: int | None
    printed: Bracket
    thickness: Fraction
    own: Fraction
    common: Fraction
    _: KW_ONLY
    name: str
    piece: tuple[str, str]
    by_catalogue: bool = False
    error_stated: bool = True


class _Labels:
    """What catalogues print, and who offers it, by the name of a part."""

    def __init__(self, offered: Sequence[StockLine]) -> None:
        self.printed: dict[str, Bracket | None] = {}
        self.suppliers: dict[str, set[str]] = {}
        for line in offered:
            if line.offers and not line.part.measured:
                bracket = self.printed.setdefault(line.part.name, line.part.thickness)
                if bracket != line.part.thickness:
                    # of several dimensions a name prints nothing
                    self.printed[line.part.name] = None
                self.suppliers.setdefault(line.part.name, set()).update(
                    offer.supplier for offer in line.offers if offer.supplier
                )

    def supplier(self, name: str) -> str:
        """The only supplier that offers it, else nobody."""
        found = self.suppliers.get(name, set())
        return next(iter(found)) if len(found) == 1 else ""


def pieces_of_table(table: Path, offered: Sequence[StockLine], micrometer: int | None = None) -> list[Measured]:
    """The measured rows of a drawer or a table of pieces in hand; others are passed over.

    Parameters: offered, what catalogues print of parts; micrometer, its error where the job states one [nm].
    Raises InputError.
    """
    read = read_table(table, "measured parts table")
    columns = read_columns(read, (*LENGTHS, "burr"), (*PLAIN, "seat"), ["measured"])
    labels, found = _Labels(offered), list[Measured]()
    if columns is not None:
        for row in read.rows:
            if columns.text(row, "measured") and (piece := _piece(columns, row, labels, micrometer)) is not None:
                found.append(piece)
            if len(read.problems) >= MOST_LISTED:
                break
    if read.problems:
        raise InputError(read.problems)
    return found


def _piece(columns: Columns, row: Row, labels: _Labels, micrometer: int | None) -> Measured | None:
    before = len(columns.table.problems)
    name, tag = columns.text(row, "part"), columns.text(row, "piece")
    spots, stated = spots_read(columns, row), columns.not_negative(row, "measuring_error")
    marked, play = columns.length(row, "thickness"), tolerance(columns, row, "tolerance")
    label = labels.printed.get(name)
    # a row that repeats a label and no tolerance means that label, with its tolerance
    if label is not None and play is None and marked in (None, round(label.best)):
        printed, marked = label, round(label.best) if marked is None else marked
    elif marked is not None:
        above, below = play or (0, 0)
        printed = Bracket.between(marked - below, marked + above)
    else:
        printed = Bracket.between(0, 0)
    if len(columns.table.problems) > before or not spots:
        return None
    error = (micrometer or 0) if stated is None else stated
    # what a piece may be off beyond its micrometer is its own: taper, a burr
    common = error if micrometer is None else min(error, micrometer)
    supplier = columns.text(row, "supplier")
    return Measured(
        supplier or labels.supplier(name),
        columns.text(row, "lot"),
        marked,
        printed,
        Fraction(min(spots) + max(spots), 2),
        Fraction(max(spots) - min(spots), 2) + error - common,
        Fraction(common),
        name=f"{called(name, tag or None)}, {columns.table.path.name} row {row.number}".lstrip(", "),
        piece=(name, tag),
        by_catalogue=not supplier,
        error_stated=stated is not None or micrometer is not None,
    )


def pieces_of_job(job: Job) -> list[Measured]:
    """The measured pieces of a job's drawer. Raises InputError."""
    error = None if job.micrometer is None else job.micrometer.error
    if job.sources is not None and job.sources.drawer is not None:
        offered = load_stock(None, job.sources.catalogues).lines if job.sources.catalogues else ()
        table = job.sources.drawer
        return pieces_of_table(table, offered, error) if _has_measured(table) else []
    labels, found = _Labels(job.stock), list[Measured]()
    for line in job.stock:
        part, label = line.part, labels.printed.get(line.part.name)
        if not part.measured or line.row is None:
            continue
        half = (part.thickness.high - part.thickness.low) / 2
        common = half if error is None else min(half, Fraction(error))
        found.append(
            Measured(
                part.supplier or labels.supplier(part.name),
                part.lot,
                part.marked,
                part.printed or label or Bracket.between(part.marked or 0, part.marked or 0),
                part.thickness.best,
                half - common,
                common,
                name=called(part.name, part.piece),
                piece=(part.name, part.piece or ""),
                by_catalogue=not part.supplier,
                error_stated=bool(half),
            )
        )
    return found


def _has_measured(table: Path) -> bool:
    return any(column.startswith("measured_") for column in read_table(table, "drawer").columns)


def each_once(pieces: Iterable[Measured]) -> list[Measured]:
    """The pieces, one that a parcel's table and the drawer both hold counted once: of one name, tag and measure."""
    found: dict[object, Measured] = {}
    for number, piece in enumerate(pieces):
        tagged = (*piece.piece, piece.thickness) if piece.piece[1] else number
        found.setdefault(tagged, piece)
    return list(found.values())
