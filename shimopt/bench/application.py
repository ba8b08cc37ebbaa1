"""The page as a whole: its routes behind its guard."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from shimopt.bench.change_pages import ChangePages
from shimopt.bench.feed import Listener
from shimopt.bench.further_pages import FurtherPages
from shimopt.bench.guard import Application, Guard
from shimopt.bench.job_pages import JobPages
from shimopt.bench.joining_pages import JoiningPages
from shimopt.bench.new_pages import NewPages
from shimopt.bench.page_templates import STATIC, load_ahead, page, static
from shimopt.bench.reading_pages import ReadingPages
from shimopt.bench.shop import Shop, told
from shimopt.errors import InputError
from shimopt.words.bench_words import NO_PAGE, NOT_HERE, OUR_FAULT

# pages that a device may ask for before it has joined, by how they begin
OPEN_PAGES = ("/pair", "/c/", *(f"/{name}" for name in STATIC))


def application(shop: Shop, fault: Callable[[Exception], object]) -> Application:
    """The whole page; `fault` is told of what goes wrong by our own fault."""

    @asynccontextmanager
    async def open_hours(_: Starlette) -> AsyncIterator[None]:
        shop.planners.start()
        shop.desk.write_left()
        watching = asyncio.create_task(shop.desk.watch())
        await asyncio.to_thread(load_ahead)
        try:
            yield
        finally:
            watching.cancel()
            shop.feed.close()
            await shop.planners.close()

    async def events(request: Request) -> Response:
        if shop.feed.full:
            return Response(status_code=503)
        asked, me = request.query_params, request.scope["me"]
        listener = Listener(asked.get("job", ""), me.id, asked.get("bench", ""))
        return StreamingResponse(shop.feed.lines(listener), media_type="text/event-stream")

    async def wrong(request: Request, error: Exception) -> Response:
        # who takes nothing in, or is gone, is no fault
        if not isinstance(error, HTTPException | ClientDisconnect | TimeoutError):
            fault(error)
        status = error.status_code if isinstance(error, HTTPException) else 500
        detail = error.detail if isinstance(error, HTTPException) else OUR_FAULT
        words = {404: NO_PAGE, 405: NOT_HERE}.get(status, detail)
        if "application/json" in request.headers.get("accept", ""):
            return JSONResponse({"errors": [{"text": words, "rule": words}]}, status)
        return HTMLResponse(page("wrong", said=[words], errors=None), status)

    async def refused(request: Request, error: Exception) -> Response:
        found = told(error.problems) if isinstance(error, InputError) else []
        if "application/json" in request.headers.get("accept", ""):
            return JSONResponse({"errors": found}, 400)
        return shop.page(request, "wrong", 400, errors=found)

    further = FurtherPages(shop)
    inner = Starlette(
        routes=[
            *JobPages(shop).routes(),
            *ReadingPages(shop).routes(),
            *NewPages(shop).routes(),
            *ChangePages(shop, further).routes(),
            *JoiningPages(shop, further).routes(),
            *further.routes(),
            Route("/events", events),
            *(Route(f"/{name}", _file) for name in STATIC),
        ],
        lifespan=open_hours,
        exception_handlers={HTTPException: wrong, InputError: refused, 500: wrong},
    )
    return Guard(inner, shop.hosts, shop.devices.known, OPEN_PAGES)


async def _file(request: Request) -> Response:
    """A file that pages ask for; it may be kept, for another content has another address."""
    name = request.url.path.removeprefix("/")
    content = static(name)
    if not content:
        raise HTTPException(404)
    kept = {"cache-control": "public, max-age=31536000, immutable"} if "v" in request.query_params else {}
    return Response(content, media_type=STATIC[name], headers=kept)
