"""The command `shimopt` and how it ends: exit codes, quiet interruptions, no traceback for anybody."""

from __future__ import annotations

import os
import re
import sys
import traceback
from collections.abc import Callable, Sequence
from importlib import import_module
from itertools import pairwise
from pathlib import Path
from typing import Any

import click

from shimopt import __version__
from shimopt.cli.stopping import INTERRUPTED, interrupted, only_voice
from shimopt.cli.terminal import OutputError, print_text, say
from shimopt.machine import BrokenOff, end_at_once, is_folder, reader_has_gone, silence_output

WRONG_INPUT, FAULT = 2, 3
# so many holds that are over are told one by one
_MOST_TOLD = 12


# where each command stands, in the order of the help: what a newcomer needs, then the others
_FIRST = {
    "new": "new_command",
    "plan": "plan_commands",
    "sheet": "paper_commands",
    "record": "record_command",
}
_COMMANDS = _FIRST | {
    "why": "plan_commands",
    "letter": "paper_commands",
    "order": "order_command",
    "fit": "fit_command",
    "parts": "parts_commands",
    "make": "parts_commands",
    "draw": "paper_commands",
    "hold": "hold_command",
    "stock": "stock_commands",
    "batch": "batch_command",
    "assortment": "assortment_command",
    "history": "history_command",
    "bench": "bench_command",
    "help": "help_command",
}


