"""`shimopt record`: what was read after fitting goes into the job, counts into the drawer."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from shimopt.cli.shared_options import (
    Call,
    Moment,
    buy_option,
    date_option,
    gathered,
    job_argument,
    json_option,
    unit_option,
)
from shimopt.cli.terminal import asked

if TYPE_CHECKING:
    from shimopt.job import Job
    from shimopt.lengths import Bracket
    from shimopt.planner import Decision
    from shimopt.recording import Recorded

__all__ = ["record_command"]


@dataclass(frozen=True, kw_only=True)
class _Record(Call):
    after: tuple[str, ...]
    person: str | None
    instrument: str | None
    moment: Moment
    update_drawer: bool
    drawer_as_csv: bool
    # what `settle_drawer` takes: "apply", "done" or None
    settle: Any


@click.command("record", short_help="After fitting: readings into the job, counts into the drawer.")
@job_argument()
@click.option(
    "--after",
    multiple=True,
    metavar="GAP=READING",
    help='What a gap reads after fitting: "east upper=9 thou", "...=9 to 10 thou" (9 goes, 10 does not) or '
    '"...=0.23 mm ± 0.01 mm", "...=preload 2 to 3 thou". Once for each gap; asked for on a terminal if not given.',
)
@click.option("--person", metavar="NAME", help="Who read it; asked for on a terminal if not given.")
@click.option("--instrument", metavar="TEXT", help="With what; asked for on a terminal if not given.")
@date_option("When it was read")
@buy_option("The plan that was fitted is the one that may buy.")
@click.option(
    "--update-drawer",
    is_flag=True,
    help="Take the fitted pieces out of the drawer's counts, and put those that came out back.",
)
@click.option(
    "--drawer-as-csv",
    is_flag=True,
    help="First write a drawer that is a workbook as a CSV beside it; the job uses that from then on.",
)
@click.option(
    "--settle",
    type=click.Choice(["apply", "done"]),
    help="Where somebody else changed the drawer "
    "while this was cut off: are the counts still to be changed (apply), or is that done?",
)
@unit_option()
@json_option("Print the record as JSON.")
@gathered(_Record)
def record_command(call: _Record) -> int:
    """Record what JOB reads after its plan was fitted, and compare it with the plan.

    The readings go into the job file, with date, person and instrument; comments
    and order stay, and a copy of the old file is kept. A later plan starts from
    there. With --update-drawer the counts of the drawer follow; cut off at any
    point, the same command again finishes it.

    \b
    Examples:
      shimopt record my-job
      shimopt record my-job --after "upper 1=10 thou" --person "M. Hale" --instrument "feeler gauge"
      shimopt record my-job --update-drawer
    """
    from shimopt.errors import shown
    from shimopt.recording import JobChangedError
    from shimopt.words.record_words import asked_again_line

    while True:
        try:
            return _told(call)
        except JobChangedError as error:
            # what was given and not asked for was given for the job as it was
            if call.after:
                raise
            click.echo(f"shimopt: {shown(asked_again_line(error), 2000)}", err=True)


def _told(call: _Record) -> int:
    """Record once, and say what was done; the exit code. Raises JobChangedError, InputError."""
    from shimopt.cli.terminal import print_text
    from shimopt.errors import shown
    from shimopt.recording import drawer_as_csv, readings_after, settle_drawer
    from shimopt.render.json.plan_json import record_object
    from shimopt.render.json.results_json import json_text
    from shimopt.words.record_words import agrees_line, as_csv_line, recorded_lines

    job = call.load()
    if call.drawer_as_csv:
        # what is wrong with the readings is told before anything is written
        readings_after(call.after, job)
        written = drawer_as_csv(job)
        if not call.after and not call.update_drawer:
            click.echo(shown(as_csv_line(written), 2000))
            return 0
        job = call.load()
    last = job.records[-1] if job.records else None
    recorded: Recorded | None = None
    if last is not None and (last.drawer == "pending" or (call.update_drawer and not call.after)):
        recorded = settle_drawer(job, call.settle)
        if call.after and recorded is not None:
            job = call.load()
        elif recorded is None and not call.after and not sys.stdin.isatty():
            click.echo(shown(agrees_line(last)))
            return 0
    if call.after or recorded is None:
        fresh = _recorded(call, job)
        # the same command run again after it was cut off: the drawer was settled, and there is nothing new
        recorded = recorded if fresh.again and recorded is not None else fresh
    if call.as_json:
        print_text(json_text(record_object(recorded, job)))
    else:
        for line in recorded_lines(recorded, dict(job.gap), Path(job.inputs[0]), job.drawer, call.unit_for(job)):
            click.echo(shown(line, 2000))
    return 0 if all(row.verdict == "inside" for row in recorded.compared) else 1


def _recorded(call: _Record, job: Job) -> Recorded:
    """Plan the job as it was planned, and record what was read. Raises InputError."""
    from shimopt.cli.planning import run_plan
    from shimopt.recording import readings_after, record_job

    plan = run_plan(job, call.buy)
    found = readings_after(call.after, job) if call.after else _asked(plan)
    if not found:
        raise click.UsageError("no reading was given; use --after GAP=READING")
    return record_job(
        plan,
        found,
        date=call.moment[0],
        person=_answer(call.person, "person", "Read by"),
        instrument=_answer(call.instrument, "instrument", "With which instrument"),
        update_drawer=call.update_drawer,
    )


def _asked(plan: Decision) -> dict[str, Bracket]:
    """Readings typed on a terminal, gap by gap; an empty answer passes one over."""
    from shimopt.errors import shown
    from shimopt.lengths import LengthError
    from shimopt.recording.readings import reading_after
    from shimopt.words.speaker import Speaker

    if not sys.stdin.isatty():
        raise click.UsageError('give the readings after fitting: --after "GAP=READING", once for each gap')
    found = {}
    for gap in plan.job.gaps:
        expected = plan.outcome.gaps[gap.name].after
        said = Speaker(plan.job.unit).about(gap).clearance(expected.low, expected.high)
        while gap.name not in found:
            text = asked(
                f"{shown(gap.name)}, predicted {said}; reads (empty: not read)", default="", show_default=False
            )
            if not text.strip():
                break
            try:
                found[gap.name] = reading_after(text, gap, plan.job)
            except LengthError as error:
                click.echo(f"  {error.rule}. {error.remedy}.")
    return found


def _answer(given: str | None, option: str, question: str) -> str:
    if given is not None and given.strip():
        return given.strip()
    if not sys.stdin.isatty():
        raise click.UsageError(f"say it with --{option}")
    return str(asked(question)).strip()
