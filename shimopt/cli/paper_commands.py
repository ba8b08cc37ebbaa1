"""`shimopt letter`, `shimopt sheet` and `shimopt draw`: papers and pictures of a plan."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from shimopt.cli.dates import date_option

if TYPE_CHECKING:
    from shimopt.door import Plan

__all__ = ["draw_command", "letter_command", "sheet_command", "write_content"]

Command = Callable[..., Any]


def _plan_options(command: Command) -> Command:
    """Options that all papers share."""
    for option in (
        click.option("--buy", is_flag=True, help="Use what the catalogues offer too."),
        click.option(
            "--drawer", type=click.Path(path_type=Path), metavar="FILE", help="Use this drawer in place of the job's."
        ),
        click.option("--unit", type=click.Choice(["mm", "in", "thou"]), help="Unit that comes first; else the job's."),
    ):
        command = option(command)
    return command


def _paper_options(command: Command) -> Command:
    for option in (
        date_option("Date on the paper", " With it, the same job gives the same bytes."),
        click.option(
            "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Size of the paper."
        ),
        click.option(
            "-o",
            "--output",
            type=click.Path(path_type=Path),
            required=True,
            metavar="FILE",
            help="Where to write: a name that ends in .pdf or .html.",
        ),
    ):
        command = option(command)
    return _plan_options(command)


@click.command("letter", short_help="The customer's letter: what was done, left, and why.")
@click.argument("job", type=click.Path(path_type=Path))
@_paper_options
def letter_command(
    job: Path, unit: str | None, drawer: Path | None, buy: bool, output: Path, paper: str, moment: tuple[str, datetime]
) -> int:
    """Write the letter for the customer of JOB: one page in words without jargon.

    What was measured and allowed, what is done or left as it is and why, with a
    picture of every gap, what to watch, cautions, and room for a signature.

    \b
    Examples:
      shimopt letter demo_data/swing-bridge -o letter.pdf
      shimopt letter demo_data/swing-bridge -o letter.html
      shimopt letter demo_data/quarry-tram -o letter.pdf --paper letter --date 2026-05-03
    """
    from shimopt.render.letter import letter_content

    return _write_paper(job, unit, drawer, buy, output, paper, moment, letter_content)


@click.command("sheet", short_help="The bench sheet: prepare, read, fit, tick off.")
@click.argument("job", type=click.Path(path_type=Path))
@_paper_options
@click.option("--card", is_flag=True, help="Add the bench card of `shimopt order` as the last page.")
def sheet_command(
    job: Path,
    unit: str | None,
    drawer: Path | None,
    buy: bool,
    output: Path,
    paper: str,
    moment: tuple[str, datetime],
    card: bool,
) -> int:
    """Write the sheet for the bench of JOB: large print, tick boxes, room to write.

    Preparation, tightening, a table for the readings with the windows, the pieces
    to fit in order from the fixed face and where each lies, and what to check
    afterwards. It can be followed without the program.

    \b
    Examples:
      shimopt sheet demo_data/swing-bridge -o sheet.pdf
      shimopt sheet demo_data/quarry-tram -o sheet.html --date 2026-05-03
      shimopt sheet demo_data/quarry-tram -o sheet.pdf --card
    """
    from shimopt.render.sheet import sheet_content

    def content_of(plan: Plan, unit: str, written: str) -> dict[str, Any]:
        from shimopt.ordering.order import make_order

        return sheet_content(plan, unit, written, make_order([plan.job]) if card else None)

    return _write_paper(job, unit, drawer, buy, output, paper, moment, content_of)


@click.command("draw", short_help="Pictures of all gaps, before and after, as SVG.")
@click.argument("job", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    required=True,
    metavar="FILE",
    help="Where to write: a name that ends in .svg.",
)
@_plan_options
def draw_command(job: Path, unit: str | None, drawer: Path | None, buy: bool, output: Path) -> int:
    """Draw every gap of JOB: its window as a band, the clearance before and after.

    \b
    Examples:
      shimopt draw demo_data/swing-bridge -o gaps.svg
      shimopt draw demo_data/swing-bridge -o gaps.svg --unit mm
    """
    from shimopt.cli.writing import write_text
    from shimopt.render.drawing import job_picture

    _refuse_ending(output, (".svg",))
    plan = _planned(job, drawer, buy, output)
    write_text(output, job_picture(plan, unit or plan.job.unit))
    return 0 if plan.outcome.doable else 1


def _planned(job: Path, drawer: Path | None, buy: bool, output: Path) -> Plan:
    from shimopt.cli.plan_command import run_plan
    from shimopt.cli.writing import refuse_input
    from shimopt.job import load_job

    loaded = load_job(job, drawer=drawer)
    refuse_input(output, loaded.inputs)
    return run_plan(loaded, buy, None)


def _write_paper(
    job: Path,
    unit: str | None,
    drawer: Path | None,
    buy: bool,
    output: Path,
    paper: str,
    moment: tuple[str, datetime],
    content_of: Callable[[Plan, str, str], dict[str, Any]],
) -> int:
    _refuse_ending(output, (".pdf", ".html"))
    plan = _planned(job, drawer, buy, output)
    written, at = moment
    write_content(output, content_of(plan, unit or plan.job.unit, written), paper, at)
    return 0 if plan.outcome.doable else 1


def write_content(output: Path, content: dict[str, Any], paper: str, moment: datetime) -> None:
    """Write a paper's content as a PDF or a page for a browser, by the ending. Raises InputError."""
    from shimopt.cli.writing import write_text
    from shimopt.tables.replacing import replace_file

    if output.suffix.lower() == ".html":
        from shimopt.render.html import page_of

        write_text(output, page_of(content))
        return
    from shimopt.render.paper import pdf_of

    result = pdf_of(content, "letter" if paper == "letter" else "a4", moment)
    replace_file(output, result.pdf)
    if result.missing:
        signs = ", ".join(f"U+{ord(ch):04X}" for ch in result.missing[:8])
        more = f" and {len(result.missing) - 8} more" if len(result.missing) > 8 else ""
        click.echo(
            f"shimopt: no font here has {signs}{more}: written by number. A font for that script, "
            "installed on this computer, mends it; so does an .html file.",
            err=True,
        )


def _refuse_ending(output: Path, known: tuple[str, ...]) -> None:
    from shimopt.errors import InputError, Problem

    if output.suffix.lower() not in known:
        raise InputError(
            [
                Problem(
                    str(output),
                    "",
                    output.suffix,
                    f"the name ends in {' or '.join(known)}",
                    f"name it {output.stem or 'out'}{known[0]}",
                )
            ]
        )
