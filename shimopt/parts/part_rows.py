"""From a row of a parts table to a line of stock, what it leaves out taken from a catalogue."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache, partial
from itertools import pairwise
from typing import Generic, TypeVar

from shimopt.errors import RefusedError, did_you_mean
from shimopt.lengths import UNITS, Bracket, length_of, spelled
from shimopt.parts.cells import diameter, form, hardness, tolerance
from shimopt.parts.part import Offer, Part, StockLine, money_of, off_label
from shimopt.tables.columns import Columns
from shimopt.tables.read import Row

LENGTHS = ("thickness", "tolerance", "measured", "measuring_error", "inner", "outer", "edge")
PLAIN = (
    "part",
    "piece",
    "at",
    "on_hand",
    "price",
    "currency",
    "pack",
    "price_from",
    "supplier",
    "lot",
    "lead_days",
    "material",
    "form",
    "hardness",
    "note",
    "provenance",
    "stock_row",
)
_TERMS = ("price", "currency", "pack", "price_from", "supplier", "lead_days")
_FROM = re.compile(r"(?P<packs>\d{1,7}) *at *(?P<price>\S+)")
_BUNDLES = "write it like: 10 at 0.80; 50 at 0.70"
_bracket = lru_cache(maxsize=1 << 16)(Bracket.between)
_THICKNESS = ("thickness", "tolerance", "measured", "measuring_error")
_Thickness = tuple[Bracket, bool, int | None, tuple[int, int] | None]
_Value = TypeVar("_Value")


@dataclass(frozen=True, slots=True)
class Models:
    """Catalogue parts by name, from which a drawer's row takes what it leaves out.

    `complete` if all catalogues could be read; `ambiguous` are names that stand for parts of different dimensions.
    """

    by_name: dict[str, Part]
    complete: bool
    ambiguous: frozenset[str]


class _Together(Generic[_Value]):
    """Cells that are read together: rows in which they are the same are worked out once, unless something is wrong."""

    def __init__(self, columns: Columns, names: Sequence[str], read: Callable[[Columns, Row], _Value]) -> None:
        self._columns, self._cells_of, self._read = columns, columns.cells_of(names), read
        self._known: dict[object, _Value] = {}

    def of(self, row: Row) -> _Value | None:
        """What they say; None where a problem was noted on the table."""
        cells = self._cells_of(row.cells)
        if cells in self._known:
            return self._known[cells]
        before = len(self._columns.table.problems)
        found = self._read(self._columns, row)
        if len(self._columns.table.problems) > before:
            return None
        self._known[cells] = found
        return found


class RowReader:
    """Reads the rows of a drawer, or of a catalogue (`models` None)."""

    def __init__(self, columns: Columns, models: Models | None, file: str) -> None:
        self._columns, self._models = columns, models
        self._texts_of = columns.texts_of(
            ("part", "piece", "material", "at", "note", "provenance", "supplier", "lot", "thickness")
        )
        self._thickness = _Together(columns, _THICKNESS, partial(_thickness, model=None))
        self._rings = _Together(columns, ("inner", "outer"), _rings)
        self._made = _Together(columns, ("form", "hardness", "edge"), _made)
        self._count = _Together(columns, ("on_hand",), _count)
        self._offers = _Together(columns, _TERMS, partial(_terms, file=file))
        self._typed_in = columns.unit_of.get("thickness", "")
        self._unit = columns.unit_of.get("thickness") or columns.unit_of.get("measured") or "mm"

    def line(self, row: Row) -> StockLine | None:
        """The line of a row; None where it is wrong: problems are noted on the table."""
        columns, models, problems = self._columns, self._models, self._columns.table.problems
        before = len(problems)
        name, piece, material, at, note, provenance, supplier, lot, typed = self._texts_of(row.cells)
        model = models.by_name.get(name) if models else None
        thickness = self._thickness.of(row) if model is None else _thickness(columns, row, model)
        if models and name in models.ambiguous and not any(columns.text(row, key) for key in ("thickness", "measured")):
            columns.complain(
                row,
                "part",
                "the catalogues have parts of different dimensions by this name",
                "fill in the thickness and the bore of the piece",
            )
        if thickness is None and len(problems) == before:
            _complain_of_no_thickness(columns, row, name, models)
        rings, made = self._rings.of(row), self._made.of(row)
        if not name and models is None:
            columns.complain(row, "part", "a catalogue names its parts", "fill in the column part")
        on_hand = 0 if models is None else self._count.of(row)
        terms = self._offers.of(row) if models is None else None
        if thickness is None or rings is None or made is None or len(problems) > before:
            return None
        (bracket, measured, marked, play), (inner, outer), (form, hardness, edge) = thickness, rings, made
        part = Part(
            name or named_by(round(bracket.best) if marked is None else marked, self._unit),
            bracket,
            piece or None,
            measured,
            marked,
            inner=inner or (model.inner if model else None),
            outer=outer or (model.outer if model else None),
            material=material or (model.material if model else ""),
            form=form or (model.form if model else ""),
            at=at,
            note=note or (model.note if model else ""),
            hardness=hardness or (model.hardness if model else ""),
            edge=edge if edge is not None or model is None else model.edge,
            provenance=provenance or (model.provenance if model else ""),
            # of a catalogue it is a term of the offer
            supplier="" if models is None else supplier,
            lot="" if models is None else lot,
            tolerance=play if measured and marked is not None else None,
        )
        # rows of the same terms are read once, and yet stand on rows of their own
        offers = () if terms is None else (terms(row=row.number),)
        return StockLine(
            part, on_hand or 0, offers, None if models is None else row.number, self._typed_in if typed else ""
        )


def _rings(columns: Columns, row: Row) -> tuple[Bracket | None, Bracket | None]:
    """Bore and outside."""
    inner, outer = diameter(columns, row, "inner"), diameter(columns, row, "outer")
    if inner and outer and inner.best >= outer.best:
        columns.complain(row, "inner", "the bore is not smaller than the outside", "swap them, or measure again")
    return inner, outer


def _made(columns: Columns, row: Row) -> tuple[str, str, int | None]:
    """Form, hardness and edge."""
    return form(columns, row), hardness(columns, row), columns.not_negative(row, "edge")


def _count(columns: Columns, row: Row) -> int:
    """How many are on hand: one where the table does not count."""
    return columns.count(row, "on_hand", least=0) or 0 if columns.has("on_hand") else 1


def named_by(nm: int, unit: str) -> str:
    """The thickness as a name, with as many digits as tell it from any other."""
    short = spelled(nm, unit)
    told_apart = not short.startswith("under") and length_of(short, None) == nm
    return short if told_apart else f"{Decimal(nm) / UNITS[unit]:f} {unit}"


def _thickness(columns: Columns, row: Row, model: Part | None) -> _Thickness | None:
    """Bracket, whether it was measured, the marking and its tolerance; None where nobody said."""
    marked, measured, error = (columns.length(row, key) for key in ("thickness", "measured", "measuring_error"))
    for name, value in (("thickness", marked), ("measured", measured)):
        if value is not None and value <= 0:
            remedy = columns.split_by_a_comma(row, name) or "measure the piece"
            columns.complain(row, name, "a thickness is above zero", remedy)
            return None
    if marked is not None and measured is not None and off_label(Fraction(measured), Fraction(marked)):
        # wear and wrong labels explain no such thing: a point or a unit slipped
        rule = f"{spelled(measured, columns.unit_of['measured'])} is of another order than the part's own "
        rule += spelled(marked, columns.unit_of.get("thickness", columns.unit_of["measured"]))
        columns.complain(row, "measured", rule, "check the decimal point and the unit of both columns")
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
    return bracket, measured is not None, marked, play


def _complain_of_no_thickness(columns: Columns, row: Row, name: str, models: Models | None) -> None:
    if name and models and not models.complete:
        return
    column = next((c for c in ("thickness", "measured", "part") if columns.has(c)), "part")
    if not name or not models or not models.by_name:
        columns.complain(row, column, "the row has no thickness", "fill in the thickness")
        return
    remedy = did_you_mean(name, models.by_name, "fill in its thickness, or name a part of a catalogue")
    columns.table.complain(row, "part", name, "no thickness, and no catalogue of the job has this part", remedy)


def _terms(columns: Columns, row: Row, file: str) -> Callable[..., Offer]:
    """The offer of rows with the same terms, but for the row on which it stands."""
    price = columns.read(row, "price", lambda text: _price(columns, text))
    pack = columns.count(row, "pack", least=1) if columns.text(row, "pack") else 1
    lead = columns.count(row, "lead_days", least=0) if columns.text(row, "lead_days") else None
    currency, supplier = columns.text(row, "currency"), columns.text(row, "supplier")
    bundles = _bundles(columns, row, price)
    return partial(Offer, price, pack or 1, currency, supplier, lead, file, price_from=bundles)


def _bundles(columns: Columns, row: Row, price: Decimal | None) -> tuple[tuple[int, Decimal], ...]:
    """Bundle prices: from so many packs on, each costs so much. The more are bought, the less."""

    def read(text: str) -> tuple[tuple[int, Decimal], ...]:
        found = []
        for part in text.split(";"):
            said = _FROM.fullmatch(part.strip())
            if said is None or int(said["packs"]) < 2:
                raise RefusedError("a bundle price says from how many packs on each costs so much", _BUNDLES)
            found.append((int(said["packs"]), _price(columns, said["price"])))
        for (few, dear), (many, cheap) in pairwise(found):
            if many <= few or cheap >= dear:
                raise RefusedError("with more packs each costs less", _BUNDLES)
        return tuple(found)

    bundles = columns.read(row, "price_from", read) or ()
    if bundles and (price is None or bundles[0][1] >= price):
        rule = "a bundle price is below the price of one pack" + ("" if price is not None else ", and there is none")
        columns.complain(row, "price_from", rule, "fill in the price of a single pack, and bundle prices below it")
    return bundles


def _price(columns: Columns, text: str) -> Decimal:
    """A price, exact. Raises RefusedError."""
    number = columns.number(text)
    return money_of(Decimal(number.numerator) / Decimal(number.denominator))
