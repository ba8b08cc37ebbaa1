"""What a planning process changes for the page: pieces held, what was fitted recorded, a piece put into a drawer.

Each calls the door that the command of that name calls too; what is done twice under one request is done once.
"""

from __future__ import annotations

import re
import tempfile
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any

from shimopt.arithmetic.changes import DRAWER
from shimopt.bench.piece_slips import piece_slip
from shimopt.bench.recorded_view import recorded_data
from shimopt.bench.shown_plan import planned, refuse_other
from shimopt.door.holds import hold_plan, let_go, stock_of
from shimopt.door.planned import Plan
from shimopt.door.workshop import record as record_plan
from shimopt.errors import InputError, Problem
from shimopt.job import load_job
from shimopt.planner import Decision
from shimopt.seats.incoming import check_pieces
from shimopt.stock.holding import last_day
from shimopt.stock.promises import held_by
from shimopt.stock.stock_drawer import StockDrawer
from shimopt.tables.csv_text import written
from shimopt.watch import Watch
from shimopt.words.bench_page_words import LABELS
from shimopt.words.bench_words import (
    FORMULA,
    NONE_COUNTED,
    THERE_ALREADY,
    TOO_FAST,
    added_words,
    measured_like,
    recorded_words,
)
from shimopt.words.finding_words import finding_words
from shimopt.words.headline import headline
from shimopt.words.speaker import Speaker
from shimopt.words.stock_words import counted, freed_words, gone_words, not_in_stock_words, now_held_words

_MOST_TRIES = 3
# a thickness with its unit, if it has one; letters that make no word; with what a spreadsheet's formulas begin
_WITH_UNIT = re.compile(r"(-?[\d.,\s]*\d[\d.,\s]*?)\s*(mm|um|in|thou)?", re.ASCII)
_LETTERS = "BCDFGHJKLMNPQRSTVWXZ"
_FORMULAS = ("=", "+", "-", "@")


def hold(watch: Watch, path: str, asked: Mapping[str, str]) -> list[str]:
    """Hold what the plan takes from the stock, and say what came of it. Raises InputError."""
    said = list[str]()
    for attempt in range(_MOST_TRIES):
        plan, version, so_far = planned(watch, path)
        if not attempt:
            refuse_other(path, asked["version"], version)
        job, said = plan.job, [*said, *so_far]
        drawer = stock_of(job).lasting()
        until = last_day(drawer, asked["until"] or None)
        found = hold_plan(plan, drawer, until, person=asked["person"], request=asked["request"])
        if found.gone:
            said += [gone_words(one, drawer.held()) for one in found.lacking]
        elif found.strange:
            return [*said, not_in_stock_words(found.strange)]
        elif not found.doable:
            return [*said, f"Nothing is held. {headline(plan, Speaker.of(job))}"]
        else:
            return [*said, now_held_words(found.held, job.title, until, drawer.name, changed=found.changed)]
    return [*said, TOO_FAST]


def free(_: Watch, path: str, asked: Mapping[str, str]) -> list[str]:
    """Let go what is held for a job, and say what that was. Raises InputError."""
    job = load_job(path)
    freed = let_go(stock_of(job), person=asked["person"], request=asked["request"])
    return [freed_words(freed, job.title)]


def held_for(plan: Decision) -> dict[str, Any] | None:
    """What is held for a job, until when, and what its plan takes that is not held; None where its drawer keeps none.

    `can` tells whether there is anything to hold that is not held so already.
    """
    job = plan.job
    if not isinstance(job.drawer_of, StockDrawer):
        return None
    drawer = job.drawer_of
    with drawer.store.reading() as within:
        promises = held_by(within, drawer.number, drawer.asking.job)
    held, parts = Counter[int](), {line.row: line.part for line in job.stock if line.row is not None}
    for one in promises:
        held[one.lot] += one.pieces
    if held.keys() - parts.keys():
        parts |= {lot.id: lot.part for lot in drawer.lots()}
    rows = [job.stock[piece.line].row for piece in plan.changes.going_in(DRAWER)] if plan.outcome.doable else []
    wanted = Counter(row for row in rows if row is not None)
    lacking, over = wanted - held, held - wanted
    return {
        "held": bool(promises),
        "until": min((one.until for one in promises), default=""),
        "by": "",
        "pieces": counted([(parts[lot], count) for lot, count in held.items() if lot in parts]),
        "lacking": counted([(parts[lot], count) for lot, count in lacking.items()]) if promises else "",
        "can": bool(lacking or (over and wanted)),
    }


