"""All that the pages of one folder are made from, and how a page is answered."""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from shimopt.bench.desk import AtHand, Desk
from shimopt.bench.devices import Devices, Me, Pairing
from shimopt.bench.feed import Feed
from shimopt.bench.form_tokens import FormTokens
from shimopt.bench.guard import Hosts
from shimopt.bench.page_making import PageMaking
from shimopt.bench.page_templates import page
from shimopt.bench.planners import Planners
from shimopt.bench.posted import Posted
from shimopt.bench.readings import Readings
from shimopt.errors import Problem

# the further pages of a shop, and "piece" where its drawers take pieces in
SHOP_PAGES = ("new", "drawer", "piece", "history", "pair", "devices")

# so many forms' answers of each who asks can be looked at again
_MOST_KEPT = 32


@dataclass(frozen=True, kw_only=True)
class Shop:
    """The jobs, their readings, who may ask, and who plans."""

    desk: Desk
    feed: Feed
    planners: Planners
    making: PageMaking
    readings: Readings
    tokens: FormTokens
    devices: Devices
    pairing: Pairing
    hosts: Hosts
    # what came of forms, by who sent each and the name that its page was given
    came: dict[tuple[str, str], dict[str, Any]] = field(default_factory=dict)

    def asked(self, request: Request) -> AtHand:
        """The job that a request is about. Raises HTTPException 404."""
        job = self.desk.job(request.path_params["id"])
        if job is None:
            raise HTTPException(404)
        return job

    def waiting(self, job: AtHand) -> tuple[Problem, ...]:
        """What was read of a job and cannot be written into its files: its plan does not know it."""
        return self.readings.not_in_plan(job.id) if job.not_written else ()

    def page(self, request: Request, name: str, status: int = 200, **data: Any) -> Response:
        """A page, with what every page gets."""
        me: Me = request.scope["me"]
        given = {
            "me": {"name": me.name, "local": me.local},
            "form": {"token": self.tokens.make(me.id)},
            "pages": SHOP_PAGES if me.local else SHOP_PAGES[:4],
            "said": None,
            "errors": None,
        }
        came = self.came_of(request)
        told = {key: [*(came.get(key) or ()), *(data.get(key) or ())] or None for key in ("said", "errors")}
        return HTMLResponse(page(name, **(given | data | came | told)), status)

    def came_of(self, request: Request) -> dict[str, Any]:
        """What came of the form that led to this page; nothing where none did, or nobody knows any more."""
        me: Me = request.scope["me"]
        return self.came.get((me.id, request.query_params.get("came", "")), {})

    def after(self, request: Request, to: str, **told: Any) -> Response:
        """Go on to a page that tells what came of a form: it can be loaded again, and come back to.

        Parameters: to, the page, which may name a part of itself; told, its `said` and `errors`, and what was `typed`
        where that is to be mended.
        """
        me: Me = request.scope["me"]
        theirs, key = [one for one in self.came if one[0] == me.id], secrets.token_hex(8)
        if len(theirs) >= _MOST_KEPT:
            del self.came[theirs[0]]
        self.came[me.id, key] = told
        path, mark, part = to.partition("#")
        return RedirectResponse(f"{path}?came={key}{mark}{part}", 303)

    def answered(self, sent: Posted, to: str, status: int = 200, **data: Any) -> Response:
        """The answer to a change: data where data is asked for, else the page to go to."""
        return JSONResponse(data, status) if sent.as_data else RedirectResponse(to, 303)


def told(problems: Iterable[Problem]) -> list[dict[str, str]]:
    """What is wrong as data, each with its sentence. Only a file's name is told, not where it lies on this computer."""
    found = [problem.to_dict() | {"file": problem.file.replace("\\", "/").rsplit("/", 1)[-1]} for problem in problems]
    return [one | {"text": str(Problem(**one))} for one in found]
