"""How thick cold-rolled strip may really be: ISO 9445-1, strip under 125 mm wide, normal tolerance, 0.05 to 0.40 mm."""

from __future__ import annotations

from fractions import Fraction

from shimopt.parts.reference import reference_rows

__all__ = ["strip_tolerance"]


def strip_tolerance(thickness: int, quality: str = "normal") -> int | None:
    """± of a nominal thickness [nm]; None beyond the part of the table that was seen.

    Parameters: thickness [nm]; quality, "normal", "fine" or "precision". The edge of a band belongs to the lower band.
    """
    if thickness <= 50_000:
        return None
    for row in reference_rows("strip-tolerances"):
        if thickness <= Fraction(row["upto_mm"]) * 1_000_000:
            figure = row[f"{quality}_mm"]
            # "0.10t" is a share of the thickness
            if figure.endswith("t"):
                return round(Fraction(figure.removesuffix("t")) * thickness)
            return round(Fraction(figure) * 1_000_000)
    return None
