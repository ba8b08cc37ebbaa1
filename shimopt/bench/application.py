"""The routes of the page, and what each hands to its template: nothing is decided here."""

from __future__ import annotations

from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from typing import Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from shimopt.bench.desk import AtHand, Desk
from shimopt.bench.feed import Feed
from shimopt.bench.guard import Application, Guard, Hosts
from shimopt.bench.page_templates import STATIC, page, static
from shimopt.bench.planners import Planners
from shimopt.errors import Problem

# a page waits so long for a plan, and for its reasons, before it is shown without [s]
_FOR_A_PLAN, _FOR_REASONS, _FOR_NEWS, _FOR_A_ROW = 20.0, 0.5, 20.0, 0.5


class Bench:
    """The pages of one folder of jobs."""

    def __init__(self, desk: Desk, feed: Feed) -> None:
        self.desk, self.feed = desk, feed

    def routes(self) -> list[Route]:
        """Every page, and the function that answers it."""
        return [
            Route("/", self.index),
            Route("/job/{id}", self.job),
            Route("/job/{id}/answer", self.answer),
            Route("/events", self.events),
            *(Route(f"/{name}", self.static, name=name) for name in STATIC),
        ]

    async def index(self, _: Request) -> Response:
        """All jobs, each with its answer as far as it is known."""
        jobs = list(self.desk.jobs().values())
        for job in jobs:
            self.desk.want(job, turn=2)
        for job in jobs[:1]:
            await self.desk.answered(job, within=_FOR_A_ROW)
        return self._page("index", jobs=[_row(job) for job in jobs])

    async def job(self, request: Request) -> Response:
        """One job with its readings and its answer."""
        job = await self.desk.answered(self._asked(request), within=_FOR_A_PLAN)
        await self.desk.answered(job, "reasons", within=_FOR_REASONS)
        return self._page("job", job=_told(job), errors=_errors(job.problems))

    async def answer(self, request: Request) -> Response:
        """The newest answer as data; where one is known to the page already, the next."""
        job = self._asked(request)
        after, stage = request.query_params.get("after"), request.query_params.get("stage")
        known = (after, stage or "reasons")
        await self.desk.answered(job, within=_FOR_A_PLAN)
        if after is not None and (job.answer.get("version"), job.answer.get("stage")) == known:
            await self.desk.news(job, within=_FOR_NEWS)
        if job.problems:
            return JSONResponse({"errors": _errors(job.problems)}, 400)
        return JSONResponse(_told(job))

    async def events(self, _: Request) -> Response:
        """What happens, as it happens."""
        if self.feed.full:
            return Response(status_code=503)
        return StreamingResponse(self.feed.lines(), media_type="text/event-stream")

    async def static(self, request: Request) -> Response:
        """A file that pages ask for; it may be kept, for another content has another address."""
        name = request.url.path.removeprefix("/")
        content = static(name)
        if not content:
            raise HTTPException(404)
        kept = {"cache-control": "public, max-age=31536000, immutable"} if "v" in request.query_params else {}
        return Response(content, media_type=STATIC[name], headers=kept)

    def _asked(self, request: Request) -> AtHand:
        job = self.desk.job(request.path_params["id"])
        if job is None:
            raise HTTPException(404)
        return job

    def _page(self, name: str, status: int = 200, **data: Any) -> Response:
        given = {"me": {"name": "this computer", "local": True}, "form": {"token": ""}, "said": None, "errors": None}
        return HTMLResponse(page(name, **(given | data)), status)


def _row(job: AtHand) -> dict[str, Any]:
    row, title = job.answer.get("row"), job.answer.get("title", "")
    return {"id": job.id, "title": title, "row": row, "errors": _errors(job.problems)}


def _told(job: AtHand) -> dict[str, Any]:
    answer = job.answer
    told = {key: answer.get(key) for key in ("version", "stage", "data")}
    return {"id": job.id, **told, "readings": answer.get("readings", []), "recorded": answer.get("recorded", False)}


def _errors(problems: Sequence[Problem]) -> list[dict[str, str]]:
    """What is wrong as data, each with its sentence. Only a file's name is told, not where it lies on this computer."""
    told = [problem.to_dict() | {"file": problem.file.replace("\\", "/").rsplit("/", 1)[-1]} for problem in problems]
    return [one | {"text": str(Problem(**one))} for one in told]


def application(desk: Desk, feed: Feed, planners: Planners, hosts: Hosts) -> Application:
    """The whole page, behind its guard."""

    @asynccontextmanager
    async def open_hours(_: Starlette) -> AsyncIterator[None]:
        planners.start()
        try:
            yield
        finally:
            feed.close()
            await planners.close()

    async def wrong(_: Request, error: Exception) -> Response:
        status = error.status_code if isinstance(error, HTTPException) else 500
        said = ["There is no such page."] if status == 404 else ["This cannot be done here."]
        return HTMLResponse(page("wrong", said=said, errors=None), status)

    inner = Starlette(routes=Bench(desk, feed).routes(), lifespan=open_hours, exception_handlers={HTTPException: wrong})
    return Guard(inner, hosts)
