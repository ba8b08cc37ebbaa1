"""`shimopt record`: what was read after fitting goes into the job, counts into the drawer."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import click

from shimopt.cli.shared_options import (
    Call,
    Moment,
    buy_option,
    date_option,
    gathered,
    job_argument,
    json_option,
    unit_option,
)
from shimopt.cli.tab_completion import gaps_of, places_of
from shimopt.cli.terminal import asked, chosen, say

if TYPE_CHECKING:
    from shimopt.job import Job
    from shimopt.lengths import Bracket
    from shimopt.planner import Decision
    from shimopt.recording import Fitted, Recorded

_NO_READINGS = 'give the readings after fitting: --after "GAP=READING", once for each gap'


@dataclass(frozen=True, kw_only=True)
class _Record(Call):
    after: tuple[str, ...]
    running_torque: tuple[str, ...]
    machined: tuple[str, ...]
    fitted: tuple[str, ...]
    person: str | None
    instrument: str | None
    moment: Moment
    update_drawer: bool
    drawer_as_csv: bool
    # what `settle_drawer` takes: "apply", "done" or None
    settle: Any


class _NothingReadError(Exception):
    """Every question for a reading was passed over."""


@click.command("record", short_help="After fitting: readings into the job, counts into the drawer.")
@job_argument()
@click.option(
    "--after",
    multiple=True,
    metavar="GAP=READING",
    shell_complete=gaps_of,
    help='What a gap reads after fitting: "east upper=9 thou", "...=9 to 10 thou" (9 goes, 10 does not) or '
    '"...=0.23 mm ± 0.01 mm", "...=preload 2 to 3 thou"; ", checked" at its end where it is asked about. Once for each '
    "gap; asked for on a terminal if not given.",
)
@click.option(
    "--running-torque",
    multiple=True,
    metavar="GAP=TORQUE",
    shell_complete=gaps_of,
    help='What it takes to turn it after fitting, and after a comma how it was taken: "pinion=1.2 N·m, without oil" '
    'or "...=8 to 11 lbf in, as the maker states". Once for each gap; kept in the record, and told in the letter.',
)
@click.option(
    "--machined",
    multiple=True,
    metavar="GAP=TEXT",
    shell_complete=gaps_of,
    help='What was done to a gap without a shim: "drive end=shoulder faced 0.25 mm". It is read again with --after; '
    "record and letter say that it was put right so. Once for each gap.",
)
@click.option(
    "--fitted",
    multiple=True,
    metavar="PLACE=PIECES",
    shell_complete=places_of,
    help='All that is in a place now, where that is not as planned: "right hub=H5", "...=H5 + 2 x S-02", '
    '"...=H5 measured 0.148 mm" or "...=nothing". Once for each such place; or "as planned". Asked for on a '
    "terminal if not given.",
)
@click.option(
    "--person",
    metavar="NAME",
    envvar="SHIMOPT_PERSON",
    help="Who read it; SHIMOPT_PERSON if not given, else asked for on a terminal.",
)
@click.option("--instrument", metavar="TEXT", help="With what; asked for on a terminal if not given.")
@date_option("When it was read")
@buy_option("The plan that was fitted is the one that may buy.")
@click.option(
    "--update-drawer",
    is_flag=True,
    help="Take the fitted pieces out of the drawer's counts, and put those that came out back.",
)
@click.option(
    "--drawer-as-csv",
    is_flag=True,
    help="Write a drawer that is a workbook as a CSV beside it, with its counts as they are after this record; "
    "the job uses that from then on.",
)
@click.option(
    "--settle",
    type=click.Choice(["apply", "done"]),
    help="Where somebody else changed the drawer "
    "while this was cut off: are the counts still to be changed (apply), or is that done?",
)
@unit_option()
@json_option("Print the record as JSON.")
@gathered(_Record)
def record_command(call: _Record) -> int:
    """Record what JOB reads after its plan was fitted, and compare it with the plan.

    The readings go into the job file, with date, person and instrument; comments
    and order stay, and a copy of the old file is kept. A later plan starts from
    there. What was fitted instead of what was planned is said with --fitted:
    record, counts and later plans follow it. With --update-drawer the counts of the drawer follow; cut off at any
    point, the same command again finishes it.

    \b
    Examples:
      shimopt record my-job
      shimopt record my-job --after "upper 1=10 thou" --person "M. Hale" --instrument "feeler gauge"
      shimopt record my-job --after "upper 1=9 thou" --fitted "upper 1=R-08"
      shimopt record my-job --update-drawer
    """
    from shimopt.recording import JobChangedError
    from shimopt.words.record_words import asked_again_line

    while True:
        try:
            return _told(call)
        except _NothingReadError:
            say("No gap was read, so nothing is recorded. Read at least one, then do the same again.")
            return 2
        except JobChangedError as error:
            # what was given and not asked for was given for the job as it was
            if call.after or call.running_torque:
                raise
            say(f"shimopt: {asked_again_line(error)}", err=True)


def _told(call: _Record) -> int:
    """Record once, and say what was done; the exit code. Raises JobChangedError, InputError."""
    from shimopt.cli.terminal import print_lines, print_text
    from shimopt.recording import drawer_as_csv, settle_drawer
    from shimopt.render.json.plan_json import record_object
    from shimopt.render.json.results_json import json_text
    from shimopt.render.screens.layout import folded_line
    from shimopt.words.record_words import agrees_line, as_csv_line, recorded_lines, torques_outside

    job = call.load()
    last, recorded = job.records[-1] if job.records else None, None
    follows = call.update_drawer or call.drawer_as_csv
    given = bool(call.after or call.running_torque)
    # what is wrong with what was typed is told before anything is written
    _check(call, job)
    if last is not None and (last.drawer == "pending" or (follows and not given)):
        recorded = settle_drawer(job, call.settle, as_csv=_as_csv(call, job))
    if recorded is None and not given:
        if call.drawer_as_csv and not _writable(job):
            say(as_csv_line(drawer_as_csv(job)))
            return 0
        if last is not None and follows and not sys.stdin.isatty():
            say(agrees_line(last))
            return 0
    elif recorded is not None:
        job = call.load()
    if given or recorded is None:
        fresh = _recorded(call, job)
        if fresh.again and recorded is None and follows:
            # the readings are known, the drawer may not have followed
            recorded = settle_drawer(job, call.settle, as_csv=_as_csv(call, job))
        # the same command run again after it was cut off: the drawer was settled, and there is nothing new
        recorded = recorded if fresh.again and recorded is not None else fresh
    if call.as_json:
        print_text(json_text(record_object(recorded, job)))
    else:
        drawer = recorded.as_csv or job.drawer or (job.drawer_of.name if job.drawer_of else None)
        said = recorded_lines(recorded, job, drawer, call.unit_for(job), said=bool(call.fitted) or sys.stdin.isatty())
        print_lines(lambda width, _: [(part, False) for line in said for part in folded_line(line, width)])
    inside = all(row.verdict == "inside" for row in recorded.compared)
    inside = inside and not torques_outside(recorded.record, job)
    fitted = recorded.fitted
    wrong = fitted is not None and (
        fitted.unsuited or fitted.unlike or fitted.interchanged or recorded.unread_outside(fitted.job)
    )
    return 0 if inside and not wrong else 1


def _check(call: _Record, job: Job) -> None:
    """Raise what is wrong with readings and names, as far as it can be seen before the job is planned."""
    from shimopt.recording import machined_after, readings_after, running_after

    running_after(call.running_torque, job)
    if call.after or call.running_torque:
        machined_after(call.machined, readings_after(call.after, job), job)
        for given, option in ((call.person, "person"), (call.instrument, "instrument")):
            if not (given and given.strip()) and not sys.stdin.isatty():
                raise click.UsageError(f"a record says who read and with what: add --{option}")
    elif (call.fitted or call.machined) and not sys.stdin.isatty():
        raise click.UsageError(_NO_READINGS)


def _writable(job: Job) -> bool:
    return job.drawer_of is None or job.drawer_of.writable


def _as_csv(call: _Record, job: Job) -> bool:
    """Whether a workbook becomes a CSV: as the call says, or on a terminal as somebody answers."""
    from shimopt.words.record_words import offer_csv

    if call.drawer_as_csv or not call.update_drawer or _writable(job) or job.drawer is None:
        return call.drawer_as_csv
    return sys.stdin.isatty() and _yes(offer_csv(job.drawer), "no")


def _recorded(call: _Record, job: Job) -> Recorded:
    """Plan the job as it was planned, and record what was fitted and read. Raises InputError."""
    from shimopt.cli.planning import refuse_undecided, run_plan
    from shimopt.recording import (
        Visit,
        blades_after,
        fitted_otherwise,
        machined_after,
        pulls_after,
        readings_after,
        record_job,
        refuse_slips,
        running_after,
    )

    refuse_undecided(job)
    plan = run_plan(job, call.buy)
    fitted = fitted_otherwise(plan, call.fitted) if call.fitted or not sys.stdin.isatty() else _asked_fitted(plan)
    running = running_after(call.running_torque, job)
    # a preload may be known by its running torque alone
    typed = call.after or (running and not sys.stdin.isatty())
    texts = list(call.after)
    found = readings_after(texts, job) if typed else _asked(plan, fitted, texts)
    if typed:
        refuse_slips(call.after, found, fitted.predicted, plan.job)
        _tell_alone(call, found, job)
    if not found and not running:
        raise _NothingReadError
    visit = Visit(
        call.moment[0],
        _answer(call.person, "person", "Who read it"),
        _answer(call.instrument, "instrument", "With which instrument"),
        running,
        blades_after(texts, found, job),
        machined_after(call.machined, found, job),
        pulls_after(texts, job),
    )
    as_csv = _as_csv(call, job)
    return record_job(plan, found, visit, fitted=fitted, update_drawer=call.update_drawer, as_csv=as_csv)


def _tell_alone(call: _Record, found: Mapping[str, Bracket], job: Job) -> None:
    from shimopt.recording.readings_after import stands_alone
    from shimopt.words.record_words import alone_words
    from shimopt.words.speaker import Speaker

    for text in () if call.as_json else call.after:
        name, _, value = (part.strip() for part in text.rpartition("="))
        if stands_alone(value, found[name]):
            say(alone_words(job.gap[name], found[name], Speaker(call.unit_for(job))))


def _asked_fitted(plan: Decision) -> Fitted:
    """Whether it was fitted as planned, and if not, what is in which place; asked until all of it can be."""
    from shimopt.errors import InputError, shown
    from shimopt.recording import fitted_by_default, fitted_otherwise
    from shimopt.words.record_words import fitted_example, fitted_question

    likely = fitted_by_default(plan)
    if _yes(fitted_question(likely), "yes", "What the gaps read is asked next; this is whether these shims are in."):
        return likely
    texts, like = list[str](), fitted_example(plan.job)
    while place := asked("Which place holds something else (empty: no other)", default=""):
        pieces = asked(
            f'All that is in {shown(place)} now, like {like} or "nothing"',
            wanted='Please write the pieces, or "nothing".',
        )
        text = f"{place}={pieces}"
        try:
            fitted_otherwise(plan, [*texts, text])
            texts.append(text)
        except InputError as error:
            for problem in error.problems:
                say(f"  {shown(problem.rule)} ({shown(problem.value)}). {shown(problem.remedy)}.")
    return fitted_otherwise(plan, texts)


def _yes(question: str, default: str, other: str = "") -> bool:
    return chosen(question, ("yes", "no"), default, other) == "yes"


def _asked(plan: Decision, fitted: Fitted, texts: list[str]) -> dict[str, Bracket]:
    """Readings typed on a terminal, gap by gap; an empty answer passes one over. They are added to `texts`."""
    from shimopt.errors import shown
    from shimopt.lengths import LengthError
    from shimopt.recording import slip_after
    from shimopt.recording.readings_after import FORMS_AFTER, FORMS_OF_DIAL, reading_after, stands_alone
    from shimopt.words.digits import with_digits_of
    from shimopt.words.record_words import alone_words
    from shimopt.words.speaker import Speaker, begun

    if not sys.stdin.isatty():
        raise click.UsageError(_NO_READINGS)
    found, predicted = {}, fitted.predicted
    for gap in plan.job.gaps:
        expected = predicted[gap.name]
        say_so = with_digits_of(Speaker(plan.job.unit), [gap.reading.found], [expected]).about(gap)
        shown_as = say_so.as_after(expected)
        said = say_so.clearance(shown_as.low, shown_as.high)
        while gap.name not in found:
            text = asked(f"{shown(gap.name)}, predicted {said}; reads (empty: not read)", default="")
            if not text.strip():
                break
            try:
                read = reading_after(text, gap, plan.job)
            except LengthError as error:
                by_dial = plan.job.first_read(gap).kind == "indicator"
                say(f"  {begun(error.rule)}. {begun(FORMS_OF_DIAL if by_dial else FORMS_AFTER)}.")
                continue
            if slip := slip_after(text, read, expected, gap, plan.job.unit):
                say(f"  {slip.rule}. If it was read so, type it with: , checked")
                continue
            found[gap.name] = read
            texts.append(f"{gap.name}={text}")
            if stands_alone(text, read):
                say(f"  {alone_words(gap, read, Speaker(plan.job.unit))}")
    return found


def _answer(given: str | None, option: str, question: str) -> str:
    if given is not None and given.strip():
        return given.strip()
    if not sys.stdin.isatty():
        raise click.UsageError(f"a record says who read and with what: add --{option}")
    return asked(question, wanted="Please write it: the record keeps it.").strip()
