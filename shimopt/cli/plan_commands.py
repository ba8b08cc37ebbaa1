"""`shimopt plan` and `shimopt why`: the stacks of a job, and what decided about each gap."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shimopt.cli.shared_options import (
    Call,
    Seconds,
    buy_option,
    drawer_option,
    gathered,
    job_argument,
    json_option,
    quiet_option,
    unit_option,
)

if TYPE_CHECKING:
    from shimopt.door import Plan
    from shimopt.job import Job

__all__ = ["plan_command", "print_plan", "run_plan", "why_command"]

# nominal: about so many search nodes a second on two cores of 2026; a limit in nodes gives the same plan everywhere
_NODES_PER_SECOND = 200
_DEFAULT_LIMIT = 120


@dataclass(frozen=True, kw_only=True)
class _Plan(Call):
    output: str | None
    from_start: bool
    choices: bool
    time_limit: float


@click.command("plan", short_help="Which pieces go where, proven, with reasons.")
@job_argument()
@json_option("Print the plan as JSON instead of the screen.")
@click.option("-o", "--output", metavar="FILE", help="Write the plan as JSON to FILE; - is standard output.")
@unit_option()
@drawer_option("Use this drawer, not the job's.")
@buy_option("Use what the catalogues offer too, and say what to buy.")
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
@quiet_option()
@gathered(_Plan)
def plan_command(call: _Plan) -> int:
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
    from shimopt.cli.results import refuse_input, write_text
    from shimopt.cli.terminal import print_text
    from shimopt.job import load_job
    from shimopt.render.json.results_json import json_text

    job = load_job(call.job, drawer=call.drawer, from_start=call.from_start)
    file = None if call.output in (None, "-") else Path(str(call.output))
    if file is not None:
        refuse_input(file, job.inputs)
    plan = run_plan(job, call.buy, max(1, round(call.time_limit * _NODES_PER_SECOND)), call.choices)
    if file is not None:
        write_text(file, json_text(plan.to_dict()))
    if call.output == "-" or (call.as_json and not call.quiet):
        print_text(json_text(plan.to_dict()))
    elif not call.quiet:
        print_plan(plan, call.unit)
    return 0 if plan.outcome.doable else 1


@dataclass(frozen=True, kw_only=True)
class _Why(Call):
    gap: str | None


@click.command("why", short_help="Why this stack, why not another, with the numbers.")
@job_argument()
@click.argument("gap", required=False)
@json_option("Print the accounts as JSON.")
@unit_option()
@drawer_option()
@buy_option("Explain the plan that may buy.")
@gathered(_Why)
def why_command(call: _Why) -> int:
    """Explain the plan of JOB, gap by gap, or that of one GAP.

    What was read, what is allowed and who says so, which thickness that leaves,
    what the drawer could make of it, why this stack and not the next thinner or
    thicker one, and which reading or part would change the answer.

    \b
    Examples:
      shimopt why demo_data/swing-bridge
      shimopt why demo_data/swing-bridge "upper 1"
      shimopt why demo_data/quarry-tram "rear right" --unit thou
    """
    from shimopt.cli.terminal import print_lines, print_text
    from shimopt.errors import InputError, Problem, nearest_name
    from shimopt.render.json.gap_json import why_object
    from shimopt.render.json.results_json import json_text
    from shimopt.render.screens.why_screen import why_lines

    job = call.load()
    if call.gap is not None and call.gap not in job.gap:
        meant = nearest_name(call.gap, job.gap)
        remedy = f"did you mean {meant}?" if meant else f"it has {', '.join(list(job.gap)[:8])}"
        raise InputError([Problem("", "shimopt why", call.gap, "the job has no gap of this name", remedy)])
    gaps = list(job.gap) if call.gap is None else [call.gap]
    plan = run_plan(job, call.buy)
    if call.as_json:
        print_text(json_text(why_object(plan, gaps)))
    else:
        print_lines(lambda width, _marks: why_lines(plan, gaps, call.unit_for(job), width))
    return 0 if plan.outcome.doable else 1


def run_plan(job: Job, buy: bool, nodes: int | None = None, choices: bool = False) -> Plan:
    """Plan with a sign of life on a terminal when it takes over a second."""
    from shimopt.cli.terminal import sign_of_life
    from shimopt.door import DEFAULT_NODES, plan

    with sign_of_life() as progress:
        return plan(job, buy, nodes=nodes or DEFAULT_NODES, progress=progress, choices=choices)


def print_plan(plan: Plan, unit: str | None) -> None:
    """Print the screen."""
    from shimopt.cli.terminal import print_lines
    from shimopt.render.screens.plan_screen import screen_lines

    print_lines(lambda width, marks: screen_lines(plan, unit or plan.job.unit, width, marks))
