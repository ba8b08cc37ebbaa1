"""`shimopt hold`: what a plan takes from the shop's stock, promised to the job until it is fitted or a day is over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

import click

from shimopt.cli.shared_options import Call, gathered, job_argument, json_option, unit_option
from shimopt.cli.stock_shared import print_sentences
from shimopt.cli.terminal import print_text, say
from shimopt.errors import InputError

if TYPE_CHECKING:
    from shimopt.job import Job
    from shimopt.stock.stock_drawer import StockDrawer

_MOST_TRIES = 3


@dataclass(frozen=True, kw_only=True)
class _Hold(Call):
    until: str | None
    free: bool
    person: str | None
    request: str | None


@click.command("hold", short_help="Promise a plan's pieces to its job in the shop's stock.")
@job_argument()
@click.option("--until", metavar="DATE", help="The last day of the hold, like 2026-05-03; in 14 days if not given.")
@click.option("--free", is_flag=True, help="Let go all that is held for the job.")
@click.option("--person", metavar="NAME", help="Who holds it; SHIMOPT_PERSON or the account's name if not given.")
@click.option("--request", metavar="ID", help="For other programs: the same id twice holds once.")
@unit_option("Unit of the answer; the job's own if not given.")
@json_option("Print what is held as JSON.")
@gathered(_Hold)
def hold_command(call: _Hold) -> int:
    """Hold the pieces that the plan of JOB takes from the stock.

    They are promised to the job until they are fitted (`shimopt record`) or the
    last day is over; no other job plans with them. What was held for the job and
    is not in the plan any more is let go. If a piece went meanwhile, the job is
    planned again, at most three times. The exit code is 0 where every gap comes
    inside and every piece is held, else 1, and nothing is held.

    \b
    Examples:
      shimopt hold my-job
      shimopt hold my-job --until 2026-12-24
      shimopt hold my-job --free
    """
    from shimopt.door.holds import stock_of

    until = _day(call.until)
    if call.free:
        return _freed(call)
    for _ in range(_MOST_TRIES):
        job = call.load()
        drawer = stock_of(job).lasting()
        if (code := _held(call, job, drawer, until)) is not None:
            return code
    if call.as_json:
        _object(job, {"doable": True, "held": [], "until": None})
    _tell(call, ["Others are faster: three times a piece went while it was planned. Nothing is held; try again."])
    return 1


def _held(call: _Hold, job: Job, drawer: StockDrawer, until: str | None) -> int | None:
    """Plan and hold once; the exit code, None where a piece went meanwhile."""
    from shimopt.cli.planning import refuse_undecided, run_plan
    from shimopt.door.holds import hold_plan
    from shimopt.stock.holding import last_day
    from shimopt.words.first_words import open_gaps
    from shimopt.words.headline import headline
    from shimopt.words.speaker import Speaker
    from shimopt.words.stock_words import gone_words, held_before, held_words, not_in_stock_words, now_held_words

    refuse_undecided(job)
    until = last_day(drawer, until)
    plan = run_plan(job, False)
    found = hold_plan(plan, drawer, until, person=call.person or "", request=call.request or "")
    if not found.doable:
        if call.as_json:
            _object(job, {"doable": False, "held": [], "until": None})
        held_for = [held_words(one, job.title) for one in plan.remedies.held]
        _tell(call, [f"Nothing is held. {headline(plan, Speaker.of(job))}", *held_for])
        return 1
    if found.strange:
        _tell(call, [not_in_stock_words(found.strange)])
        return 1
    if found.gone:
        _tell(call, [*(gone_words(lacking, drawer.held()) for lacking in found.lacking), "Planned again."])
        return None
    if call.as_json:
        told = [_piece(part.name, part.piece, count) for part, count in found.held]
        again = sorted(open_gaps(plan))
        until = until if found.held else None
        _object(job, {"doable": True, "held": told, "until": until, "read_again_first": again})
    else:
        print_sentences([now_held_words(found.held, job.title, until, drawer.name, changed=found.changed)])
        print_sentences([headline(plan, Speaker.of(job)), *held_before(open_gaps(plan), bool(found.held))])
    return 0


def _tell(call: _Hold, lines: list[str]) -> None:
    """Say it: beside JSON on standard error."""
    if not call.as_json:
        print_sentences(lines)
        return
    for line in lines:
        say(line, err=True)


def _freed(call: _Hold) -> int:
    from shimopt.door.holds import let_go, stock_of
    from shimopt.words.stock_words import freed_words

    job = call.load()
    freed = let_go(stock_of(job), person=call.person or "", request=call.request or "")
    if call.as_json:
        _object(job, {"freed": [_piece(part.name, part.piece, count) for part, count in freed]})
    else:
        print_sentences([freed_words(freed, job.title)])
    return 0


def _day(text: str | None) -> str | None:
    """A day. Raises InputError."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        rule, remedy = "this is no day", "write it like 2026-05-03"
        raise InputError.at("", rule, remedy, where="--until", value=text) from None


def _piece(part: str, piece: str | None, count: int) -> dict[str, Any]:
    return {"part": part, "piece": piece, "pieces": count}


def _object(job: Job, found: dict[str, Any]) -> None:
    from shimopt.render.json.results_json import json_text

    print_text(json_text({"format": 1, "title": job.title, **found}))
