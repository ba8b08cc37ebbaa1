"""`shimopt new`: start a job by answering questions, or from an example."""

from __future__ import annotations

import errno
import sys
from pathlib import Path

import click

from shimopt.errors import InputError, Problem

__all__ = ["new_command"]

_FILES = ("job.toml", "drawer.csv")
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
def new_command(folder: Path, yes: bool) -> int:
    """Write a new job into FOLDER and plan it.

    Asks for the unit, the window and its source, every gap and its blades, and
    what is in the drawer. Never overwrites a file.

    \b
    Examples:
      shimopt new winch
      shimopt new winch --yes
    """
    from shimopt.cli.plan_commands import print_plan
    from shimopt.cli.planning import run_plan
    from shimopt.cli.terminal import say
    from shimopt.job import load_job

    _refuse_existing(folder, _DRAWER if yes else None)
    if yes:
        job_text, drawer_text = _JOB, _DRAWER
    else:
        if not sys.stdin.isatty():
            raise click.UsageError("questions need a terminal; use --yes for an example")
        from shimopt.cli.new_questions import ask

        job_text, drawer_text = ask()
    folder = _written(folder, job_text, drawer_text, typed=not yes)
    say(f"Written: {folder / 'job.toml'} and {folder / 'drawer.csv'}. Plan it again with: shimopt plan {folder}")
    say()
    plan = run_plan(load_job(folder), buy=False)
    print_plan(plan, None)
    return 0 if plan.outcome.doable else 1


def _refuse_existing(folder: Path, drawer_text: str | None) -> None:
    """Raise InputError where the folder is a file or already holds a job.

    A drawer alone that holds what is to be written, if that is known, is what was left by a run that was cut off.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError.at(folder, "there is a file of this name", "name another folder")
    job, drawer = (folder / name for name in _FILES)
    cut_off = drawer_text is not None and not job.exists() and _holds(drawer, drawer_text)
    there = [path for path in (job, drawer) if path.exists() or path.is_symlink()]
    if there and not cut_off:
        rule, remedy = "the file is there already, and nothing is overwritten", "name another folder"
        raise InputError([Problem(str(path), "", "", rule, remedy) for path in there])


def _written(folder: Path, job_text: str, drawer_text: str, *, typed: bool) -> Path:
    """Write the job, and say where; what somebody typed goes elsewhere if others wrote there meanwhile."""
    from shimopt.cli.terminal import asked, say

    while True:
        try:
            _write_new(folder, job_text, drawer_text)
            return folder
        except FileExistsError:
            rule, remedy = (
                "somebody else has written there meanwhile, and nothing is overwritten",
                "name another folder",
            )
            if not typed:
                raise InputError.at(folder, rule, remedy) from None
            say(f"  {folder}: {rule}.")
            folder = Path(str(asked("Folder that what you typed goes to")))


def _write_new(folder: Path, job_text: str, drawer_text: str) -> None:
    """Write both files, or neither; into a folder that is there already the job comes last.

    Raises InputError, and FileExistsError where something is in the way.
    """
    from shimopt.tables.replacing import new_file, new_folder

    contents = {name: text.encode() for name, text in zip(_FILES, (job_text, drawer_text), strict=True)}
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        if not folder.exists():
            new_folder(folder, contents)
            return
        job, drawer = (folder / name for name in _FILES)
        left = _holds(drawer, drawer_text)
        if not left:
            new_file(drawer, contents[drawer.name])
        try:
            new_file(job, contents[job.name])
        except OSError:
            if not left:
                drawer.unlink(missing_ok=True)
            raise
    except OSError as error:
        if error.errno in (errno.EEXIST, errno.ENOTEMPTY) and folder.exists():
            raise FileExistsError from None
        raise InputError.at(
            folder, f"the job cannot be written ({error.strerror})", "check the folder, its rights and the disk"
        ) from None


def _holds(path: Path, text: str) -> bool:
    try:
        return path.is_file() and path.read_bytes() == text.encode()
    except OSError:
        return False
