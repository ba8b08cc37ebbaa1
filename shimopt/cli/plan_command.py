"""`shimopt plan`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from shimopt.cli.seconds import Seconds

if TYPE_CHECKING:
    from shimopt.door import Plan
    from shimopt.job import Job

__all__ = ["plan_command", "print_plan", "run_plan"]

# nominal: about so many search nodes a second on two cores of 2026; a limit in nodes gives the same plan everywhere
_NODES_PER_SECOND = 200
_DEFAULT_LIMIT = 120


@click.command("plan", short_help="Which pieces go where, proven, with reasons.")
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the plan as JSON instead of the screen.")
@click.option("-o", "--output", metavar="FILE", help="Write the plan as JSON to FILE; - is standard output.")
@click.option("--unit", type=click.Choice(["mm", "in", "thou"]), help="Unit of the screen; the job's own if not given.")
@click.option("--drawer", type=click.Path(path_type=Path), metavar="FILE", help="Use this drawer, not the job's.")
@click.option("--buy", is_flag=True, help="Use what the catalogues offer too, and say what to buy.")
@click.option("--from-start", is_flag=True, help="Pass over what was recorded after fitting.")
@click.option("--choices", is_flag=True, help="Weigh the plan against fewer pieces and up to two more.")
@click.option(
    "--time-limit",
    type=Seconds(min=0.01, max=1_000_000),
    default=_DEFAULT_LIMIT,
    show_default=True,
    metavar="SECONDS",
    help="Limit of the search per level, counted in steps: 200 a second.",
)
@click.option("--quiet", is_flag=True, help="Print nothing; the exit code answers.")
def plan_command(
    job: Path,
    as_json: bool,
    output: str | None,
    unit: str | None,
    drawer: Path | None,
    buy: bool,
    from_start: bool,
    choices: bool,
    time_limit: float,
    quiet: bool,
) -> int:
    """Choose the stacks of JOB, a job.toml or the folder that holds one.

    The exit code is 0 where every gap comes inside and every balance within, 1
    where something does not, 2 where the input is wrong.

    \b
    Examples:
      shimopt plan demo_data/swing-bridge
      shimopt plan demo_data/swing-bridge --unit mm
      shimopt plan demo_data/quarry-tram --buy
      shimopt plan demo_data/quarry-tram --choices
      shimopt plan demo_data/swing-bridge --json
      shimopt plan demo_data/swing-bridge -o plan.json --quiet
    """
    from shimopt.cli.printing import print_text
    from shimopt.cli.writing import refuse_input, write_text
    from shimopt.job import load_job
    from shimopt.render.json_view import json_text

    loaded = load_job(job, drawer=drawer, from_start=from_start)
    if output not in (None, "-"):
        refuse_input(Path(str(output)), loaded.inputs)
    plan = run_plan(loaded, buy, max(1, round(time_limit * _NODES_PER_SECOND)), choices)
    if output not in (None, "-"):
        write_text(Path(str(output)), json_text(plan.to_dict()))
    if as_json or output == "-":
        if not quiet or output == "-":
            print_text(json_text(plan.to_dict()))
    elif not quiet:
        print_plan(plan, unit)
    return 0 if plan.outcome.doable else 1


def run_plan(job: Job, buy: bool, nodes: int | None = None, choices: bool = False) -> Plan:
    """Plan with a sign of life on a terminal when it takes over a second."""
    from shimopt.cli.progress import sign_of_life
    from shimopt.door import DEFAULT_NODES, plan

    with sign_of_life() as progress:
        return plan(job, buy, nodes=nodes or DEFAULT_NODES, progress=progress, choices=choices)


def print_plan(plan: Plan, unit: str | None) -> None:
    """Print the screen."""
    from shimopt.cli.printing import print_lines
    from shimopt.render.screen import screen_lines

    print_lines(lambda width, marks: screen_lines(plan, unit or plan.job.unit, width, marks))
