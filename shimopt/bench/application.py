"""The page as a whole: its routes behind its guard."""

from __future__ import annotations

import asyncio
import re
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from urllib.parse import urlsplit

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
from shimopt.bench.page_templates import STATIC, load_ahead, static, wrong_page
from shimopt.bench.reading_pages import ReadingPages
from shimopt.bench.shop import Shop, told
from shimopt.errors import InputError
from shimopt.words.bench_words import BUSY, NO_CUSTOMERS_PAGE, NO_PAGE, NOT_DONE, NOT_HERE, OUR_FAULT

# pages that a device may ask for before it has joined, by how they begin
OPEN_PAGES = ("/pair", "/c/", *(f"/{name}" for name in STATIC))

# what came was not from a page of ours as it is now
_NOT_TAKEN = 403


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
        customers = request.url.path.startswith("/c/")
        words = {404: NO_CUSTOMERS_PAGE if customers else NO_PAGE, 405: NOT_HERE, 503: BUSY}.get(status, detail)
        found = [{"text": words, "rule": words}]
        if "application/json" in request.headers.get("accept", ""):
            return JSONResponse({"errors": found}, status)
        if to := _sent_from(request):
            # what was never taken stands in its fields again; of what may have been, nobody knows whether it is wanted
            sent = getattr(request.state, "sent", {}) if status == _NOT_TAKEN else {}
            return shop.after(request, to, errors=found, **({"typed": sent} if sent else {}))
        # a customer is led to no page but the own one
        return HTMLResponse(wrong_page(status, words, back="" if customers else "/"), status)

    async def refused(request: Request, error: Exception) -> Response:
        found = told(error.problems) if isinstance(error, InputError) else []
        if "application/json" in request.headers.get("accept", ""):
            return JSONResponse({"errors": found}, 400)
        if to := _sent_from(request):
            return shop.after(request, to, errors=found)
        return shop.page(request, "wrong", 400, title=NOT_DONE, errors=found)

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


def _sent_from(request: Request) -> str:
    """The page of ours whose form was sent; empty where nothing was sent, or a browser does not say from where."""
    referrer = urlsplit(request.headers.get("referer", ""))
    ours = request.method == "POST" and referrer.netloc == request.headers.get("host")
    return referrer.path if ours and re.fullmatch(r"(/[a-z0-9-]+)+|/", referrer.path, re.ASCII) else ""


async def _file(request: Request) -> Response:
    """A file that pages ask for; it may be kept, for another content has another address."""
    name = request.url.path.removeprefix("/")
    content = static(name)
    if not content:
        raise HTTPException(404)
    kept = {"cache-control": "public, max-age=31536000, immutable"} if "v" in request.query_params else {}
    return Response(content, media_type=STATIC[name], headers=kept)
