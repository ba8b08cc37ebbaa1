"""What the cells of a parts table mean: tolerances, diameters with their ISO 286 classes, forms, hardness."""

from __future__ import annotations

import re

from shimopt.errors import did_you_mean
from shimopt.lengths import Bracket, LengthError, to_nm
from shimopt.parts.part import FORMS
from shimopt.parts.standards import classed, hardness_of
from shimopt.tables.columns import Columns
from shimopt.tables.read import Row

_TOLERANCE = re.compile(r"\+\s*(?P<plus>[\d.]+)\s*/\s*-\s*(?P<minus>[\d.]+)|(?P<zero>0)\s*/\s*-\s*(?P<below>[\d.]+)")
_HOW = "write it like 0.05 or +0/-0.05"


def tolerance(columns: Columns, row: Row, name: str) -> tuple[int, int] | None:
    """A cell such as `0.05` or `+0/-0.05` as (above, below), both from 0 up [nm]."""

    def read(text: str) -> tuple[int, int] | None:
        text = columns.pointed(text.replace("−", "-").removeprefix("±").removeprefix("+/-").strip())
        if not text:
            return None
        pair = _TOLERANCE.fullmatch(text)
        above, below = (pair["plus"] or pair["zero"], pair["minus"] or pair["below"]) if pair else (text, text)
        unit = columns.unit_of[name]
        found = to_nm(columns.number(above), unit), to_nm(columns.number(below), unit)
        if min(found) < 0:
            raise LengthError("a tolerance is not negative", _HOW)
        return found

    return columns.read(row, name, read, _HOW)


def diameter(columns: Columns, row: Row, name: str) -> Bracket | None:
    """A cell such as `15.2`, `15.2 ± 0.05` or, by ISO 286, `15 D12` (outside: `21 d12`) as a bracket."""

    def read(text: str) -> Bracket:
        unit = columns.unit_of[name]
        text = text.replace("+/-", "±")
        if limits := classed(columns.pointed(text), "shaft" if name == "outer" else "hole", unit):
            return limits
        middle, _, half = text.partition("±")
        nm, half_nm = to_nm(columns.number(middle.strip()), unit), to_nm(columns.number(half.strip() or "0"), unit)
        if half_nm < 0 or nm - half_nm <= 0:
            raise LengthError("a diameter is above zero and its tolerance not negative", "measure it again")
        return Bracket.between(nm - half_nm, nm + half_nm)

    return columns.read(row, name, read)


def form(columns: Columns, row: Row) -> str:
    """The form of a part, empty where nobody said."""

    def read(text: str) -> str:
        if (folded := text.casefold()) not in FORMS:
            remedy = did_you_mean(folded, FORMS, "write one of these, or leave the cell blank")
            raise LengthError(f"a form is one of {', '.join(FORMS)}", remedy)
        return folded

    return columns.read(row, "form", read) or ""


def hardness(columns: Columns, row: Row) -> str:
    """The hardness of a part as a text that can be read, empty where nobody said."""
    return columns.read(row, "hardness", lambda text: str(hardness_of(columns.pointed(text)))) or ""
