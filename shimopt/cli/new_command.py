"""`shimopt new`: start a job by answering questions, or from an example."""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shimopt.cli.shared_options import today
from shimopt.errors import InputError, Problem
from shimopt.starting.new_files import FILES, holds, write_new

if TYPE_CHECKING:
    from shimopt.planner import Decision

# what --yes writes
_JOB = """\
# A job: what was read on the trial assembly, what is allowed, and where shims may go.
title  = "My rebuild"
unit   = "thou"                # mm, um, in or thou; text carries its own: "0.35 mm", "5/64 in"
drawer = "drawer.csv"          # what is on hand

[window]                       # for every gap that has none of its own
min    = 4                     # one of the two may be "none"
max    = 12
source = "who states these figures: manual and page, drawing, letter"

[stacks]
most_pieces = 3                # in one stack

[[seat]]                       # the geometry a shim sits on
name  = "shaft end"
shaft = "0.6248 in ± 0.0002 in"

[[gap]]                        # one per reading
name   = "left arm"
seat   = "shaft end"
feeler = { go = 17, no_go = 18 }     # the thickest blade that goes, the thinnest that does not

[[gap]]
name   = "right arm"
seat   = "shaft end"
feeler = { snug = 10, step = 1 }     # a tight pull: 10 give or take half a step

# gaps that should come out alike, if you wish
[[balance]]
name   = "both arms"
gaps   = ["left arm", "right arm"]
within = 2
"""

_DRAWER = """\
part,thickness_thou,inner_in,on_hand
S-02,2,0.6265,4
S-05,5,0.6265,2
S-10,10,0.6265,1
"""


@click.command("new", short_help="Start a job: questions on a terminal, or an example.")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--yes", is_flag=True, help="Ask nothing; write a commented example that works.")
@click.option(
    "--from",
    "other",
    type=click.Path(path_type=Path),
    metavar="JOB",
    help="Take window, seats and drawer from another job; its drawer's own file is used on, not copied.",
)
def new_command(folder: Path, yes: bool, other: Path | None) -> int:
    """Write a new job into FOLDER and plan it.

    Asks for the unit, the window and who states it, where shims go, every gap
    with its reading and what is in it, and what is in the drawer; shows what it
    understood before it writes. Never overwrites a file.

    \b
    Examples:
      shimopt new winch
      shimopt new winch --yes
      shimopt new second-winch --from winch
    """
    from shimopt.cli.plan_commands import print_plan
    from shimopt.cli.planning import run_plan
    from shimopt.cli.terminal import say
    from shimopt.job import load_job

    if yes and other is not None:
        raise click.UsageError("--yes writes an example of its own; leave out --yes, or --from")
    _refuse_existing(folder, _DRAWER if yes else None, has_drawer=other is None)
    if yes:
        folder, names = _written(folder, lambda _: {"job.toml": _JOB, "drawer.csv": _DRAWER}, typed=False)
    else:
        if not sys.stdin.isatty():
            raise click.UsageError("questions need a terminal; use --yes for an example")
        files_of = _answered(other, folder)
        if files_of is None:
            say("Nothing was written.")
            return 0
        folder, names = _written(folder, files_of, typed=True)
    said = " and ".join(str(folder / name) for name in names)
    say(f"Written: {said}. Plan it again with: shimopt plan {folder}")
    say()
    plan = run_plan(load_job(folder), buy=False)
    print_plan(plan, None)
    if not yes:
        _offer_sheet(plan, folder)
    return 0 if plan.doable else 1


def _answered(other: Path | None, folder: Path) -> Callable[[Path], dict[str, str]] | None:
    """The files that the answers make in a folder, by their names; None where they are not to be written."""
    from shimopt.cli.new_questions import ask
    from shimopt.starting.new_answers import drawer_text, job_text
    from shimopt.starting.new_from import base_of

    answers = ask(None if other is None else base_of(other, folder))
    if answers is None:
        return None

    def files_of(there: Path) -> dict[str, str]:
        drawer = {} if answers.base else {"drawer.csv": drawer_text(answers)}
        return {"job.toml": job_text(answers, there)} | drawer

    return files_of


def _offer_sheet(plan: Decision, folder: Path) -> None:
    from shimopt.cli.paper_commands import paper_bytes
    from shimopt.cli.terminal import chosen, say
    from shimopt.render.papers.sheet import sheet_content
    from shimopt.tables.replacing import replace_file

    say()
    sheet = folder / "sheet.pdf"
    if chosen(f"Make the sheet for the bench too, {sheet}?", ("yes", "no"), "yes") == "no":
        return
    moment = today()
    content = sheet_content(plan, plan.job.unit, moment[0])
    replace_file(sheet, paper_bytes(sheet, content, "a4", moment))
    say(f"Written: {sheet}")


def _refuse_existing(folder: Path, drawer_text: str | None, *, has_drawer: bool) -> None:
    """Raise InputError where the folder is a file or already holds a job, or a drawer where one is to be written.

    A drawer alone that holds what is to be written, if that is known, is what was left by a run that was cut off.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError.at(folder, "there is a file of this name", "name another folder")
    job, drawer = (folder / name for name in FILES)
    cut_off = drawer_text is not None and not job.exists() and holds(drawer, drawer_text)
    there = [path for path in ((job, drawer) if has_drawer else (job,)) if path.exists() or path.is_symlink()]
    if there and not cut_off:
        rule, remedy = "the file is there already, and nothing is overwritten", "name another folder"
        raise InputError([Problem(str(path), "", "", rule, remedy) for path in there])


def _written(folder: Path, files_of: Callable[[Path], dict[str, str]], *, typed: bool) -> tuple[Path, Collection[str]]:
    """Write the job, and say where and which files; what was typed goes elsewhere if others wrote there meanwhile."""
    from shimopt.cli.terminal import asked, say

    while True:
        files = files_of(folder)
        try:
            write_new(folder, files)
            return folder, files
        except FileExistsError:
            rule, remedy = (
                "somebody else has written there meanwhile, and nothing is overwritten",
                "name another folder",
            )
            if not typed:
                raise InputError.at(folder, rule, remedy) from None
            say(f"  {folder}: {rule}.")
            folder = Path(asked("Folder that what you typed goes to", wanted="Please write the name of a folder."))
