"""`shimopt plan` and `shimopt why`: the stacks of a job, and what decided about each gap."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shimopt.cli.shared_options import (
    Call,
    buy_option,
    drawer_option,
    gathered,
    job_argument,
    json_option,
    limit_options,
    quiet_option,
    unit_option,
)
from shimopt.watch import PLAN_STEPS, Watch

if TYPE_CHECKING:
    from shimopt.job import Job
    from shimopt.planner import Decision

__all__ = ["plan_command", "print_plan", "run_plan", "why_command"]


@dataclass(frozen=True, kw_only=True)
class _Plan(Call):
    output: str | None
    from_start: bool
    choices: bool
    time_limit: float | None
    steps: int

    @property
    def file(self) -> Path | None:
        """The file to write, if any."""
        return None if self.output in (None, "-") else Path(str(self.output))


@click.command("plan", short_help="Which pieces go where, proven, with reasons.")
@job_argument()
@json_option("Print the plan as JSON instead of the screen.")
@click.option("-o", "--output", metavar="FILE", help="Write the plan as JSON to FILE; - is standard output.")
@unit_option()
@drawer_option("Use this drawer, not the job's.")
@buy_option("Use what the catalogues offer too, and say what to buy.")
@click.option("--from-start", is_flag=True, help="Pass over what was recorded after fitting.")
@click.option("--choices", is_flag=True, help="Weigh the plan against fewer pieces and up to two more.")
@limit_options(PLAN_STEPS)
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
    from shimopt.cli.results import refuse_input
    from shimopt.cli.stopping import only_voice, seconds_left, watched
    from shimopt.cli.terminal import sign_of_life
    from shimopt.job import load_job
    from shimopt.planner import best_so_far, decide

    loaded: Job | None = None

    def best() -> int:
        found = None if loaded is None else best_so_far(loaded, watch, buy=call.buy)
        if found is not None:
            click.echo("shimopt: stopped before the reasons were worked out; the best plan so far:", err=True)
        return _given(call, found)

    with sign_of_life() as progress:
        watch = Watch(seconds_left(call.time_limit), call.steps, progress)
        with watched(watch, best, lambda: loaded is not None):
            loaded = load_job(call.job, drawer=call.drawer, from_start=call.from_start)
            if call.file is not None:
                refuse_input(call.file, loaded.inputs)
            found = decide(loaded, buy=call.buy, watch=watch, choices=call.choices)
        only_voice()
    return _given(call, found)


def _given(call: _Plan, plan: Decision | None) -> int:
    """Write and print a plan as it was asked for; the exit code. Of a plan that was interrupted no file is written."""
    from shimopt.cli.results import write_text
    from shimopt.cli.stopping import INTERRUPTED, interrupted
    from shimopt.cli.terminal import print_text
    from shimopt.errors import InputError, Problem

    def as_json(plan: Decision) -> str:
        from shimopt.render.json.plan_json import plan_object
        from shimopt.render.json.results_json import json_text

        return json_text(plan_object(plan))

    if plan is None:
        if interrupted():
            return INTERRUPTED
        raise InputError([Problem("", "--time-limit", "", "the time was over before the job was read", "give it more")])
    if call.file is not None and not interrupted():
        write_text(call.file, as_json(plan))
    if call.output == "-" or (call.as_json and not call.quiet):
        print_text(as_json(plan))
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


def run_plan(job: Job, buy: bool) -> Decision:
    """A plan that a command needs whole, with a sign of life when it takes over a second."""
    from shimopt.cli.stopping import interrupted, watched
    from shimopt.cli.terminal import sign_of_life
    from shimopt.planner import decide

    with sign_of_life() as progress:
        watch = Watch(steps=PLAN_STEPS, progress=progress)
        with watched(watch):
            found = decide(job, buy=buy, watch=watch)
    if interrupted():
        raise KeyboardInterrupt
    return found


def print_plan(plan: Decision, unit: str | None) -> None:
    """Print the screen."""
    from shimopt.cli.terminal import print_lines
    from shimopt.render.screens.plan_screen import screen_lines

    print_lines(lambda width, marks: screen_lines(plan, unit or plan.job.unit, width, marks))