def record(watch: Watch, path: str, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Record what was fitted and what gaps read now, and say what came of it. Raises InputError."""
    plan, version, so_far = planned(watch, path)
    refuse_other(path, asked["version"], version)
    gaps, places = list(plan.job.gap), list(plan.job.place)
    after, running, machined = (_by_name(asked.get(what, {}), gaps) for what in ("after", "running", "machined"))
    done = record_plan(
        Plan(plan),
        after,
        person=asked["person"],
        instrument=asked["instrument"],
        fitted=_by_name(asked["fitted"], places),
        running_torque=running,
        machined=machined,
        update_drawer=asked["update_drawer"],
    )
    rows = done.recorded.compared
    said = recorded_words(done.recorded.record, sum(row.code == "agrees" for row in rows), len(rows))
    return {"said": [*so_far, said], "result": recorded_data(done) | {"said": so_far}}


def _by_name(asked: Mapping[str, str], names: Sequence[str]) -> dict[str, str]:
    """What was sent by numbers, from 1."""
    return {names[int(n) - 1]: text for n, text in asked.items() if 0 < int(n) <= len(names)}


def _of_field(problem: Problem, asked: Mapping[str, str], unit: str) -> Problem:
    """What is wrong with a table of one piece, said of the field of the page: who typed it has seen no table."""
    column = problem.where.rpartition("column ")[2].partition("_")[0]
    where = {"measured": "thickness_measured", "on": "how_many", "part": "part_name"}.get(column, "")
    told = replace(problem, file="", where=LABELS.get(where, ""))
    return replace(told, value=asked["thickness"], remedy=measured_like(unit)) if column == "measured" else told


def _as_typed(asked: Mapping[str, str], unit: str) -> tuple[str, str]:
    """A piece's thickness and its unit, this one where none was typed. Raises InputError, also for other fields."""
    bad = [key for key in ("part", "at") if asked[key].startswith(_FORMULAS)]
    found = [Problem("", LABELS["part_name" if key == "part" else "at"], asked[key], *FORMULA) for key in bad]
    thickness = _WITH_UNIT.fullmatch(asked["thickness"])
    if thickness is None:
        rule = "this is not a number"
        found.append(Problem("", LABELS["thickness_measured"], asked["thickness"], rule, measured_like(unit)))
    if thickness is None or bad:
        raise InputError(found)
    return thickness[1].strip(), thickness[2] or unit


def add_piece(_: Watch, path: str, asked: Mapping[str, str]) -> list[str]:
    """Put a measured piece into a job's drawer, where it must not be kept from every seat. Raises InputError.

    What is put into a drawer as a `whole` is for any job: no seat of this one is asked.
    """
    job, whole = load_job(path), bool(asked["whole"])
    seats = () if whole else tuple(job.seats)
    if job.drawer_of is None or not job.drawer_of.writable:
        raise InputError.at(path, "this drawer cannot be written", "change its table by hand", where="drawer")
    number, unit = _as_typed(asked, job.unit)
    # what tells it from others of its name, short enough to be written on steel: another form, another mark
    mark = "".join(_LETTERS[byte % len(_LETTERS)] for byte in sha256(asked["request"].encode()).digest()[:4])
    head = f"piece,part,measured_{unit},on_hand,at\n"
    row = ",".join([mark, *(written(text, ",") for text in (asked["part"], number, asked["on_hand"], asked["at"]))])
    with tempfile.TemporaryDirectory() as folder:
        table = Path(folder) / "piece.csv"
        table.write_text(f"{head}{row}\n", encoding="utf-8")
        try:
            (checked,) = check_pieces(job, table, seats, ()) or (None,)
        except InputError as error:
            # who typed it has seen no table
            raise InputError(_of_field(one, asked, job.unit) for one in error.problems) from error
    if checked is None:
        raise InputError.at("", *NONE_COUNTED, where=LABELS["how_many"])
    if not asked["checked"] and (slip := piece_slip(job, checked.piece.part.thickness.best, (number, unit))):
        raise InputError.at("", *slip)
    if seats and checked.best_verdict == "stop":
        say = Speaker.of(job)
        found = [one for answer in checked.seats.values() for one in answer.findings if one.grade == "stop"]
        return [f"{finding_words(one, say)}" for one in found]
    drawer = job.drawer_of
    accepted = (drawer.of_no_job() if whole and isinstance(drawer, StockDrawer) else drawer).accept([checked.piece])
    return [added_words(mark, asked["on_hand"]) if accepted.written else THERE_ALREADY]
