"""Options that commands share, each declared once, and the call that a command is handed instead of many arguments."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import update_wrapper
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from shimopt.job import Job

Option = Callable[[Any], Any]
# a date as written on paper, and the moment that it means
Moment = tuple[str, datetime]
_UNITS = ("mm", "um", "in", "thou")


@dataclass(frozen=True, kw_only=True)
class Call:
    """How a command was called: what commands share; each adds what is its own."""

    job: Path = Path()
    drawer: Path | None = None
    unit: str | None = None
    buy: bool = False
    as_json: bool = False
    quiet: bool = False

    def load(self) -> Job:
        """The job that was named, with the drawer that was named. Raises InputError."""
        from shimopt.job import load_job

        return load_job(self.job, drawer=self.drawer)

    def unit_for(self, job: Job) -> str:
        """The unit of the screen: the one asked for, else the job's own."""
        return self.unit or job.unit


class Renamed(click.Option):
    """An option whose `old_name` goes on working, and is told to nobody: neither help nor a complaint shows it."""

    def __init__(self, *names: Any, old_name: str, **how: Any) -> None:
        super().__init__(*names, **how)
        self._old_name = old_name

    def add_to_parser(self, parser: Any, ctx: click.Context) -> None:
        """As `click` does, under the old name too."""
        super().add_to_parser(parser, ctx)
        parser.add_option(obj=self, opts=[self._old_name], dest=self.name, action="store", nargs=self.nargs)


C = TypeVar("C")


def gathered(into: Callable[..., C]) -> Callable[[Callable[[C], int]], Callable[..., int]]:
    """Hand a command everything it was called with as one object. It stands nearest to the function, below options."""

    def wrap(command: Callable[[C], int]) -> Callable[..., int]:
        def run(**arguments: Any) -> int:
            return command(into(**arguments))

        return update_wrapper(run, command)

    return wrap


def job_argument() -> Option:
    """JOB, a job.toml or the folder that holds one."""
    return click.argument("job", type=click.Path(path_type=Path))


def drawer_option(words: str = "Use this drawer in place of the job's.") -> Option:
    """The option --drawer."""
    return click.option("--drawer", type=click.Path(path_type=Path), metavar="FILE", help=words)


def unit_option(words: str = "Unit of the screen; the job's own if not given.") -> Option:
    """The option --unit, where a job says what unit is shown if nobody asks for one."""
    return click.option("--unit", type=click.Choice(_UNITS), help=words)


def unit_or_mm_option() -> Option:
    """The option --unit of commands that know no job: millimetres if nobody asks for another."""
    return click.option(
        "--unit", type=click.Choice(_UNITS), default="mm", show_default=True, help="Unit of the screen."
    )


def buy_option(words: str) -> Option:
    """The option --buy."""
    return click.option("--buy", is_flag=True, help=words)


def json_option(words: str) -> Option:
    """The option --json."""
    return click.option("--json", "as_json", is_flag=True, help=words)


def quiet_option() -> Option:
    """The option --quiet."""
    return click.option("--quiet", is_flag=True, help="Print nothing; the exit code answers.")


def exact_names_option() -> Option:
    """The option --exact-names."""
    return click.option(
        "--exact-names",
        is_flag=True,
        help="For other programs: write names in tables as they are, also those that a spreadsheet runs as a formula.",
    )


def paper_option(words: str = "Size of the paper.") -> Option:
    """The option --paper."""
    return click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help=words)


def date_option(what: str, end: str = "") -> Option:
    """The option --date; its value is a `Moment`."""
    return click.option(
        "--date",
        "moment",
        callback=_moment,
        metavar="DATE",
        help=f"{what}, like 2026-05-03 or 2026-05-03T14:20+02:00; else today.{end}",
    )


def today() -> Moment:
    """The day that it is here."""
    day = datetime.now().astimezone().date()
    return day.isoformat(), datetime(day.year, day.month, day.day, tzinfo=UTC)


def _moment(_context: click.Context, _option: click.Parameter, text: str | None) -> Moment:
    """A day alone is its beginning in UTC."""
    if text is None:
        return today()
    try:
        if "T" not in text.upper():
            day = date.fromisoformat(text)
            return day.isoformat(), datetime(day.year, day.month, day.day, tzinfo=UTC)
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise click.BadParameter("a date is written like 2026-05-03 or 2026-05-03T14:20+02:00") from None
    if moment.tzinfo is None:
        raise click.BadParameter("a time needs its offset from UTC: 2026-05-03T14:20+02:00")
    return moment.isoformat(timespec="minutes"), moment


def limit_options(steps: int) -> Option:
    """The options --time-limit and --steps: the most that a command may take. `steps`, the most if nobody says."""

    def both(command: Any) -> Any:
        command = click.option(
            "--steps",
            type=click.IntRange(min=1),
            default=steps,
            show_default=True,
            metavar="N",
            help="The most search steps; the same N gives the same answer everywhere.",
        )(command)
        return click.option(
            "--time-limit",
            type=Seconds(min=0.01, max=1_000_000),
            metavar="SECONDS",
            help="Seconds for all of it, reading and reasons included; then the best so far.",
        )(command)

    return both


class Seconds(click.FloatRange):
    """Seconds between two bounds, both included; NaN, neither below nor above a bound, does not slip through."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number; raises `click.BadParameter` where it is none or lies outside the bounds."""
        number = float(super().convert(value, param, ctx))
        if math.isnan(number):
            self.fail(f"{value} is no number of seconds", param, ctx)
        return number
