"""Pieces in hand, as calliper and micrometer found them: a row a piece, or one for so many that are alike."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import KW_ONLY, dataclass

from shimopt.errors import InputError
from shimopt.lengths import Bracket, spelled, to_nm
from shimopt.parts.cells import diameter, form, hardness, tolerance
from shimopt.parts.part import ROW, Part, off_label
from shimopt.tables.columns import Columns, read_columns
from shimopt.tables.files import MOST_LISTED
from shimopt.tables.read import Row, Source, read_table

_LENGTHS = ("measured", "measuring_error", "burr", "inner", "outer", "edge", "thickness", "tolerance")
_PLAIN = ("part", "piece", "on_hand", "seat", "material", "form", "hardness", "at", "note", "supplier", "lot")
_MOST_SPOTS = 50
# spacers are not a hundred times a shim (common practice, no source)
_OFF_OTHERS = 100


@dataclass(frozen=True, slots=True)
class MeasuredPiece:
    """One piece: `part` with what was measured, and the label's figures where nothing was.

    `label` is what its label says it is, None where no known part has this name; `spots` the thickness readings [nm],
    none where it is taken as marked; `error` of one reading, None where nobody said; `burr` its height; `measured`
    names the other dimensions that were read; `count` is how many pieces the row stands for, all alike.
    """

    part: Part
    label: Part | None
    spots: tuple[int, ...]
    error: int | None
    burr: int
    seat: str
    row: int
    measured: frozenset[str]
    _: KW_ONLY
    count: int = 1


def read_measured(
    source: Source, labels: Mapping[str, Part], seats: frozenset[str], *, as_marked: Collection[str] = ()
) -> list[MeasuredPiece]:
    """Read a table of measured pieces.

    Parameters: labels, known parts by name; seats, the names that the column `seat` may hold; as_marked, the parts
    that may be counted only, and are then taken as marked. Raises InputError.
    """
    table = read_table(source, "measured parts table")
    columns = read_columns(table, _LENGTHS, _PLAIN, ["part"] if as_marked else ["measured"])
    pieces: list[MeasuredPiece] = []
    tags: dict[tuple[str, str], int] = {}
    if columns is None:
        raise InputError(table.problems)
    for row in table.rows:
        if (piece := _piece(columns, row, labels, seats, as_marked)) is not None:
            tag = (piece.part.name, piece.part.piece or "")
            if tag in tags:
                where = "piece" if columns.has("piece") else "measured"
                rule = f"row {tags[tag]} has a piece of this name and tag"
                columns.complain(row, where, rule, "give each piece a tag of its own")
            tags.setdefault(tag, row.number)
            pieces.append(piece)
        if len(table.problems) >= MOST_LISTED:
            break
    _refuse_slips(pieces, labels, columns)
    if table.problems:
        raise InputError(table.problems)
    return pieces


def columns_not_read(source: Source) -> tuple[str, ...]:
    """The columns of such a table that mean nothing here. Raises InputError."""
    columns = read_columns(read_table(source, "measured parts table"), _LENGTHS, _PLAIN, ())
    return tuple(columns.not_read) if columns else ()


def _refuse_slips(pieces: list[MeasuredPiece], labels: Mapping[str, Part], columns: Columns) -> None:
    """Note pieces that are of another order than their label, or than every other piece here and in the drawer."""
    rows = {row.number: row for row in columns.table.rows}
    others = [part.thickness.best for part in labels.values()]
    for piece in pieces:
        if not piece.spots:
            continue
        read = piece.part.thickness.best
        known = [piece.label.thickness.best] if piece.label is not None else []
        around = others + [other.part.thickness.best for other in pieces if other is not piece]
        if known and off_label(read, known[0]):
            rule = f"the label means {spelled(known[0], columns.unit_of['measured'])}"
        elif around and (read >= _OFF_OTHERS * max(around) or read * _OFF_OTHERS <= min(around)):
            rule = f"it is {_OFF_OTHERS} times off all other pieces or more, here and in the drawer"
        else:
            continue
        remedy = "look at its decimal point, and write it in the unit of the column: measured_mm, _um, _in or _thou"
        columns.complain(rows[piece.row], "measured", f"this is another order of thickness: {rule}", remedy)


def _piece(
    columns: Columns, row: Row, labels: Mapping[str, Part], seats: frozenset[str], as_marked: Collection[str]
) -> MeasuredPiece | None:
    """The piece of a row; None where it counts none, or is wrong."""
    before = len(columns.table.problems)
    name, seat = columns.text(row, "part"), columns.text(row, "seat")
    if seat and seat not in seats:
        columns.complain(row, "seat", "the job has no such seat", f"write one of: {', '.join(sorted(seats))}")
    count = columns.count(row, "on_hand", least=0) if columns.text(row, "on_hand") else 1
    unmeasured = bool(as_marked) and not columns.text(row, "measured")
    spots = () if unmeasured else spots_read(columns, row)
    error, burr, edge = (columns.not_negative(row, key) for key in ("measuring_error", "burr", "edge"))
    inner, outer = diameter(columns, row, "inner"), diameter(columns, row, "outer")
    if inner and outer and inner.best >= outer.best:
        columns.complain(row, "inner", "the bore is not smaller than the outside", "swap them, or measure again")
    made, hard = form(columns, row), hardness(columns, row)
    marked, play = columns.length(row, "thickness"), tolerance(columns, row, "tolerance")
    if spots and min(spots) <= (error or 0):
        columns.complain(
            row, "measured", "a thickness stays above zero over its whole error", "measure the piece again"
        )
    if unmeasured:
        _refuse_unknown(columns, row, labels, as_marked, marked)
    if len(columns.table.problems) > before or not count or not (spots or unmeasured):
        return None
    label = labels.get(name) if name else None
    # a row that repeats a label and no tolerance means that label, with its tolerance
    repeated = label is not None and play is None and marked == (label.marked or round(label.thickness.best))
    if marked is not None and marked > 0 and not unmeasured and not repeated:
        above, below = play or (0, 0)
        label = Part(name, Bracket.between(marked - below, marked + above), marked=marked)
    if label is not None and label.marked is not None and not (label.measured or label.thickness.exact):
        # the label's own, wherever it is stated
        play = round(label.thickness.high - label.marked), round(label.marked - label.thickness.low)
    thickness = Bracket.between(min(spots) - (error or 0), max(spots) + (error or 0)) if spots else None
    if thickness is None and label is not None:
        thickness = label.thickness
    if thickness is None:
        return None
    part = Part(
        name or spelled(round(thickness.best), columns.unit_of["measured"]),
        thickness,
        columns.text(row, "piece") or f"{columns.table.path.stem}{ROW}{row.number}",
        measured=not unmeasured,
        marked=label.marked if label else None,
        inner=inner or (label.inner if label else None),
        outer=outer or (label.outer if label else None),
        material=columns.text(row, "material") or (label.material if label else ""),
        form=made or (label.form if label else ""),
        at=columns.text(row, "at"),
        note=columns.text(row, "note"),
        hardness=hard or (label.hardness if label else ""),
        supplier=columns.text(row, "supplier"),
        lot=columns.text(row, "lot"),
        tolerance=play if label and not unmeasured else None,
        edge=edge if edge is not None or label is None else label.edge,
    )
    read = frozenset(key for key, value in (("inner", inner), ("outer", outer), ("edge", edge)) if value is not None)
    return MeasuredPiece(part, label, spots, error, burr or 0, seat, row.number, read, count=count)


def _refuse_unknown(
    columns: Columns, row: Row, labels: Mapping[str, Part], as_marked: Collection[str], marked: int | None
) -> None:
    """Note what cannot be taken as marked: nobody says how thick it is, or somebody says otherwise."""
    name = columns.text(row, "part")
    remedy = "measure it, and fill in measured_mm, _um, _in or _thou"
    if name not in as_marked:
        known = "parts of different dimensions" if name in labels else "nothing"
        rule = f"it was not measured, and the catalogues have {known} by this name" if name else "it was not measured"
        columns.complain(row, "part", rule, remedy)
    elif marked is not None and marked != labels[name].marked:
        columns.complain(row, "thickness", "it was not measured, and is not marked as the catalogue says", remedy)


def spots_read(columns: Columns, row: Row) -> tuple[int, ...]:
    """The thickness readings of a piece [nm], in one cell with spaces or slashes between; none where it is wrong."""

    def read(text: str) -> tuple[int, ...]:
        spots = re.split(r"[\s/]+", text.strip())[:_MOST_SPOTS]
        return tuple(to_nm(columns.number(spot), columns.unit_of["measured"]) for spot in spots)

    if not columns.text(row, "measured"):
        columns.complain(row, "measured", "the piece was not measured", "fill in its thickness at one spot or several")
        return ()
    how = "write the readings with spaces between: 0.501 0.503 0.499"
    found = columns.read(row, "measured", read, how) or ()
    if found and min(found) <= 0:
        columns.complain(row, "measured", "a thickness is above zero", "measure the piece again")
        return ()
    return found
