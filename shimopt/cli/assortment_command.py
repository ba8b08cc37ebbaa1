"""`shimopt assortment`: which drawer to keep."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from shimopt.cli.shared_options import gathered, json_option, unit_option
from shimopt.cli.tab_completion import catalogues

if TYPE_CHECKING:
    from shimopt.learning.jobs_read import JobsRead


@dataclass(frozen=True, kw_only=True)
class _Assortment:
    readings: tuple[Path, ...]
    parts: str
    drawer: Path | None
    pieces: int | None
    money: str | None
    jobs: int
    spread: str | None
    least: str | None
    most: str | None
    target: str | None
    most_pieces: int
    output: Path | None
    as_json: bool
    unit: str | None


@click.command("assortment", short_help="Which drawer to keep until the next delivery.")
@click.argument("readings", nargs=-1, type=click.Path(path_type=Path), metavar="READINGS|FOLDER...")
@click.option(
    "--parts",
    required=True,
    metavar="TABLE",
    shell_complete=catalogues,
    help="What can be bought: a table, or a catalogue that comes with shimopt.",
)
@click.option("--drawer", type=click.Path(path_type=Path), metavar="FILE", help="What is on hand already.")
@click.option("--pieces", type=click.IntRange(1, 100_000), metavar="N", help="So many pieces in the drawer.")
@click.option("--money", metavar="X", help="So much to spend now, in whole packs, beside what is on hand.")
@click.option(
    "--jobs",
    type=click.IntRange(1, 200),
    default=10,
    show_default=True,
    metavar="N",
    help="How many jobs come between two deliveries.",
)
@click.option(
    "--spread",
    metavar="RANGE",
    help='Where there are no readings yet: what gaps may read, "0.2 to 0.6 mm", each length as likely.',
)
@click.option("--min", "least", metavar="LENGTH", help="Smallest clearance where a row of READINGS states none.")
@click.option("--max", "most", metavar="LENGTH", help="Largest clearance where a row of READINGS states none.")
@click.option("--target", metavar="LENGTH", help="Where in the window it is wanted, if not the middle.")
@click.option(
    "--most-pieces", type=click.IntRange(1, 12), default=3, show_default=True, metavar="N", help="In one stack."
)
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), metavar="FILE.svg", help="Write the curve of jobs served."
)
@json_option("Print the kit as JSON instead of the screen.")
@unit_option("Unit of the screen; mm if not given.")
@gathered(_Assortment)
def assortment_command(call: _Assortment) -> int:
    """Choose sizes and counts that serve the most jobs without an order.

    READINGS is a gaps.csv, each row a job of its own; FOLDER holds jobs, taken as
    they were first read, and once more where the last record left a gap outside.
    Gaps left outside then count too: what was used shows only what the drawer had.
    Seasons of --jobs jobs are drawn from these; the kit is tried on seasons that
    it was not chosen for, each job fitted with the fewest pieces that are left.

    \b
    Examples:
      shimopt assortment gaps.csv --parts parts.csv --pieces 30
      shimopt assortment demo_data --parts demo_data/quarry-tram/catalogue.csv --money 40
      shimopt assortment --spread "0.2 to 0.6 mm" --min 0.1mm --max 0.2mm --parts parts.csv --pieces 16
    """
    from shimopt.cli.stopping import throwing

    if (call.pieces is None) == (call.money is None):
        raise click.UsageError("name the budget: --pieces N or --money X")
    if bool(call.readings) == (call.spread is not None):
        raise click.UsageError("name READINGS or a FOLDER of jobs, or else what gaps may read with --spread")
    with throwing():
        return _answered(call)


def _answered(call: _Assortment) -> int:
    from shimopt.cli.parts_commands import paths_of
    from shimopt.cli.terminal import print_lines, print_text, sign_of_life
    from shimopt.learning.assortment import assortment_of
    from shimopt.learning.kit_bought import kit_lines, one_currency
    from shimopt.learning.kit_budget import Budget
    from shimopt.learning.other_sizes import finer_and_wider
    from shimopt.parts.drawer_and_catalogues import load_stock
    from shimopt.render.json.kit_json import kit_object
    from shimopt.render.json.results_json import json_text
    from shimopt.render.pictures.kit_curve import kit_curve
    from shimopt.render.screens.kit_screen import kit_lines_shown
    from shimopt.tables.replacing import refuse_ending, refuse_input, replace_file
    from shimopt.watch import PLAN_STEPS, Watch
    from shimopt.words.kit_words import KitAnswer

    if call.output is not None:
        refuse_ending(call.output, (".svg",))
        refuse_input(call.output, map(str, (*call.readings, call.parts, *([call.drawer] if call.drawer else []))))
    parts = load_stock(call.drawer, list(paths_of((call.parts,), "--parts").values())).lines
    currency = one_currency(parts)
    read = _jobs_read(call)
    needs = read.needs(parts)
    budget = Budget.of(parts, [line.on_hand for line in parts], call.pieces, _money(call.money))
    with sign_of_life("assortment") as progress:
        found = assortment_of(needs, budget, call.jobs, Watch(steps=PLAN_STEPS), progress or (lambda _: None))
        finer, wider = finer_and_wider(found, parts, read.needs)
    answer = KitAnswer(
        found, kit_lines(found, parts), finer, wider, currency, read.postage, parts, read.spread is not None
    )
    if call.output is not None:
        replace_file(call.output, kit_curve(answer).encode())
    if call.as_json:
        print_text(json_text(kit_object(answer)))
    else:
        print_lines(lambda width, _: kit_lines_shown(answer, call.unit or "mm", width))
    return 0


def _jobs_read(call: _Assortment) -> JobsRead:
    """Where the jobs stand. Raises InputError."""
    from shimopt.batch.job_folder import job_files
    from shimopt.learning.jobs_read import JobsRead, range_of

    files = list[tuple[str, Path]]()
    for path in call.readings:
        if path.is_dir():
            files += [(str(file.parent.relative_to(path.parent)), file) for file in job_files(path)]
        elif path.name.endswith(".toml"):
            files.append((path.parent.name or path.name, path))
    tables = tuple(path for path in call.readings if not path.is_dir() and not path.name.endswith(".toml"))
    terms: dict[str, Any] = {"unit": call.unit or "mm", "stacks": {"most_pieces": call.most_pieces}}
    window = {"min": call.least, "max": call.most, "target": call.target}
    if call.least is not None or call.most is not None:
        stated = {key: value for key, value in window.items() if value is not None}
        terms["window"] = {"min": "none", "max": "none", **stated, "source": "the command line"}
    elif call.spread is not None:
        raise click.UsageError("say what is allowed: --min and --max")
    return JobsRead(tables, tuple(files), None if call.spread is None else range_of(call.spread, "--spread"), terms)


def _money(text: str | None) -> Decimal | None:
    from shimopt.errors import InputError, RefusedError
    from shimopt.parts.part import money_of

    if text is None:
        return None
    try:
        return money_of(Decimal(text))
    except (InvalidOperation, RefusedError):
        raise InputError.at(
            "", "this is no amount of money", "write it like 40 or 6.50", where="--money", value=text
        ) from None
