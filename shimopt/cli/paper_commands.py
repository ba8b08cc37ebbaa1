"""`shimopt letter`, `shimopt sheet` and `shimopt draw`: papers and pictures of a plan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from shimopt.cli import shared_options as options
from shimopt.cli.planning import Planned, planned, refuse_undecided
from shimopt.cli.shared_options import Moment, Option, gathered
from shimopt.cli.stopping import INTERRUPTED, interrupted
from shimopt.cli.terminal import columns, say
from shimopt.errors import InputError, Problem
from shimopt.tables.replacing import refuse_ending, refuse_input
from shimopt.watch import PLAN_STEPS

# a column of a terminal in browsers' own size of type: 0.6 of 16 px
_CELL = 9.6

if TYPE_CHECKING:
    from shimopt.job import Job
    from shimopt.planner import Decision


@dataclass(frozen=True, kw_only=True)
class _Drawing(Planned):
    gives_best = False
    output: Path


@dataclass(frozen=True, kw_only=True)
class _Pictures(_Drawing):
    width: int | None


@dataclass(frozen=True, kw_only=True)
class _Paper(_Drawing):
    paper: str
    moment: Moment
    card: bool = False


def _output_option(words: str) -> Option:
    return click.option(
        "-o",
        "--output",
        type=click.Path(path_type=Path),
        required=True,
        metavar="FILE",
        help=f"Where to write: {words}.",
    )


def _plan_options(command: Any) -> Any:
    """Options about the plan that papers and pictures share."""
    for option in (
        options.limit_options(PLAN_STEPS),
        options.buy_option("Use what the catalogues offer too."),
        options.drawer_option(),
        options.unit_option("Unit that comes first; else the job's."),
    ):
        command = option(command)
    return command


def _paper_options(command: Any) -> Any:
    for option in (
        options.date_option("Date on the paper", " With it, the same job gives the same bytes."),
        options.paper_option(),
        _output_option("a name that ends in .pdf or .html"),
    ):
        command = option(command)
    return _plan_options(command)


@click.command("letter", short_help="The customer's letter: what was done, left, and why.")
@options.job_argument()
@_paper_options
@gathered(_Paper)
def letter_command(call: _Paper) -> int:
    """Write the letter for the customer of JOB: one page in words without jargon.

    The result, a chart of all gaps from what was found to what comes of it, a
    table of what was found, allowed and done, what has to be told of single gaps,
    what to watch, cautions, and room for a signature. After `shimopt record` it
    says what was calculated and what was measured.

    \b
    Examples:
      shimopt letter demo_data/swing-bridge -o letter.pdf
      shimopt letter demo_data/swing-bridge -o letter.html
      shimopt letter demo_data/quarry-tram -o letter.pdf --paper letter --date 2026-05-03
    """
    from shimopt.render.papers.letter import letter_content

    return _write(call, letter_content)


@click.command("sheet", short_help="The bench sheet: prepare, read, fit, tick off.")
@options.job_argument()
@_paper_options
@click.option("--card", is_flag=True, help="Add the bench card of `shimopt order` as the last page.")
@gathered(_Paper)
def sheet_command(call: _Paper) -> int:
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
    from shimopt.render.papers.sheet import sheet_content

    cardless: list[Problem] = []

    def content_of(plan: Decision, unit: str, written: str) -> dict[str, Any]:
        order = None
        if call.card:
            from shimopt.ordering.order import make_order

            try:
                order = make_order([plan.job])
            except InputError as refused:
                # what an order lacks, postage say, is no reason to go to the bench without a sheet
                cardless.extend(refused.problems)
        return sheet_content(plan, unit, written, order)

    code = _write(call, content_of)
    for problem in cardless:
        say(f"shimopt: the sheet is written without its card. {problem}", err=True)
    return 1 if cardless and code == 0 else code


@click.command("draw", short_help="Pictures of all gaps, before and after, as SVG.")
@options.job_argument()
@_output_option("a name that ends in .svg")
@click.option(
    "--width",
    type=click.IntRange(1),
    metavar="PX",
    help="As many columns as fit so many pixels, or else this terminal.",
)
@_plan_options
@gathered(_Pictures)
def draw_command(call: _Pictures) -> int:
    """Draw every gap of JOB: its window as a band, the clearance before and after.

    \b
    Examples:
      shimopt draw demo_data/swing-bridge -o gaps.svg
      shimopt draw demo_data/swing-bridge -o gaps.svg --unit mm
    """
    from shimopt.render.pictures.gap_picture import job_picture

    across = call.width or int(columns() * _CELL)
    return _made(call, (".svg",), lambda plan: job_picture(plan, call.unit_for(plan.job), across).encode())


def _write(call: _Paper, content_of: Callable[[Decision, str, str], dict[str, Any]]) -> int:
    def paper(plan: Decision) -> bytes:
        content = content_of(plan, call.unit_for(plan.job), call.moment[0])
        return paper_bytes(call.output, content, call.paper, call.moment)

    return _made(call, (".pdf", ".html"), paper)


def paper_bytes(output: Path, content: dict[str, Any], paper: str, moment: Moment) -> bytes:
    """A paper's content as a PDF or a page for a browser, by the ending; says which signs no font here has."""
    from shimopt.render.papers.typeset import typeset
    from shimopt.words.sheet_words import missing_signs_words

    result = typeset(content, output, "letter" if paper == "letter" else "a4", moment[1])
    if result.missing:
        say(
            f"shimopt: {missing_signs_words(result.missing)}. A font for that script (such as Noto's), "
            "installed on this computer, mends it; so does an .html file.",
            err=True,
        )
    return result.file


def _made(call: _Drawing, endings: tuple[str, ...], made_of: Callable[[Decision], bytes]) -> int:
    """Plan the job and write what is made of its plan, unless it was interrupted; the exit code."""
    from shimopt.tables.replacing import replace_file

    def give(plan: Decision) -> int:
        if interrupted():
            return INTERRUPTED
        replace_file(call.output, made_of(plan))
        say(f"Written: {call.output}", err=True)
        return 0 if plan.doable else 1

    def check(job: Job) -> None:
        refuse_input(call.output, job.inputs)
        refuse_undecided(job)

    refuse_ending(call.output, endings)
    return planned(call, check, give)
