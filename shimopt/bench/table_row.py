"""A gap that stands in a row of a table: what a reading makes of its cells low, high, best and checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from shimopt.bench.dimensions_said import value_over
from shimopt.bench.reading_said import Said, as_value
from shimopt.errors import InputError, RefusedError
from shimopt.job.gaps_table import GapRow
from shimopt.lengths import Bracket, length_of, toleranced
from shimopt.readings import Spot, feeler_reading
from shimopt.readings.value import bracket_reading
from shimopt.tables.edit import EditedTable, read_to_change


def bracket_of(said: Said, unit: str, gap: str) -> Bracket:
    """From what to what a reading says a gap is [nm]; `unit` is that of bare numbers. Raises InputError."""
    try:
        if said.value:
            return toleranced(as_value(value_over("", said.value)), unit)
        if said.readings:
            raise RefusedError("a row of a table holds from what to what a gap reads", "give blades or a value")
        spot = {key: length_of(as_value(text), unit) for key, text in said.blades}
        return feeler_reading([Spot(**spot)]).bracket
    except RefusedError as error:
        raise InputError.at("", error.rule, error.remedy, where=gap) from None


def cells_of(table: EditedTable, row: int) -> dict[str, str]:
    """What is read in a row, as texts."""
    named = {column.rpartition("_")[0]: column for column in table.columns}
    return {key: table.cell(row, named[key]) for key in ("low", "high", "best") if key in named}


def row_read(row: GapRow, bracket: Bracket, said: Said) -> GapRow:
    """The row once this is read of its gap. Raises InputError."""
    low, high = bracket.low.__floor__(), bracket.high.__ceil__()
    return replace(row, reading=bracket_reading(low, high, None), checked=said.checked)


def with_row(path: Path, row: int, bracket: Bracket, *, checked: bool) -> EditedTable:
    """The table with what is read written into a row. Raises InputError."""
    table = read_to_change(path)
    named = {column.rpartition("_")[0]: column for column in table.columns}
    unit = named["low"].rpartition("_")[2]
    cells: dict[str, str] = {
        "low": table.length(bracket.low.__floor__(), unit),
        "high": table.length(bracket.high.__ceil__(), named["high"].rpartition("_")[2]),
        "best": "",
    }
    written: Mapping[tuple[int, str], str] = {(row, named[key]): text for key, text in cells.items() if key in named}
    if checked and "checked" not in table.columns:
        table = table.with_column("checked", "")
    if "checked" in table.columns:
        written = {**written, (row, "checked"): "yes" if checked else ""}
    return table.with_cells(written)
