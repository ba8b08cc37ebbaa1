"""A new job from a form: its folder is named by its title, and nothing that is there is overwritten."""

from __future__ import annotations

import asyncio
import re
from dataclasses import replace
from pathlib import Path

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from shimopt.bench.folder_scan import job_id
from shimopt.bench.posted import Posted, posted
from shimopt.bench.shop import Shop, told
from shimopt.errors import InputError
from shimopt.starting.new_files import write_new
from shimopt.starting.typed_job import files_typed, gap_numbers, wrong_in
from shimopt.words.bench_page_words import LABELS, sure_remedy

_MOST_OF_A_NAME = 500
_SCREENS = {
    "min": "window",
    "max": "window",
    "source": "window",
    "shaft": "drawer",
    "bore": "drawer",
    "sizes": "drawer",
}


class NewPages:
    """The form for a new job, and what is made of it."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop

    def routes(self) -> list[Route]:
        """The page and what it sends."""
        return [Route("/new", self.form), Route("/new", self.made, methods=["POST"])]

    async def form(self, request: Request) -> Response:
        """The form, empty; where something was wrong, with all that was typed."""
        return self.shop.page(request, "new")

    async def made(self, request: Request) -> Response:
        """The job that was typed; where something is wrong, the form again with all of it."""
        sent = await posted(request, self.shop.tokens)
        fields = {name: sent.text(name, _MOST_OF_A_NAME) for name in sent.typed}
        asked = fields | {"gaps": str(len(gap_numbers(fields)))}
        if fields.get("step") == "more":
            asked["gaps"] = str(int(asked["gaps"]) + 1)
            return self.shop.after(request, f"/new#gap-{asked['gaps']}", typed=asked)
        if fields.get("step") == "check" and sent.as_data:
            # one screen is left for the next: nothing is written, and what is wrong is told at its field
            return JSONResponse({"errors": told(wrong_in(fields))})
        try:
            name = await asyncio.to_thread(_written, self.shop.desk.folder, fields)
        except InputError as error:
            return self._refused(request, sent, asked, error)
        self.shop.desk.rescan()
        self.shop.feed.say("jobs")
        where = f"/job/{job_id(name)}"
        return JSONResponse({"job": job_id(name)}) if sent.as_data else RedirectResponse(f"{where}?new", 303)

    def _refused(self, request: Request, sent: Posted, asked: dict[str, str], error: InputError) -> Response:
        errors = told(error.problems)
        if sent.as_data:
            return JSONResponse({"errors": errors}, 400)
        for one, problem in zip(errors, error.problems, strict=True):
            # beside its field, what it is about need not be said
            one["beside"] = str(replace(problem, file="", where=""))
        # what only looks unlikely is ticked; else the screen that holds the first fault is shown first
        sure = all(one["remedy"] == sure_remedy() for one in errors)
        first = next((one["field"] for one in errors if one["field"] in asked), "")
        part = "sure" if sure else _screen(first)
        return self.shop.after(request, f"/new#{part}", typed=asked, errors=errors, sure=sure)


def _screen(field: str) -> str:
    """The screen of the form that asks for a field."""
    if of_gap := re.match(r"gap\.\d+", field):
        return of_gap[0].replace(".", "-")
    return _SCREENS.get(field, "what")


def _written(folder: Path, fields: dict[str, str]) -> str:
    """Write the job into a folder of its own; its name. Raises InputError."""
    files = files_typed(fields)
    named = re.sub(r"[^a-z0-9]+", "-", fields.get("title", "").lower()).strip("-")[:40].strip("-") or "job"
    for number in range(1, 1000):
        name = named if number == 1 else f"{named}-{number}"
        if (folder / name).exists():
            continue
        try:
            write_new(folder / name, files)
        except FileExistsError:
            continue
        return name
    raise InputError.at(named, "there are a thousand jobs of this name", "call it otherwise", where=LABELS["new_title"])
