"""Coefficients of linear thermal expansion of common materials.

Source of all of them: Callister, Materials Science and Engineering, appendix B, table B.6 [1e-6 per kelvin]. Values for
a named alloy near room temperature; a maker's own figure is better.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

__all__ = ["SOURCE", "coefficients", "named"]

SOURCE = "Callister, table B.6"
_MILLIONTHS = {
    "steel A36": "11.7",
    "steel 1020": "11.7",
    "steel 1040": "11.3",
    "steel 4140": "12.3",
    "steel 4340": "12.3",
    "stainless steel 304": "17.2",
    "stainless steel 316": "15.9",
    "stainless steel 440A": "10.2",
    "grey iron G1800": "11.4",
    "grey iron G3000": "11.4",
    "grey iron G4000": "11.4",
    "ductile iron 60-40-18": "11.2",
    "ductile iron 80-55-06": "10.6",
    "aluminium 1100": "23.6",
    "aluminium 2024": "22.9",
    "aluminium 6061": "23.6",
    "aluminium 7075": "23.4",
    "aluminium 356.0": "21.5",
    "copper C11000": "17.0",
    "brass C26000": "19.9",
    "brass C36000": "20.5",
    "bronze C93200": "18.0",
    "magnesium AZ31B": "26.0",
    "magnesium AZ91D": "26.0",
}


def coefficients() -> Mapping[str, Fraction]:
    """Coefficients by material [per kelvin]."""
    return {name: Fraction(number) / 10**6 for name, number in _MILLIONTHS.items()}


def named(material: str) -> str | None:
    """The table's name for a material, however it is spelled; None where it is not in the table."""
    folded = {_folded(name): name for name in _MILLIONTHS}
    return folded.get(_folded(material))


def _folded(name: str) -> str:
    words = name.casefold().replace("aluminum", "aluminium").replace("gray", "grey")
    words = words.replace("stainless steel", "stainless")
    return " ".join(word for word in words.replace(",", " ").split() if word not in ("casting", "cast"))
