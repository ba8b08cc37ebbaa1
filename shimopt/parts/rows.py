"""From a row of a parts table to a line of stock, what it leaves out taken from a catalogue."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from shimopt.errors import nearest_name
from shimopt.lengths import UNITS, Bracket, LengthError, length_of, spelled
from shimopt.parts.cells import diameter, form, hardness, tolerance
from shimopt.parts.part import Offer, Part, StockLine
from shimopt.tables.columns import Columns
from shimopt.tables.read import Row

__all__ = ["LENGTHS", "PLAIN", "Models", "line_of_row"]

LENGTHS = ("thickness", "tolerance", "measured", "measuring_error", "inner", "outer", "edge")
PLAIN = (
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
_MOST_DECIMALS = 6
_bracket = lru_cache(maxsize=1 << 16)(Bracket.between)


@dataclass(frozen=True, slots=True)
class Models:
    """Catalogue parts by name, from which a drawer's row takes what it leaves out.

    `complete` if all catalogues could be read; `ambiguous` are names that stand for parts of different dimensions.
    """

    by_name: dict[str, Part]
    complete: bool
    ambiguous: frozenset[str]


def line_of_row(columns: Columns, row: Row, models: Models | None, file: str) -> StockLine | None:
    """The line of a drawer's row, or of a catalogue's (`models` None); None where it is wrong: problems are noted."""
    before = len(columns.table.problems)
    name = columns.text(row, "part")
    model = models.by_name.get(name) if models else None
    thickness = _thickness(columns, row, model)
    if models and name in models.ambiguous and not any(columns.text(row, key) for key in ("thickness", "measured")):
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
    inner, outer = diameter(columns, row, "inner"), diameter(columns, row, "outer")
    if inner and outer and inner.best >= outer.best:
        columns.complain(row, "inner", "the bore is not smaller than the outside", "swap them, or measure again")
    made, hard, edge = form(columns, row), hardness(columns, row), columns.not_negative(row, "edge")
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
        made or (model.form if model else ""),
        columns.text(row, "at"),
        columns.text(row, "note") or (model.note if model else ""),
        hard or (model.hardness if model else ""),
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
    marked, measured, error = (columns.length(row, key) for key in ("thickness", "measured", "measuring_error"))
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
    play = tolerance(columns, row, "tolerance")
    if marked is None and model is not None:
        marked = model.marked
    bracket = None
    if measured is not None:
        bracket = _bracket(measured - (error or 0), measured + (error or 0))
    elif model is not None and marked == model.marked and play is None:
        bracket = model.thickness
    elif marked is not None:
        above, below = play or (0, 0)
        bracket = _bracket(marked - below, marked + above)
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
    price = columns.read(row, "price", lambda text: _price(columns, text))
    pack = columns.count(row, "pack", least=1) if columns.text(row, "pack") else 1
    lead = columns.count(row, "lead_days", least=0) if columns.text(row, "lead_days") else None
    return Offer(price, pack or 1, columns.text(row, "currency"), columns.text(row, "supplier"), lead, file)


def _price(columns: Columns, text: str) -> Decimal:
    """A price, exact. Raises LengthError."""
    number = columns.number(text)
    if number < 0 or (number * 10**_MOST_DECIMALS).denominator != 1:
        raise LengthError("a price is from 0 up, with at most six decimals", "write it like 1.25")
    return Decimal(number.numerator) / Decimal(number.denominator)
