"""`shimopt hold`: what a plan takes from the shop's stock, promised to the job until it is fitted or a day is over."""

from __future__ import annotations

from collections import Counter
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
    until = _day(call.until)
    if call.free:
        return _freed(call)
    for _ in range(_MOST_TRIES):
        job = call.load()
        drawer = _stock_of(job).lasting()
        if (code := _held(call, job, drawer, until)) is not None:
            return code
    if call.as_json:
        _object(job, {"doable": True, "held": [], "until": None})
    _tell(call, ["Others are faster: three times a piece went while it was planned. Nothing is held; try again."])
    return 1


def _held(call: _Hold, job: Job, drawer: StockDrawer, until: str | None) -> int | None:
    """Plan and hold once; the exit code, None where a piece went meanwhile."""
    from shimopt.arithmetic.changes import DRAWER
    from shimopt.cli.planning import run_plan
    from shimopt.stock.holding import PiecesGoneError, hold, last_day
    from shimopt.words.first_words import open_gaps
    from shimopt.words.headline import headline
    from shimopt.words.speaker import Speaker
    from shimopt.words.stock_words import gone_words, held_before, held_words, not_in_stock_words, now_held_words

    until = last_day(drawer, until)
    plan = run_plan(job, False)
    if not plan.outcome.doable:
        if call.as_json:
            _object(job, {"doable": False, "held": [], "until": None})
        held_for = [held_words(one, job.title) for one in plan.remedies.held]
        _tell(call, [f"Nothing is held. {headline(plan, Speaker.of(job))}", *held_for])
        return 1
    lines = [plan.job.stock[piece.line] for piece in plan.changes.going_in(DRAWER)]
    pieces = Counter(line.row for line in lines if line.row is not None)
    if strange := [line.part for line in lines if line.row is None]:
        _tell(call, [not_in_stock_words(strange)])
        return 1
    given = drawer.asking.given(call.request or "", who=call.person or "")
    try:
        changed = hold(drawer, pieces, until, given)
    except PiecesGoneError as gone:
        _tell(call, [*(gone_words(lacking, drawer.held()) for lacking in gone.lacking), "Planned again."])
        return None
    held = [(line.part, pieces[line.row]) for line in job.stock if line.row is not None and pieces[line.row]]
    if call.as_json:
        told = [_piece(part.name, part.piece, count) for part, count in held]
        again = sorted(open_gaps(plan))
        _object(job, {"doable": True, "held": told, "until": until if held else None, "read_again_first": again})
    else:
        print_sentences([now_held_words(held, job.title, until, drawer.name, changed=changed)])
        print_sentences([headline(plan, Speaker.of(job)), *held_before(open_gaps(plan), bool(held))])
    return 0


def _tell(call: _Hold, lines: list[str]) -> None:
    """Say it: beside JSON on standard error."""
    if not call.as_json:
        print_sentences(lines)
        return
    for line in lines:
        say(line, err=True)


def _freed(call: _Hold) -> int:
    from shimopt.stock.holding import free
    from shimopt.words.stock_words import freed_words

    job = call.load()
    drawer = _stock_of(job)
    lots = {lot.id: lot.part for lot in drawer.lots()}
    entries = free(drawer, drawer.asking.given(call.request or "", who=call.person or ""))
    let_go = Counter({entry.lot: -entry.held for entry in entries if entry.lot is not None})
    if call.as_json:
        freed = [_piece(lots[lot].name, lots[lot].piece, count) for lot, count in let_go.items()]
        _object(job, {"freed": freed})
    else:
        print_sentences([freed_words([(lots[lot], count) for lot, count in let_go.items()], job.title)])
    return 0


def _stock_of(job: Job) -> StockDrawer:
    """The stock's drawer that a job names. Raises InputError where it names a file, or none."""
    from shimopt.stock.stock_drawer import StockDrawer

    if isinstance(job.drawer_of, StockDrawer):
        return job.drawer_of
    rule = "nothing can be held here: the job's drawer is a list, and lists promise no piece to anybody"
    remedy = 'write drawer = "stock:main" into the job; how a list becomes a stock: shimopt help stock'
    raise InputError.at(job.inputs[0], rule, remedy, where="drawer")


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
