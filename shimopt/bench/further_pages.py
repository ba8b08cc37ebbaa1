"""Pages behind a job's page, which show and change nothing: why of a gap, papers, an order, a drawer, history."""

from __future__ import annotations

from collections.abc import Awaitable
from contextlib import suppress
from functools import partial
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from shimopt.bench.desk import AtHand
from shimopt.bench.devices import Me
from shimopt.bench.shop import Shop, told
from shimopt.errors import FaultError, InputError, Problem
from shimopt.words.bench_words import AGAIN, CHOOSE_FIRST, NOT_SHOWN

_KINDS = {"html": "text/html; charset=utf-8", "pdf": "application/pdf"}
# a paper is one file that holds its own style
_PAPER = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; frame-ancestors 'none'"
_MOST_DRAWERS = 50
# of a gap's number
_MOST_DIGITS = 9


class FurtherPages:
    """Pages that a planning process makes when they are asked for."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop

    def routes(self) -> list[Route]:
        """Each page and who answers it."""
        return [
            Route("/job/{id}/gap/{n}", self.gap),
            Route("/job/{id}/order", self.order),
            Route("/job/{id}/{kind:str}.{ending:str}", self.paper),
            Route("/drawer", self.drawers),
            Route("/drawer/{id}", self.drawers),
            Route("/history", self.history),
        ]

    async def gap(self, request: Request) -> Response:
        """Why one gap gets what it gets."""
        number = request.path_params["n"]
        if not (number.isascii() and number.isdigit() and len(number) <= _MOST_DIGITS):
            raise HTTPException(404)
        job = await self.asked(request)
        made, errors = await self.settled(request, job, "gap", int(number))
        if made is None and not errors:
            raise HTTPException(404)
        if errors:
            return self.shop.page(request, "wrong", 400, title=NOT_SHOWN, errors=errors, job={"id": job.id})
        about = {"id": job.id, "version": made["version"]}
        return self.shop.page(request, "gap", job=about, n=int(number), data=made["data"], said=made["said"])

    async def order(self, request: Request) -> Response:
        """What to buy so that one order is enough."""
        job = await self.asked(request)
        data, errors = await self.settled(request, job, "order")
        if errors:
            return self.shop.page(request, "wrong", 400, title=NOT_SHOWN, errors=errors, job={"id": job.id})
        return self.shop.page(request, "order", job={"id": job.id}, data=data)

    async def paper(self, request: Request) -> Response:
        """Sheet, letter or bench card."""
        job, kind, ending = await self.asked(request), request.path_params["kind"], request.path_params["ending"]
        if kind not in ("sheet", "letter", "card") or ending not in _KINDS:
            raise HTTPException(404)
        task = ("card", ending) if kind == "card" else ("paper", kind, ending)
        content, errors = await self.settled(request, job, *task, f"/job/{job.id}")
        if errors:
            return self.shop.page(request, "wrong", 400, title=NOT_SHOWN, errors=errors, job={"id": job.id})
        headers = {"content-disposition": f'inline; filename="{kind}.{ending}"'}
        return Response(content, 200, {**headers, "content-security-policy": _PAPER}, _KINDS[ending])

    async def drawers(self, request: Request) -> Response:
        """Each drawer once, or that of one job."""
        own = "id" in request.path_params
        asked = [self.shop.asked(request)] if own else list(self.shop.desk.jobs().values())
        by_key: dict[str, dict[str, Any]] = {}
        errors: list[dict[str, str]] = []
        for job in asked[:_MOST_DRAWERS]:
            data, wrong = await self.shown(request, job, "drawer", own)
            errors += wrong if len(asked) == 1 else []
            if data is not None:
                by_key.setdefault(data["key"], {"id": job.id, "data": data["data"]})
        of = {"id": asked[0].id} if own else None
        return self.shop.page(request, "drawer", drawers=list(by_key.values()), errors=errors or None, of=of)

    async def history(self, request: Request) -> Response:
        """What the records of all jobs tell."""
        files = tuple(str(job.path) for job in self.shop.desk.jobs().values())
        asked = self.shop.making.shown(_asker(request), partial(_left, request), ("history", files))
        data, errors = await _found(asked)
        return self.shop.page(request, "history", 400 if errors else 200, data=data, errors=errors or None)

    async def asked(self, request: Request) -> AtHand:
        """The job that a request is about, once what was read of it stands in its file. Raises HTTPException 404."""
        return await self.shop.desk.answered(self.shop.asked(request))

    async def settled(self, request: Request, job: AtHand, task: str, *more: Any) -> tuple[Any, list[dict[str, str]]]:
        """As `shown`; while it knows less than was read, what has to be settled first."""
        if differing := self.shop.readings.differing(job.id):
            return None, told(Problem("", gap, "", AGAIN, CHOOSE_FIRST) for gap in differing)
        if waiting := self.shop.waiting(job):
            return None, told([*waiting, *job.not_written])
        return await self.shown(request, job, task, *more)

    async def shown(
        self, request: Request, job: AtHand, task: str, *more: Any, keep: bool = False
    ) -> tuple[Any, list[dict[str, str]]]:
        """What a task that changes nothing comes to, or what is wrong; dropped once nobody waits for it."""
        version, asker = job.answer.get("version", ""), _asker(request)
        asked = (task, str(job.path), *more)
        return await _found(self.shop.making.shown(asker, partial(_left, request), asked, version=version, keep=keep))

    async def changed(self, request: Request, job: AtHand, task: str, asked: Any) -> tuple[Any, list[dict[str, str]]]:
        """What a task that changes something comes to, or what is wrong."""
        return await _found(self.shop.making.changed(_asker(request), (task, str(job.path), asked)))


def _asker(request: Request) -> str:
    """Who asks: a device, or who was sent an address."""
    me: Me = request.scope["me"]
    return me.id or str(request.path_params.get("token", ""))


async def _left(request: Request) -> None:
    """Ends when whoever asked is gone."""
    with suppress(HTTPException):
        while (await request.receive())["type"] != "http.disconnect":
            pass


async def _found(made: Awaitable[Any]) -> tuple[Any, list[dict[str, str]]]:
    try:
        return await made, []
    except InputError as error:
        return None, told(error.problems)
    except FaultError as error:
        rule, remedy = f"a fault of our own ({error})", "please report this line with the job's files"
        return None, told([Problem("", "", "", rule, remedy)])
