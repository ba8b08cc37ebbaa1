"""Tables of published figures that come with shimopt (folder `catalogs/tables`), every row with its provenance."""

from __future__ import annotations

import csv
from functools import cache
from importlib import resources
from pathlib import Path

__all__ = ["catalogue_folder", "reference_rows"]


def catalogue_folder() -> Path:
    """The folder of the built-in catalogues: inside the wheel, or at the top of a checkout."""
    packed = Path(str(resources.files("shimopt") / "catalogs"))
    return packed if packed.is_dir() else Path(__file__).parents[2] / "catalogs"


@cache
def reference_rows(name: str) -> tuple[dict[str, str], ...]:
    """The rows of one table, as text by column."""
    with open(catalogue_folder() / "tables" / f"{name}.csv", encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))
