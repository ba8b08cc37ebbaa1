"""`shimopt why`."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["why_command"]


@click.command("why", short_help="Why this stack, why not another, with the numbers.")
@click.argument("job", type=click.Path(path_type=Path))
@click.argument("gap", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print the accounts as JSON.")
@click.option("--unit", type=click.Choice(["mm", "in", "thou"]), help="Unit of the screen; the job's own if not given.")
@click.option(
    "--drawer", type=click.Path(path_type=Path), metavar="FILE", help="Use this drawer in place of the job's."
)
@click.option("--buy", is_flag=True, help="Explain the plan that may buy.")
def why_command(job: Path, gap: str | None, as_json: bool, unit: str | None, drawer: Path | None, buy: bool) -> int:
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
    from shimopt.cli.plan_command import run_plan
    from shimopt.cli.printing import print_lines
    from shimopt.errors import InputError, Problem, nearest_name
    from shimopt.job import load_job
    from shimopt.render.json_view import json_text
    from shimopt.render.why_view import why_lines, why_object

    loaded = load_job(job, drawer=drawer)
    if gap is not None and gap not in loaded.gap:
        meant = nearest_name(gap, loaded.gap)
        remedy = f"did you mean {meant}?" if meant else f"it has {', '.join(list(loaded.gap)[:8])}"
        raise InputError([Problem("", "shimopt why", gap, "the job has no gap of this name", remedy)])
    gaps = list(loaded.gap) if gap is None else [gap]
    plan = run_plan(loaded, buy, None)
    if as_json:
        from shimopt.cli.printing import print_text

        print_text(json_text(why_object(plan, gaps)))
    else:
        print_lines(lambda width, _marks: why_lines(plan, gaps, unit or loaded.unit, width))
    return 0 if plan.outcome.doable else 1