class _Commands(click.Group):
    """Commands that are loaded when they are asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 (as click asks for it)
        """All names."""
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002 (the same)
        """The command of a name, or None."""
        if cmd_name not in _COMMANDS:
            return None
        command: click.Command = getattr(import_module(f"shimopt.cli.{_COMMANDS[cmd_name]}"), f"{cmd_name}_command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The commands under two headings."""
        for heading, names in (
            ("A first job", list(_FIRST)),
            ("More", [n for n in _COMMANDS if n not in _FIRST]),
        ):
            commands = [(name, self.get_command(ctx, name)) for name in names]
            with formatter.section(heading):
                formatter.write_dl([(name, command.get_short_help_str(60)) for name, command in commands if command])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that the first word names; a word that names none is told the one that was probably meant."""
        from shimopt.errors import InputError

        if args and args[0] not in _COMMANDS and not args[0].startswith("-"):
            if ctx.resilient_parsing:
                # a shell asks what may follow: nothing does
                return None, None, []
            raise InputError.at("", "there is no such command", _meant(args[0]), where="shimopt", value=args[0])
        return super().resolve_command(ctx, args)


def _meant(typed: str) -> str:
    """What was probably meant by a word that is no command: a job, which is a folder or a TOML file, wants a plan."""
    import shlex

    from shimopt.errors import nearest_name, shown

    path = Path(typed)
    if is_folder(path) or path.suffix == ".toml":
        no_job = is_folder(path) and not (path / "job.toml").exists()
        jobs = no_job and any(path.glob("*/job.toml"))
        if no_job and not jobs and any(path.iterdir()):
            return "this folder holds no job.toml; what can be done with its files is listed by: shimopt --help"
        wants = ("batch --jobs" if jobs else "new") if no_job else "plan"
        return f"did you mean: shimopt {wants} {shown(shlex.quote(typed))}?"
    meant = nearest_name(typed, _COMMANDS)
    return f"did you mean {meant}? All are listed by: shimopt --help" if meant else "see: shimopt --help"


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80})
@click.version_option(__version__, "--version", prog_name="shimopt")
def cli() -> None:
    """Choose shims and spacers for a rebuild.

    From readings, a window and a drawer of shims to one proven stack for every
    place, and the reason where nothing is fitted.

    \b
    Examples:
      shimopt new my-job                   start a job by answering questions
      shimopt plan my-job                  which pieces go where
      shimopt sheet my-job -o sheet.pdf    the sheet for the bench
      shimopt record my-job                what the gaps read after fitting
    """


def main(arguments: list[str] | None = None) -> None:
    """Run the command and leave with its exit code."""
    asked = sys.argv[1:] if arguments is None else arguments
    if "_SHIMOPT_COMPLETE" in os.environ:
        from shimopt.cli.tab_completion import add_shells

        add_shells()
    _leave(told(lambda: cli.main(asked, prog_name="shimopt", standalone_mode=False), asked))


def told(run: Callable[[], Any], arguments: list[str]) -> int:
    """The exit code of what `run` does; whatever goes wrong in it is told as these arguments ask for."""
    try:
        return _told(run, arguments)
    except OSError as error:
        # help and what is wrong can be cut off as a result can
        if reader_has_gone(error):
            return _pipe_closed()
        raise


def _told(run: Callable[[], Any], arguments: list[str]) -> int:
    from shimopt.errors import InputError, Problem, did_you_mean
    from shimopt.stock.meant import telling_of_clock
    from shimopt.tables.locking import telling_waits
    from shimopt.tables.replacing import noting_files

    code: object = 0
    written: list[Path] = []
    try:
        with telling_waits(_tell_wait), telling_of_clock(_tell_clock, _tell_over), noting_files() as written:
            code = run()
        if sys.stdout is not None:
            sys.stdout.flush()
    except InputError as error:
        code = _tell_problems(error.problems, arguments)
    except click.exceptions.NoArgsIsHelpError as error:
        for line in error.format_message().splitlines():
            say(line)
        code = 0
    except click.ClickException as error:
        where = error.ctx.command_path if isinstance(error, click.UsageError) and error.ctx else "shimopt"
        if where == "shimopt" and arguments and arguments[0] in _COMMANDS:
            where = f"shimopt {arguments[0]}"
        rule, remedy = error.format_message().rstrip("."), f"see: {where} --help"
        if isinstance(error, click.NoSuchOption):
            rule, remedy = _no_such_option(error, remedy)
        elif choice := re.match(r"'(.+)' is not one of (.+)", error.message):
            remedy = did_you_mean(choice[1], re.findall(r"'([^']+)'", choice[2]), remedy)
        elif isinstance(error, click.MissingParameter) and isinstance(error.param, click.Option):
            remedy = f"add {error.param.opts[0]} {error.param.metavar}. {error.param.help} {remedy.capitalize()}"
        code = _tell_problems([Problem("", where, "", rule, remedy)], arguments)
    except (KeyboardInterrupt, click.Abort):
        code = INTERRUPTED
    except BrokenOff:
        only_voice()
    except OutputError as error:
        code = _tell_problems([error.problem], [])
    except Exception as error:
        if isinstance(error, OSError) and reader_has_gone(error):
            raise
        # what Ctrl-C broke off is no fault
        code = INTERRUPTED if interrupted() else _tell_fault(error, written)
    return code if isinstance(code, int) else 0


def _no_such_option(error: click.NoSuchOption, help_line: str) -> tuple[str, str]:
    """Rule and remedy for an option that is none; an old name that goes on working is not offered."""
    from shimopt.errors import nearest_name

    # without the dashes, in which all are alike
    typed = error.option_name.lstrip("-")
    known = [name[2:] for p in (error.ctx.command.params if error.ctx else []) for name in p.opts if name[:2] == "--"]
    meant = next((name for name in known if name.startswith(typed)), None) or nearest_name(typed, known)
    return (
        f"there is no option {error.option_name}",
        f"did you mean --{meant}? {help_line.capitalize()}" if meant else help_line,
    )


def _tell_wait(path: Path) -> None:
    say(f"shimopt: waiting for another program to let go of {path.name} ...", err=True)


def _tell_clock(last: str) -> None:
    when = f"{last[:16].replace('T', ' ')} UTC"
    say(f"shimopt: this clock is behind the stock's last entry ({when}): that moment counts for now", err=True)


def _tell_over(held: Sequence[tuple[str, str, str]]) -> None:
    from shimopt.errors import shown

    for part, title, until in held[:_MOST_TOLD]:
        what = f"{shown(part)} is no longer held for {shown(title)}"
        say(f"shimopt: {what}: by this clock its last day, {until}, is over", err=True)
    if more := held[_MOST_TOLD:]:
        say(f"shimopt: and {len(more)} more: shimopt stock ledger", err=True)


def _leave(code: int) -> None:
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except OSError:
        _pipe_closed()
    if interrupted():
        end_at_once(INTERRUPTED)
    sys.exit(code)


def _pipe_closed() -> int:
    """Whoever read our output has gone: say nothing more, not even when the interpreter flushes at its end."""
    silence_output()
    return 0


def _tell_problems(problems: Any, arguments: list[str]) -> int:
    # a batch writes CSV to standard output: no JSON belongs there unless it is asked for
    writes_json = arguments[:1] != ["batch"] and (
        bool({"-o-", "--output=-"} & set(arguments)) or _asks_for_output(arguments)
    )
    if "--json" in arguments or writes_json:
        from shimopt.render.json.results_json import errors_object, json_text

        print_text(json_text(errors_object(problems)))
    for problem in problems:
        # what is wrong with the call begins with the command's name as it is
        say(str(problem) if problem.where.startswith("shimopt") else f"shimopt: {problem}", err=True)
    return WRONG_INPUT


def _asks_for_output(arguments: list[str]) -> bool:
    return any(pair in (("-o", "-"), ("--output", "-")) for pair in pairwise(arguments))


def _tell_fault(error: Exception, written: list[Path]) -> int:
    from shimopt.errors import shown

    done = f"Written before it: {', '.join(shown(file) for file in written)}." if written else "Nothing was written."
    frames = traceback.extract_tb(error.__traceback__)
    where = f"{Path(frames[-1].filename).name}, line {frames[-1].lineno}" if frames else "unknown place"
    say(
        f"shimopt: a fault of our own ({type(error).__name__}: {str(error)[:300]!r}; {where}). "
        f"{done} Please report this line with the job's files and the version, {__version__}.",
        err=True,
    )
    return FAULT
