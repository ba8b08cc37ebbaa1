"""What a page changes beside readings: pieces held, what was fitted recorded, a piece put into a drawer."""

from __future__ import annotations

import re
import secrets
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from shimopt.bench.blade_set import blades_of
from shimopt.bench.desk import AtHand
from shimopt.bench.devices import Me
from shimopt.bench.further_pages import FurtherPages
from shimopt.bench.posted import Posted, posted
from shimopt.bench.shop import Shop, told
from shimopt.words.bench_page_words import LABELS
from shimopt.words.bench_words import NOT_SHOWN, choose_first_words
from shimopt.words.button_words import refused_here

_NUMBERED = re.compile(r"(after|fitted|running|machined)\.([1-9][0-9]{0,4})")
_STROKE = re.compile(r"(?<=[0-9])\s*[-\u2013]\s*(?=[0-9])", re.ASCII)
# so many jobs' last records are kept to be shown
_MOST_SHOWN = 64


class ChangePages:
    """Forms that do their work once."""

    def __init__(self, shop: Shop, further: FurtherPages) -> None:
        self.shop, self._further, self._asked = shop, further, further.asked
        self._results: dict[str, dict[str, Any]] = {}

    def routes(self) -> list[Route]:
        """Each page and who answers it."""
        return [
            Route("/job/{id}/hold", self.hold, methods=["POST"]),
            Route("/job/{id}/record", self.record_page),
            Route("/job/{id}/record", self.record, methods=["POST"]),
            Route("/job/{id}/recorded", self.recorded),
            Route("/drawer/{id}/piece", self.piece, methods=["POST"]),
        ]

    async def hold(self, request: Request) -> Response:
        """Hold the plan's pieces for the job, or let them go."""
        sent = await posted(request, self.shop.tokens)
        job, free = await self._asked(request), bool(sent.fields.get("free"))
        asked = {"until": sent.text("until"), "version": sent.text("version"), **_who(request, sent)}
        said, errors = await self._done(request, "free" if free else "hold", job, asked)
        self.shop.desk.plan_again(job, turn=0)
        if sent.as_data:
            return JSONResponse({"errors": errors} if errors else {"said": said}, 400 if errors else 200)
        return self.shop.after(request, f"/job/{job.id}", said=said, errors=errors)

    async def record_page(self, request: Request) -> Response:
        """What is asked after fitting."""
        job = await self._asked(request)
        made, wrong = await self._further.shown(request, job, "record_page")
        if wrong:
            return self.shop.page(request, "wrong", 400, title=NOT_SHOWN, errors=wrong, job={"id": job.id})
        blades = blades_of(self.shop.desk.folder, made["data"]["unit"])
        return self.shop.page(
            request,
            "record",
            job={"id": job.id, "version": made["version"], "blades": blades},
            data=made["data"],
            said=[*map(choose_first_words, self.shop.readings.differing(job.id)), *made["said"]],
        )

    async def record(self, request: Request) -> Response:
        """Record what was fitted, and what gaps read now."""
        sent = await posted(request, self.shop.tokens)
        job = await self._asked(request)
        asked: dict[str, Any] = {what: {} for what in ("after", "fitted", "running", "machined")}
        asked["update_drawer"] = bool(sent.fields.get("update_drawer"))
        for name in sent.fields:
            if (found := _NUMBERED.fullmatch(name)) and (text := sent.text(name) or _by_blades(sent, name)):
                asked[found[1]][found[2]] = _to(text) if found[1] == "after" else text
        asked |= {"version": sent.text("version"), "instrument": sent.text("instrument"), **_who(request, sent)}
        done, wrong = await self._done(request, "record", job, asked)
        # what is wrong in no file is wrong in what was sent
        errors = [one if one["file"] else refused_here(one, one["where"]) for one in wrong]
        if errors and not sent.as_data:
            numbers = [self.shop.readings.number(job.id, job.path, one.get("gap", "")) for one in errors]
            at = next((f"#gap-{n}" for n in numbers if n), "")
            return self.shop.after(request, f"/job/{job.id}/record{at}", errors=errors, typed=sent.typed)
        if errors:
            return JSONResponse({"errors": errors}, 400)
        self.shop.desk.plan_again(job, turn=0)
        self.shop.feed.say("changed", job=job.id)
        self._results = dict([*self._results.items(), (job.id, done["result"])][-_MOST_SHOWN:])
        return JSONResponse(done) if sent.as_data else RedirectResponse(f"/job/{job.id}/recorded", 303)

    async def recorded(self, request: Request) -> Response:
        """What became of the last record that was written here; before the page began, the records themselves."""
        job = self.shop.asked(request)
        if (found := self._results.get(job.id)) is None:
            return RedirectResponse(f"/job/{job.id}/record", 303)
        return self.shop.page(request, "recorded", job={"id": job.id}, data=found, said=found["said"])

    async def _done(
        self, request: Request, task: str, job: AtHand, asked: dict[str, Any]
    ) -> tuple[Any, list[dict[str, str]]]:
        """Change something; what goes by the plan not while something was read that the plan does not know yet."""
        missing = self.shop.readings.not_in_plan(job.id) if task in ("hold", "record") else ()
        return (None, told(missing)) if missing else await self._further.changed(request, job, task, asked)

    async def piece(self, request: Request) -> Response:
        """Put a measured piece into a drawer."""
        sent = await posted(request, self.shop.tokens)
        job = self.shop.asked(request)
        asked = {key: sent.text(key) for key in ("part", "thickness", "at")} | _who(request, sent)
        asked["on_hand"] = sent.text("on_hand") or "1"
        asked["checked"] = sent.text("checked")
        # of the page of all drawers, it is put in for no job
        asked["whole"] = sent.text("whole")
        said, errors = await self._done(request, "add_piece", job, asked)
        if sent.as_data:
            return JSONResponse({"errors": errors} if errors else {"said": said}, 400 if errors else 200)
        to = f"/drawer/{job.id}"
        if asked["whole"]:
            to = f"/drawer#piece-{job.id}" if errors else "/drawer"
        told: dict[str, Any] = {"has": f"drawer {asked['whole']}{job.id}"}
        if errors:
            slip = any(LABELS["measured_again"] in one["remedy"] for one in errors)
            told = {"typed": asked | {"job": job.id, "slip": slip}}
        return self.shop.after(request, to, said=said, errors=errors, **told)


def _by_blades(sent: Posted, name: str) -> str:
    """A reading given by two blades beside its field, as a record says it: the one that goes, the one that does not."""
    go, no_go = sent.text(f"{name}.go"), sent.text(f"{name}.no_go")
    return f"{go or 0} to {no_go}" if no_go else go


def _to(text: str) -> str:
    """Two numbers with a stroke between are from one to the other: the keys of a phone's numbers have no letters."""
    return _STROKE.sub(" to ", text)


def _who(request: Request, sent: Posted) -> dict[str, str]:
    """Who does it, and what names this one time: a form names itself, our script may give a name of its own."""
    me: Me = request.scope["me"]
    request_id = sent.form.partition(".")[0] or sent.text("request", 64) or secrets.token_hex(12)
    return {"person": sent.text("person") or ("" if me.local else me.name), "request": request_id}
