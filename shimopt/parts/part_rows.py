"""From a row of a parts table to a line of stock, what it leaves out taken from a catalogue."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from shimopt.errors import nearest_name
from shimopt.lengths import UNITS, Bracket, length_of, spelled
from shimopt.parts.cells import diameter, form, hardness, tolerance
from shimopt.parts.part import Offer, Part, StockLine, money_of
from shimopt.tables.columns import Columns
from shimopt.tables.read import Row

__all__ = ["LENGTHS", "PLAIN", "Models", "RowReader"]

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
_FIGURES = (*LENGTHS, "form", "hardness")
_TERMS = ("price", "currency", "pack", "supplier", "lead_days")
_bracket = lru_cache(maxsize=1 << 16)(Bracket.between)


@dataclass(frozen=True, slots=True)
class Models:
    """Catalogue parts by name, from which a drawer's row takes what it leaves out.

    `complete` if all catalogues could be read; `ambiguous` are names that stand for parts of different dimensions.
    """

    by_name: dict[str, Part]
    complete: bool
    ambiguous: frozenset[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """What rows with the same figures have in common."""

    thickness: Bracket
    measured: bool
    marked: int | None
    inner: Bracket | None
    outer: Bracket | None
    form: str
    hardness: str
    edge: int | None
    called: str  # the name of a piece that has none


class RowReader:
    """Reads the rows of a drawer, or of a catalogue (`models` None). Rows with the same figures are worked out once."""

    def __init__(self, columns: Columns, models: Models | None, file: str) -> None:
        self._columns, self._models, self._file = columns, models, file
        self._figures_of, self._terms_of = columns.cells_of(_FIGURES), columns.cells_of(_TERMS)
        self._kinds: dict[tuple[str, ...], _Kind] = {}
        self._offers: dict[tuple[str, ...], Offer] = {}

    def line(self, row: Row) -> StockLine | None:
        """The line of a row; None where it is wrong: problems are noted on the table."""
        columns, models = self._columns, self._models
        before = len(columns.table.problems)
        name = columns.text(row, "part")
        model = models.by_name.get(name) if models else None
        figures = self._figures_of(row.cells)
        kind = self._kinds.get(figures) if model is None else None
        if kind is None:
            kind = self._kind(row, name, model)
            if kind is not None and model is None:
                self._kinds[figures] = kind
        if not name and models is None:
            columns.complain(row, "part", "a catalogue names its parts", "fill in the column part")
        on_hand, offers = 0, tuple[Offer, ...]()
        if models is None:
            offers = (self._offer(row),)
        else:
            on_hand = columns.count(row, "on_hand", least=0) or 0 if columns.has("on_hand") else 1
        if kind is None or len(columns.table.problems) > before:
            return None
        part = Part(
            name or kind.called,
            kind.thickness,
            columns.text(row, "piece") or None,
            kind.measured,
            kind.marked,
            inner=kind.inner or (model.inner if model else None),
            outer=kind.outer or (model.outer if model else None),
            material=columns.text(row, "material") or (model.material if model else ""),
            form=kind.form or (model.form if model else ""),
            at=columns.text(row, "at"),
            note=columns.text(row, "note") or (model.note if model else ""),
            hardness=kind.hardness or (model.hardness if model else ""),
            edge=kind.edge if kind.edge is not None or model is None else model.edge,
            provenance=columns.text(row, "provenance") or (model.provenance if model else ""),
        )
        typed_in = columns.unit_of["thickness"] if models is not None and columns.text(row, "thickness") else ""
        return StockLine(part, on_hand, offers, None if models is None else row.number, typed_in)

    def _kind(self, row: Row, name: str, model: Part | None) -> _Kind | None:
        """A row's figures; what has no thickness, or another that a catalogue could mean, is noted."""
        columns, models = self._columns, self._models
        before = len(columns.table.problems)
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
        inner, outer = diameter(columns, row, "inner"), diameter(columns, row, "outer")
        if inner and outer and inner.best >= outer.best:
            columns.complain(row, "inner", "the bore is not smaller than the outside", "swap them, or measure again")
        made, hard, edge = form(columns, row), hardness(columns, row), columns.not_negative(row, "edge")
        if thickness is None or len(columns.table.problems) > before:
            return None
        bracket, measured, marked = thickness
        unit = columns.unit_of.get("thickness") or columns.unit_of.get("measured") or "mm"
        called = _named_by(round(bracket.best) if marked is None else marked, unit)
        return _Kind(
            thickness=bracket,
            measured=measured,
            marked=marked,
            inner=inner,
            outer=outer,
            form=made,
            hardness=hard,
            edge=edge,
            called=called,
        )

    def _offer(self, row: Row) -> Offer:
        terms = self._terms_of(row.cells)
        if terms not in self._offers:
            before = len(self._columns.table.problems)
            offer = _offer(self._columns, row, self._file)
            if len(self._columns.table.problems) > before:
                return offer
            self._offers[terms] = offer
        return self._offers[terms]


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
    """A price, exact. Raises RefusedError."""
    number = columns.number(text)
    return money_of(Decimal(number.numerator) / Decimal(number.denominator))
