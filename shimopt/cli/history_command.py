"""`shimopt history`: what a shop's own files tell of its suppliers, gauges, seats and machines."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shimopt.cli.shared_options import gathered, json_option, unit_option
from shimopt.cli.tab_completion import catalogues

if TYPE_CHECKING:
    from shimopt.errors import InputError
    from shimopt.learning.history import History, HistoryFiles


@dataclass(frozen=True, kw_only=True)
class _History:
    sources: tuple[Path, ...]
    parts: tuple[str, ...]
    same: tuple[str, ...]
    apart: tuple[str, ...]
    output: Path | None
    as_json: bool
    unit: str | None


@click.command("history", short_help="What your own records tell: sizes, gauges, seats, wear.")
@click.argument("sources", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="JOB|FOLDER|TABLE...")
@click.option(
    "--parts",
    multiple=True,
    metavar="TABLE",
    shell_complete=catalogues,
    help="What is printed on the parts of a TABLE, and who sells them; repeatable.",
)
@click.option("--same", multiple=True, metavar="OLD=NEW", help="Two spellings of one supplier; repeatable.")
@click.option(
    "--apart", multiple=True, metavar="SUPPLIER", help="A supplier of its own, however alike its name; repeatable."
)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write by its ending: .svg how gaps wear, .csv or .parquet every gap of every record, .toml true sizes.",
)
@json_option("Print it as JSON instead of the screen.")
@unit_option("Unit of the screen; mm if not given.")
@gathered(_History)
def history_command(call: _History) -> int:
    """Tell what measured pieces, repeated readings and records are worth.

    A JOB gives the measured pieces of its drawer, and what its records predicted
    and found; a FOLDER those of all jobs in it. A TABLE holds measured
    pieces, with the columns of a drawer (supplier, lot, thickness_mm,
    tolerance_mm, measured_mm, measuring_error_mm), or gaps that were read twice
    (gauge, first_mm, second_mm, and resolution_mm of a dial).

    Said is how thick a supplier's sizes run and what one more of them measures,
    and how well a gauge repeats; where that says less than a label, how many
    more pieces to measure. By seat and machine, what was predicted, found and
    came back; of a gap that was read on two days, how it wears and what it will
    need. Nothing of it makes a gap sure.

    \b
    Examples:
      shimopt history demo_data
      shimopt history demo_data/year -o wear.svg
      shimopt history measured.csv --parts catalogue.csv
      shimopt history demo_data/tram-depot/measured.csv demo_data/tram-depot/read-twice.csv
    """
    from shimopt.cli.terminal import print_lines, print_text
    from shimopt.errors import InputError
    from shimopt.learning.history import history_of
    from shimopt.render.json.history_json import history_object
    from shimopt.render.json.results_json import json_text
    from shimopt.render.screens.history_screen import history_lines
    from shimopt.tables.replacing import refuse_ending, refuse_input

    if call.output is not None:
        refuse_ending(call.output, (".svg", ".csv", ".parquet", ".toml"))
        refuse_input(call.output, map(str, (*call.sources, *call.parts)))
    history = history_of(_files(call))
    if history.asked:
        raise InputError(history.asked)
    if call.output is not None:
        _write(call.output, history, call.unit or "mm")
    if call.as_json:
        print_text(json_text(history_object(history)))
    else:
        print_lines(lambda width, _: history_lines(history, call.unit or "mm", width))
    return 0


def _write(output: Path, history: History, unit: str) -> None:
    from shimopt.render.json.history_json import VISIT_COLUMNS, visit_rows
    from shimopt.render.pictures.wear_plot import wear_plot
    from shimopt.tables.binary import need_pyarrow
    from shimopt.tables.csv_text import csv_of
    from shimopt.tables.replacing import replace_file
    from shimopt.words.history_words import true_size_tables

    if output.suffix.lower() == ".svg":
        if not history.wear:
            raise _nothing(output, "no gap was read on two days")
        replace_file(output, wear_plot(history.wear, unit).encode())
        return
    if output.suffix.lower() == ".toml":
        if not (tables := true_size_tables(history)):
            raise _nothing(output, "no size is known better than its label")
        replace_file(output, tables.encode())
        return
    rows = visit_rows(history)
    if output.suffix.lower() == ".csv":
        replace_file(output, csv_of(VISIT_COLUMNS, (row.values() for row in rows)).encode())
        return
    need_pyarrow(str(output))
    import pyarrow as pa
    import pyarrow.parquet

    schema = pa.schema([(name, pa.float64() if name.endswith("_mm") else pa.string()) for name in VISIT_COLUMNS])
    sink = pa.BufferOutputStream()
    pyarrow.parquet.write_table(pa.Table.from_pylist(rows, schema=schema), sink)
    replace_file(output, bytes(sink.getvalue()))


def _nothing(output: Path, why: str) -> InputError:
    from shimopt.errors import InputError

    remedy = "leave -o out; the screen says what is missing"
    return InputError.at("", f"{why}: nothing to write", remedy, where="--output", value=str(output))


def _files(call: _History) -> HistoryFiles:
    """Where the history stands. Raises InputError."""
    from shimopt.batch.job_folder import job_files
    from shimopt.cli.parts_commands import paths_of
    from shimopt.learning.history import HistoryFiles
    from shimopt.parts.drawer_and_catalogues import load_stock

    files, tables = list[tuple[str, Path]](), list[Path]()
    for path in call.sources:
        if path.is_dir():
            files += [(str(file.parent.relative_to(path.parent)), file) for file in job_files(path)]
        elif path.suffix == ".toml":
            files.append((path.parent.name or path.name, path))
        else:
            tables.append(path)
    named = list(paths_of(call.parts, "--parts").values())
    offered = load_stock(None, named).lines if named else ()
    return HistoryFiles(tuple(files), tuple(tables), offered=offered, same=_same(call.same), apart=call.apart)


def _same(texts: tuple[str, ...]) -> dict[str, str]:
    from shimopt.errors import InputError

    found = {}
    for text in texts:
        old, sign, new = (part.strip() for part in text.partition("="))
        if not (old and sign and new):
            rule = "a spelling says what it is to be read as"
            raise InputError.at(
                "", rule, 'write it like "Kestrel Shims=Kestrel Shim Works"', where="--same", value=text
            )
        found[old] = new
    return found
