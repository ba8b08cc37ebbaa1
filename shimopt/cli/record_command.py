"""`shimopt record`."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from shimopt.cli.dates import date_option

if TYPE_CHECKING:
    from shimopt.door import Plan
    from shimopt.lengths import Bracket
    from shimopt.recording import Recorded

__all__ = ["record_command"]


@click.command("record", short_help="After fitting: readings into the job, counts into the drawer.")
@click.argument("job", type=click.Path(path_type=Path))
@click.option(
    "--after",
    multiple=True,
    metavar="GAP=READING",
    help='What a gap reads after fitting: "east upper=9 thou", "...=9 to 10 thou" (9 goes, 10 does not) or '
    '"...=0.23 mm ± 0.01 mm". Once for each gap; asked for on a terminal if not given.',
)
@click.option("--person", metavar="NAME", help="Who read it; asked for on a terminal if not given.")
@click.option("--instrument", metavar="TEXT", help="With what; asked for on a terminal if not given.")
@date_option("When it was read")
@click.option("--buy", is_flag=True, help="The plan that was fitted is the one that may buy.")
@click.option(
    "--update-drawer",
    is_flag=True,
    help="Take the fitted pieces out of the drawer's counts, and put those that came out back.",
)
@click.option(
    "--settle",
    type=click.Choice(["apply", "done"]),
    help="Where somebody else changed the drawer "
    "while this was cut off: are the counts still to be changed (apply), or is that done?",
)
@click.option("--unit", type=click.Choice(["mm", "in", "thou"]), help="Unit of the screen; the job's own if not given.")
@click.option("--json", "as_json", is_flag=True, help="Print the record as JSON.")
def record_command(
    job: Path,
    after: tuple[str, ...],
    person: str | None,
    instrument: str | None,
    moment: tuple[str, datetime],
    buy: bool,
    update_drawer: bool,
    settle: Any,
    unit: str | None,
    as_json: bool,
) -> int:
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
    from shimopt.cli.plan_command import run_plan
    from shimopt.errors import shown
    from shimopt.job import load_job
    from shimopt.recording import readings_after, record_job, settle_drawer
    from shimopt.render.json_view import json_text
    from shimopt.render.record_view import record_object
    from shimopt.words.record_words import recorded_lines

    loaded = load_job(job)
    last = loaded.records[-1] if loaded.records else None
    recorded: Recorded | None = None
    if last is not None and (last.drawer == "pending" or (update_drawer and not after)):
        recorded = settle_drawer(loaded, settle)
        if after and recorded is not None:
            loaded = load_job(job)
    if after or recorded is None:
        plan = run_plan(loaded, buy, None)
        found = readings_after(after, loaded) if after else _asked(plan)
        if not found:
            raise click.UsageError("no reading was given; use --after GAP=READING")
        who, what = _answer(person, "person", "Read by"), _answer(instrument, "instrument", "With which instrument")
        fresh = record_job(plan, found, date=moment[0], person=who, instrument=what, update_drawer=update_drawer)
        # the same command run again after it was cut off: the drawer was settled, and there is nothing new
        recorded = recorded if fresh.again and recorded is not None else fresh
    assert loaded.sources is not None
    if as_json:
        from shimopt.cli.printing import print_text

        print_text(json_text(record_object(recorded, loaded)))
    else:
        lines = recorded_lines(
            recorded, dict(loaded.gap), loaded.sources.job, loaded.sources.drawer, unit or loaded.unit
        )
        for line in lines:
            click.echo(shown(line, 2000))
    return 0 if all(row.verdict == "inside" for row in recorded.compared) else 1


def _asked(plan: Plan) -> dict[str, Bracket]:
    """Readings typed on a terminal, gap by gap; an empty answer passes one over."""
    from shimopt.errors import shown
    from shimopt.lengths import LengthError
    from shimopt.recording.readings import reading_after
    from shimopt.words.names import clearance_text

    if not sys.stdin.isatty():
        raise click.UsageError('give the readings after fitting: --after "GAP=READING", once for each gap')
    found = {}
    for gap in plan.job.gaps:
        expected = plan.outcome.gaps[gap.name].after
        said = clearance_text(expected.low, expected.high, plan.job.unit)
        while gap.name not in found:
            text = click.prompt(
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
    text: str = click.prompt(question)
    return text.strip()
