"""`shimopt plan` and `shimopt why`: the stacks of a job, and what decided about each gap."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shimopt.cli import shared_options as options
from shimopt.cli.planning import Planned, planned, refuse_undecided, to_choose
from shimopt.cli.shared_options import gathered
from shimopt.cli.stopping import INTERRUPTED, interrupted
from shimopt.cli.tab_completion import gaps
from shimopt.errors import InputError, Problem, did_you_mean, shown
from shimopt.watch import PLAN_STEPS

if TYPE_CHECKING:
    from shimopt.job import Job
    from shimopt.ordering.reading_worth import ReadingWorth
    from shimopt.planner import Decision
    from shimopt.render.screens.layout import Line, Marks

# columns of a screen that is written to a file
_WIDTH = 80
# endings that a plan is not written as, and the command that writes such a file
_OTHERS = {
    ".pdf": "sheet JOB -o {} (or letter)",
    ".html": "sheet JOB -o {} (or letter)",
    ".svg": "draw JOB -o {}",
    ".csv": "order JOB -o {}",
    ".xlsx": "order JOB -o {}",
}


@dataclass(frozen=True, kw_only=True)
class _Plan(Planned):
    output: str | None
    full: bool

    @property
    def file(self) -> Path | None:
        """The file to write, if any."""
        return None if self.output in (None, "-") else Path(str(self.output))


@click.command("plan", short_help="Which pieces go where, proven, with reasons.")
@options.job_argument()
@options.json_option("Print the plan as JSON instead of the screen.")
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    help="Write to FILE by its ending: .txt the screen, else JSON; - is standard output.",
)
@click.option("--full", is_flag=True, help="Print all: reasons, readings, proof, every finding.")
@options.unit_option()
@options.drawer_option("Use this drawer, not the job's.")
@options.buy_option("Use what the catalogues offer too, and say what to buy.")
@click.option("--from-start", is_flag=True, help="Pass over what was recorded after fitting.")
@click.option("--choices", is_flag=True, help="Weigh the plan against fewer pieces and up to two more.")
@options.limit_options(PLAN_STEPS)
@options.quiet_option()
@gathered(_Plan)
def plan_command(call: _Plan) -> int:
    """Choose the stacks of JOB, a job.toml or the folder that holds one.

    The exit code is 0 where every gap comes inside and every balance within (the
    first lines say what has to be settled before), 1 where something does not, 2
    where the input is wrong. The screen is as wide as the terminal, from 40 to
    120 columns; piped or written it has 80.

    \b
    Examples:
      shimopt plan demo_data/swing-bridge
      shimopt plan demo_data/swing-bridge --full
      shimopt plan demo_data/swing-bridge --unit mm
      shimopt plan demo_data/quarry-tram --buy
      shimopt plan demo_data/quarry-tram --choices
      shimopt plan demo_data/swing-bridge --json
      shimopt plan demo_data/swing-bridge -o plan.json --quiet
    """
    from shimopt.tables.replacing import refuse_input

    def check(job: Job) -> None:
        if call.file is not None:
            refuse_input(call.file, job.inputs)
            if (command := _OTHERS.get(call.file.suffix.lower())) is not None:
                remedy = f"use .json or .txt, or: shimopt {command.format(shown(call.file.name))}"
                raise InputError.at(call.file, "no plan is written as such a file", remedy)

    return planned(call, check, lambda plan: _given(call, plan))


def _given(call: _Plan, plan: Decision) -> int:
    """Write and print a plan as it was asked for; the exit code. Of a plan that was interrupted no file is written."""
    from shimopt.cli.terminal import print_lines, print_text
    from shimopt.render.screens.layout import UNICODE, bold
    from shimopt.tables.replacing import replace_file

    waiting = to_choose(plan.job)

    def lines_of(width: int, marks: Marks) -> list[Line]:
        # which pieces to fit is not said by a reading that may not be the one
        first = [line for problem in waiting for line in bold(str(problem), width)]
        return first or _screen(full=call.full)(plan, call.unit or plan.job.unit, width, marks)

    if call.file is not None and not interrupted():
        if call.file.suffix.lower() == ".txt":
            text = "".join(f"{line}\n" for line, _ in lines_of(_WIDTH, UNICODE))
        else:
            text = _as_json(plan, waiting)
        replace_file(call.file, text.encode())
    if call.output == "-" or (call.as_json and not call.quiet):
        print_text(_as_json(plan, waiting))
    elif not call.quiet:
        print_lines(lines_of)
    return 0 if plan.doable and not waiting else 1


def _as_json(plan: Decision, waiting: Sequence[Problem]) -> str:
    from shimopt.render.json.plan_json import plan_object
    from shimopt.render.json.results_json import json_text

    told = {"to_choose": [problem.to_dict() for problem in waiting]} if waiting else {}
    return json_text(plan_object(plan) | told)


@dataclass(frozen=True, kw_only=True)
class _Why(Planned):
    gives_best = False
    gap: str | None
    full: bool
    strip_down: float | None
    blades: str | None


@click.command("why", short_help="Why this stack, why not another, with the numbers.")
@options.job_argument()
@click.argument("gap", required=False, shell_complete=gaps)
@options.json_option("Print the accounts as JSON.")
@click.option("--full", is_flag=True, help="All of it: every gap, or all that there is about GAP.")
@click.option(
    "--strip-down",
    type=click.FloatRange(0, 1_000_000),
    metavar="MONEY",
    help="What stripping it down again costs: GAP with what one more reading saves.",
)
@click.option("--blades", metavar="LENGTH", help="How far apart your finer blades are, for that reading.")
@options.unit_option()
@options.drawer_option()
@options.buy_option("Explain the plan that may buy.")
@options.limit_options(PLAN_STEPS)
@gathered(_Why)
def why_command(call: _Why) -> int:
    """Explain the plan of JOB: the gaps that matter, or one GAP with its numbers.

    What was read, what is allowed and who says so, which thickness that leaves,
    what the drawer could make of it, why this stack and not the next thinner or
    thicker one, and which reading or part would change the answer. Of a GAP that
    is not surely inside also what one more reading of it would settle and save.

    \b
    Examples:
      shimopt why demo_data/swing-bridge
      shimopt why demo_data/swing-bridge "upper 1"
      shimopt why demo_data/quarry-tram "rear right" --unit thou
      shimopt why demo_data/quarry-tram "rear right" --strip-down 120
    """
    from shimopt.cli.terminal import print_lines, print_text
    from shimopt.render.screens.why_screen import gap_why_lines, short_why_lines, why_lines

    def check(job: Job) -> None:
        if call.gap is not None and call.gap not in job.gap:
            remedy = did_you_mean(call.gap, job.gap, f"it has {', '.join(list(job.gap)[:8])}")
            raise InputError.at("", "the job has no gap of this name", remedy, where="shimopt why", value=call.gap)
        refuse_undecided(job)

    def give(plan: Decision) -> int:
        if interrupted():
            return INTERRUPTED
        gaps = list(plan.job.gap) if call.gap is None else [call.gap]
        if call.as_json:
            from shimopt.render.json.gap_json import why_object
            from shimopt.render.json.results_json import json_text

            print_text(json_text(why_object(plan, gaps, worths(plan))))
        elif call.gap is None and not call.full and len(gaps) > 1:
            print_lines(lambda width, _marks: short_why_lines(plan, call.unit_for(plan.job), width))
        else:
            worth, unit = worths(plan), call.unit_for(plan.job)
            if len(gaps) == 1 and not call.full:
                print_lines(lambda width, _marks: gap_why_lines(plan, gaps[0], unit, width, worth))
            else:
                print_lines(lambda width, _marks: why_lines(plan, gaps, unit, width, worth))
        return 0 if plan.doable else 1

    def worths(plan: Decision) -> list[ReadingWorth]:
        if call.gap is None or call.strip_down is None or plan.outcome.gaps[call.gap].verdict == "inside":
            return []
        from shimopt.ordering.reading_worth import worth_of

        return worth_of(plan, call.gap, Fraction(str(call.strip_down)), blades)

    blades = None if call.blades is None else _step(call.blades)
    return planned(call, check, give)


def _step(text: str) -> int:
    """How far apart blades are [nm]. Raises InputError."""
    from shimopt.errors import RefusedError
    from shimopt.lengths import length_of

    try:
        if (step := length_of(text, None)) > 0:
            return step
        rule, remedy = "blades are some way apart", 'write it like "0.01 mm"'
    except RefusedError as error:
        rule, remedy = error.rule, error.remedy
    raise InputError.at("", rule, remedy, where="--blades", value=text)


def print_plan(plan: Decision, unit: str | None, *, full: bool = False) -> None:
    """Print the screen, the short one or all of it."""
    from shimopt.cli.terminal import print_lines

    print_lines(lambda width, marks: _screen(full=full)(plan, unit or plan.job.unit, width, marks))


def _screen(*, full: bool) -> Callable[[Decision, str, int, Marks], list[Line]]:
    if full:
        from shimopt.render.screens.plan_screen import screen_lines

        return screen_lines
    from shimopt.render.screens.short_screen import short_lines

    return short_lines
