"""From a drawer and its catalogues to stock: what is on hand, and what could be bought."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path

from shimopt.errors import InputError, Problem, nearest_name
from shimopt.lengths import UNITS, Bracket, LengthError, length_of, parse_number, spelled
from shimopt.parts.columns import Columns, complain_of_no_column, read_columns
from shimopt.parts.files import MOST_LISTED, file_fingerprint
from shimopt.parts.part import Offer, Part, StockLine
from shimopt.parts.table import Row, read_table

__all__ = ["Stock", "load_stock"]

_LENGTHS = ("thickness", "tolerance", "measured", "measuring_error", "inner", "outer", "edge")
_PLAIN = (
    "part",
    "piece",
    "at",
    "on_hand",
    "price",
    "currency",
    "pack",
    "supplier",
    "lead_days",
    "material",
    "form",
    "hardness",
    "note",
    "provenance",
)


@dataclass(frozen=True, slots=True)
class Stock:
    """Every kind of piece in natural order, and the columns that nobody reads."""

    lines: tuple[StockLine, ...]
    not_read: tuple[tuple[str, str], ...] = ()
    fingerprint: str = ""  # of the drawer's file


@dataclass(frozen=True, slots=True)
class Models:
    """Catalogue parts by name, from which a drawer's row takes what it leaves out.

    `complete` if all catalogues could be read; `ambiguous` are names that stand for parts of different dimensions.
    """

    by_name: dict[str, Part]
    complete: bool
    ambiguous: frozenset[str]


def load_stock(drawer: Path | None, catalogues: list[Path], *, complete: bool = True) -> Stock:
    """Read the drawer and the catalogues; `complete` is false where a catalogue that the job names is not among them.

    Raises InputError with the problems of all of them.
    """
    problems: list[Problem] = []
    not_read: list[tuple[str, str]] = []
    offered: list[StockLine] = []
    for path in catalogues:
        offered += _read(path, "catalogue", None, problems, not_read)
    models: dict[str, Part] = {}
    ambiguous: set[str] = set()
    for part in sorted((line.part for line in offered), key=lambda part: part.order):
        same = models.setdefault(part.name, part)
        if (part.thickness, part.inner, part.outer) != (same.thickness, same.inner, same.outer):
            ambiguous.add(part.name)
    # a drawer cannot be blamed for parts that stand in a catalogue which could not be read
    complete = complete and not problems
    known = Models(models, complete, frozenset(ambiguous))
    on_hand = _read(drawer, "drawer", known, problems, not_read) if drawer else []
    if problems:
        raise InputError(problems)
    lines = tuple(sorted(_merged(on_hand, offered), key=lambda line: line.part.order))
    return Stock(lines, tuple(not_read), file_fingerprint(drawer) if drawer else "")


def _read(
    path: Path,
    what: str,
    models: Models | None,
    problems: list[Problem],
    not_read: list[tuple[str, str]],
) -> list[StockLine]:
    """The lines of one table; a drawer (`models` are given) may take what it leaves out from a catalogue."""
    try:
        table = read_table(path, what)
    except InputError as error:
        problems += error.problems
        return []
    columns = read_columns(table, _LENGTHS, _PLAIN, ["part", "thickness"] if models is None else [])
    lines: list[StockLine] = []
    if columns is not None and models is not None and not _says_thickness(columns, models):
        complain_of_no_column(table, "thickness", is_length=True)
    elif columns is not None:
        idle = ("price", "currency", "pack", "lead_days") if models is not None else ("on_hand", "at", "piece")
        not_read += [(path.name, column) for column in [*columns.not_read, *(c for c in idle if columns.has(c))]]
        seen: dict[object, int] = {}
        for row in table.rows:
            line = _line(columns, row, models, path.name)
            if line is not None:
                _refuse_double(line, columns, row, seen, models is not None)
                lines.append(line)
            if len(table.problems) >= MOST_LISTED:
                table.complain(None, "", "", "more may be wrong than is listed here", "mend these first")
                break
    problems += table.problems
    return lines


def _says_thickness(columns: Columns, models: Models) -> bool:
    """Whether a drawer has a column from which a thickness can come."""
    from_catalogue = columns.has("part") and (models.by_name or not models.complete)
    return bool(from_catalogue) or columns.has("thickness") or columns.has("measured")


def _refuse_double(line: StockLine, columns: Columns, row: Row, seen: dict[object, int], in_drawer: bool) -> None:
    part = line.part
    mark = (
        (part.name, part.piece, part.thickness if part.measured else None)
        if in_drawer
        else (part.name, line.offers[0].supplier)
    )
    if mark in seen:
        remedy = (
            "put the counts together, or tell the pieces apart by name, `piece` or measured thickness"
            if in_drawer
            else "keep one row, or name the `supplier` of each"
        )
        columns.table.complain(row, "part", part.name, f"the part stands on row {seen[mark]} already", remedy)
    seen.setdefault(mark, row.number)


def _line(columns: Columns, row: Row, models: Models | None, file: str) -> StockLine | None:
    before = len(columns.table.problems)
    name = columns.text(row, "part")
    model = models.by_name.get(name) if models else None
    thickness = _thickness(columns, row, model)
    takes_thickness = not any(columns.has(key) and columns.text(row, key) for key in ("thickness", "measured"))
    if models and name in models.ambiguous and takes_thickness:
        columns.complain(
            row,
            "part",
            "the catalogues have parts of different dimensions by this name",
            "fill in the thickness and the bore of the piece",
        )
    if thickness is None and len(columns.table.problems) == before:
        _complain_of_no_thickness(columns, row, name, models)
    if not name and models is None:
        columns.complain(row, "part", "a catalogue names its parts", "fill in the column part")
    on_hand = 0
    if models is not None:
        on_hand = columns.count(row, "on_hand", least=0) or 0 if columns.has("on_hand") else 1
    inner, outer = columns.diameter(row, "inner"), columns.diameter(row, "outer")
    if inner and outer and inner.best >= outer.best:
        columns.complain(row, "inner", "the bore is not smaller than the outside", "swap them, or measure again")
    form, hardness, edge = columns.form(row), columns.hardness(row), columns.chamfer(row, "edge")
    offer = _offer(columns, row, file) if models is None else None
    if len(columns.table.problems) > before or thickness is None:
        return None
    bracket, measured, marked = thickness
    unit = columns.unit_of.get("thickness") or columns.unit_of.get("measured") or "mm"
    part = Part(
        name or _named_by(round(bracket.best) if marked is None else marked, unit),
        bracket,
        columns.text(row, "piece") or None,
        measured,
        marked,
        inner or (model.inner if model else None),
        outer or (model.outer if model else None),
        columns.text(row, "material") or (model.material if model else ""),
        form or (model.form if model else ""),
        columns.text(row, "at"),
        columns.text(row, "note") or (model.note if model else ""),
        hardness or (model.hardness if model else ""),
        edge if edge is not None or model is None else model.edge,
        columns.text(row, "provenance") or (model.provenance if model else ""),
    )
    return StockLine(part, on_hand, (offer,) if offer else (), None if models is None else row.number)


def _named_by(nm: int, unit: str) -> str:
    """The thickness as a name, with as many digits as tell it from any other."""
    short = spelled(nm, unit)
    told_apart = not short.startswith("under") and length_of(short, None) == nm
    return short if told_apart else f"{Decimal(nm) / UNITS[unit]:f} {unit}"


def _thickness(columns: Columns, row: Row, model: Part | None) -> tuple[Bracket, bool, int | None] | None:
    """Bracket, whether it was measured, and the marking; None where nobody said."""
    marked = columns.length(row, "thickness") if columns.has("thickness") else None
    measured = columns.length(row, "measured") if columns.has("measured") else None
    error = columns.length(row, "measuring_error") if columns.has("measuring_error") else None
    for name, value in (("thickness", marked), ("measured", measured)):
        if value is not None and value <= 0:
            columns.complain(row, name, "a thickness is above zero", "measure the piece")
            return None
    if error is not None and error < 0:
        columns.complain(row, "measuring_error", "a measuring error is not negative", "write it without a sign")
    if error is not None and measured is None:
        columns.complain(
            row,
            "measuring_error",
            "an error without a measured thickness means nothing",
            "fill in the measured thickness; a maker's tolerance goes into tolerance",
        )
    tolerance = columns.tolerance(row, "tolerance") if columns.has("tolerance") else None
    if marked is None and model is not None:
        marked = model.marked
    bracket = None
    if measured is not None:
        bracket = Bracket.between(measured - (error or 0), measured + (error or 0))
    elif model is not None and marked == model.marked and tolerance is None:
        bracket = model.thickness
    elif marked is not None:
        above, below = tolerance or (0, 0)
        bracket = Bracket.between(marked - below, marked + above)
    if bracket is None:
        return None
    if bracket.low <= 0:
        columns.complain(
            row,
            "measured" if measured is not None else "thickness",
            "a thickness stays above zero over its whole tolerance",
            "check the tolerance",
        )
        return None
    return bracket, measured is not None, marked


def _complain_of_no_thickness(columns: Columns, row: Row, name: str, models: Models | None) -> None:
    if name and models and not models.complete:
        return
    column = next((c for c in ("thickness", "measured", "part") if columns.has(c)), "part")
    if not name or not models or not models.by_name:
        columns.complain(row, column, "the row has no thickness", "fill in the thickness")
        return
    meant = nearest_name(name, models.by_name)
    remedy = f"did you mean {meant}?" if meant else "fill in its thickness, or name a part of a catalogue"
    columns.table.complain(row, "part", name, "no thickness, and no catalogue of the job has this part", remedy)


def _offer(columns: Columns, row: Row, file: str) -> Offer:
    price = None
    if text := columns.text(row, "price"):
        try:
            number = parse_number(text.replace(",", ".") if columns.table.decimal_comma else text)
            price = Decimal(number.numerator) / Decimal(number.denominator)
        except LengthError as error:
            columns.complain(row, "price", error.rule, error.remedy)
        if price is not None and (price < 0 or price.as_tuple().exponent < -6):  # type: ignore[operator]
            columns.complain(row, "price", "a price is from 0 up, with at most six decimals", "write it like 1.25")
    pack = columns.count(row, "pack", least=1) if columns.text(row, "pack") else 1
    lead = columns.count(row, "lead_days", least=0) if columns.text(row, "lead_days") else None
    return Offer(price, pack or 1, columns.text(row, "currency"), columns.text(row, "supplier"), lead, file)


def _merged(on_hand: list[StockLine], offered: list[StockLine]) -> list[StockLine]:
    """One line per kind: an offer joins a drawer line that it cannot be told from."""
    merged: dict[tuple[str, str | None, Bracket, Bracket | None, Bracket | None], StockLine] = {}
    for line in on_hand + offered:
        part = line.part
        kind = (part.name, part.piece, part.thickness, part.inner, part.outer)
        if kind in merged:
            old = merged[kind]
            merged[kind] = replace(old, on_hand=old.on_hand + line.on_hand, offers=old.offers + line.offers)
        else:
            merged[kind] = line
    return list(merged.values())
