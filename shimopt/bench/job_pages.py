"""The list of jobs, and each job with its answer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from shimopt.bench.blade_set import blades_of
from shimopt.bench.desk import AtHand
from shimopt.bench.shop import Shop, told
from shimopt.bench.undecided import not_planned, not_planned_row, undecided, undecided_row
from shimopt.errors import InputError
from shimopt.words.bench_page_words import LABELS

# a page waits so long for a plan, for its reasons, for anything newer, before it is shown without [s]
_FOR_A_PLAN, _FOR_REASONS, _FOR_NEWS, _FOR_A_ROW = 20.0, 1.0, 20.0, 1.0


# the fields of a reading
_READ_BY = ("go", "no_go", "snug", "value", "readings")
# the further pages that a job has
PAGES = ("gap", "order", "card", "sheet", "letter", "record", "drawer", "customer")


class JobPages:
    """Pages that show, and change nothing."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop

    def routes(self) -> list[Route]:
        """Each page and who answers it."""
        return [
            Route("/", self.index),
            Route("/job/{id}", self.job),
            Route("/job/{id}/answer", self.answer),
        ]

    async def index(self, request: Request) -> Response:
        """All jobs, each with its answer as far as it is known."""
        desk = self.shop.desk
        jobs = list(desk.jobs().values())
        for job in jobs:
            desk.want(job, turn=2)
        # a page that is open already waits for nothing
        for job in jobs[-1:] if request.headers.get("x-bench") != "1" else ():
            await desk.answered(job, within=_FOR_A_ROW)
        return self.shop.page(request, "index", jobs=[_row(self.shop, job) for job in jobs])

    async def job(self, request: Request) -> Response:
        """One job with its readings and its answer; a page that is open already waits for nothing."""
        job, desk = self.shop.asked(request), self.shop.desk
        desk.want(job)
        if request.headers.get("x-bench") != "1" or not job.answer:
            await desk.answered(job, within=_FOR_A_PLAN)
            await desk.answered(job, "reasons", within=_FOR_REASONS)
        found = job_and_errors(self.shop, job, request.scope["me"].id)
        came = self.shop.came_of(request)
        if typed := came.get("typed"):
            # a tick is offered by the words of what is wrong, and by nothing else
            tick = any(LABELS["checked"] in error["text"] for error in came["errors"])
            _type_again(found["job"]["readings"], typed, tick=tick)
        return self.shop.page(request, "job", **found)

    async def answer(self, request: Request) -> Response:
        """The newest answer as data; where one is known to the page already, the next."""
        job, desk = self.shop.asked(request), self.shop.desk
        after, stage = request.query_params.get("after"), request.query_params.get("stage", "reasons")
        await desk.answered(job, within=_FOR_A_PLAN)
        if after is not None and (job.answer.get("version"), job.answer.get("stage")) == (after, stage):
            await desk.news(job, within=_FOR_NEWS)
        found = job_and_errors(self.shop, job, request.scope["me"].id)
        if found["errors"] and found["job"]["data"] is None:
            return JSONResponse({"errors": found["errors"]}, 400)
        return JSONResponse(found["job"])


def job_and_errors(shop: Shop, job: AtHand, asker: str) -> dict[str, Any]:
    """What the template of a job's page gets. Parameter: asker, the device that asks, which is told its own benches."""
    answer, problems = job.answer, [*job.problems, *job.not_written]
    try:
        readings, recorded = shop.readings.shown(job.id, job.path), shop.readings.recorded(job.id, job.path)
        names = {row["id"]: row["name"] for row in shop.devices.listed()["devices"]}
        for row in readings:
            row["differs"] = row["differs"] and _by_name(row["differs"], names, asker)
    except InputError as error:
        readings, recorded = [], False
        problems = problems or [*error.problems]
    blades = list[str]()
    try:
        blades = blades_of(shop.desk.folder, shop.readings.in_hand(job.id, job.path).job.unit)
    except InputError as error:
        problems = [*problems, *(one for one in error.problems if one not in problems)]
    shown: dict[str, Any] = {"id": job.id, "current": job.current} | {
        key: answer.get(key) for key in ("version", "stage", "data")
    }
    if shown["data"] is not None:
        shown["data"] = undecided(shown["data"], shop.readings.differing(job.id))
        why = [one["text"] for one in told(job.not_written)]
        shown["data"] = not_planned(shown["data"], shop.waiting(job), why)
    return {
        "job": {
            **shown,
            "readings": readings,
            "recorded": recorded,
            "blades": blades,
            "pages": PAGES,
            "hold": answer.get("hold"),
        },
        "errors": told(problems),
    }


def _type_again(readings: list[dict[str, Any]], typed: Mapping[str, str], *, tick: bool) -> None:
    """A refused reading into the fields of its gap, as it was typed: to be mended, or stood by."""
    for row in readings:
        if row["gap"] != typed.get("gap"):
            continue
        row["asked_again"], spot = tick, typed.get("spot", "")
        again = {key: typed[key] for key in _READ_BY if key in typed}
        if row["dimensions"]:
            for n, one in enumerate(row["dimensions"], start=1):
                one["number"] = typed.get(f"dimension.{n}", one["number"])
        elif isinstance(row["now"], dict):
            row["now"] |= again
        elif spot.isdecimal() and 0 < int(spot) <= len(row["now"]):
            row["now"][int(spot) - 1] |= again


def _by_name(differing: list[dict[str, Any]], names: dict[str, str], asker: str) -> list[dict[str, Any]]:
    """Readings that differ, each by the name of its device; by its bench too where one device gave several.

    Which browser gave it (`by`) is told to the device that it is of, and to no other.
    """
    of = [one["device"] for one in differing]
    told = []
    for one in differing:
        name = names.get(one["device"], "")
        both = f"{name}, {one['bench']}" if of.count(one["device"]) > 1 else name
        named = {"bench": both if name else one["bench"], "by": one.get("by", "") if one["device"] == asker else ""}
        told.append({key: it for key, it in one.items() if key != "device"} | named)
    return told


def _row(shop: Shop, job: AtHand) -> dict[str, Any]:
    row, title = job.answer.get("row"), job.answer.get("title", "")
    if row is not None:
        row = not_planned_row(undecided_row(row, shop.readings.differing(job.id)), shop.waiting(job))
    return {"id": job.id, "title": title, "row": row, "errors": told(job.problems)}
