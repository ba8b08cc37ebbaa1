"""Limit pressures of materials, VDI 2230, from the table that comes with shimopt; the edition is always named."""

from __future__ import annotations

import re
from fractions import Fraction

from shimopt.errors import nearest_name
from shimopt.job.seat import Pressure
from shimopt.lengths import LengthError
from shimopt.parts.standards import reference_rows

__all__ = ["pressure_named"]

_EDITION = re.compile(r"(?P<material>.+?)[\s,]*\(?(?:VDI\s*2230[\s:,]*)(?P<edition>\d{4})\)?", re.IGNORECASE)


def pressure_named(text: str) -> Pressure:
    """The limit pressure of a material, such as `GJL-250` or `GJL-250, VDI 2230:2003`. Raises LengthError."""
    asked = _EDITION.fullmatch(text.strip())
    material, edition = (asked["material"].strip(), asked["edition"]) if asked else (text.strip(), None)
    rows = [row for row in reference_rows("limit-pressures") if row["material"].casefold() == material.casefold()]
    if not rows:
        known = [row["material"] for row in reference_rows("limit-pressures")]
        meant = nearest_name(material, known)
        raise LengthError(
            "this material is not in the table of limit pressures",
            f"did you mean {meant}?" if meant else "write the limit in N/mm²",
        )
    rows = [row for row in rows if edition in (None, row["edition"])]
    if len(rows) != 1:
        raise LengthError(
            "this edition has no such material" if not rows else "several editions have this material",
            'write it like "GJL-250, VDI 2230:2003"',
        )
    row = rows[0]
    return Pressure(
        Fraction(row["limit_pressure_n_mm2"]),
        f"{row['material']}, VDI 2230:{row['edition']}",
        row["provenance"] == "memory",
    )
