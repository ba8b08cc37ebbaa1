"""`shimopt new`: start a job by answering questions, or from an example."""

from __future__ import annotations

import sys
from pathlib import Path

import click

__all__ = ["new_command"]


@click.command("new", short_help="Start a job: questions on a terminal, or an example.")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--yes", is_flag=True, help="Ask nothing; write a commented example that works.")
def new_command(folder: Path, yes: bool) -> int:
    """Write a new job into FOLDER and plan it.

    Asks for the unit, the window and its source, every gap and its blades, and
    what is in the drawer. Never overwrites a file.

    \b
    Examples:
      shimopt new winch
      shimopt new winch --yes
    """
    from shimopt.cli.new_files import refuse_existing, write_new
    from shimopt.cli.plan_command import print_plan, run_plan
    from shimopt.job import load_job

    refuse_existing(folder)
    if yes:
        from shimopt.cli.new_example import DRAWER, JOB

        job_text, drawer_text = JOB, DRAWER
    else:
        if not sys.stdin.isatty():
            raise click.UsageError("questions need a terminal; use --yes for an example")
        from shimopt.cli.new_questions import ask

        job_text, drawer_text = ask()
    write_new(folder, job_text, drawer_text)
    click.echo(f"Written: {folder / 'job.toml'} and {folder / 'drawer.csv'}. Plan it again with: shimopt plan {folder}")
    click.echo()
    plan = run_plan(load_job(folder), False)
    print_plan(plan, None)
    return 0 if plan.outcome.doable else 1
