"""How a device joins and is shut out again, and how a customer is let in to one job."""

from __future__ import annotations

import io
from asyncio import to_thread

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from shimopt.bench.devices import DEVICE_LASTS, Me
from shimopt.bench.further_pages import FurtherPages
from shimopt.bench.posted import posted
from shimopt.bench.shop import Shop
from shimopt.errors import InputError
from shimopt.words.bench_words import (
    LOOKED_AT_AGAIN,
    LOOKED_AT_TITLE,
    NO_CODE,
    NOT_FROM_HERE,
    TOO_MANY_CODES,
    UNNAMED,
    invited_words,
)

_MOST_DAYS, _USUAL_DAYS, _A_DAY = 366, 14, 24 * 3600


class JoiningPages:
    """Codes, devices, and customers' addresses."""

    def __init__(self, shop: Shop, further: FurtherPages) -> None:
        self.shop, self._further = shop, further

    def routes(self) -> list[Route]:
        """Each page and who answers it."""
        return [
            Route("/pair", self.pair),
            Route("/pair", self.join, methods=["POST"]),
            Route("/pair/qr.svg", self.qr),
            Route("/devices", self.devices),
            Route("/invited", self.invited),
            Route("/devices/revoke", self.revoke, methods=["POST"]),
            Route("/job/{id}/customer", self.invite, methods=["POST"]),
            Route("/c/{token}", self.customer),
        ]

    def _there(self) -> str:
        """The page's address for others; empty where only this computer sees it."""
        hosts = self.shop.hosts
        return hosts.address(hosts.called) if hosts.called else ""

    async def pair(self, request: Request) -> Response:
        """On this computer the code, elsewhere the form that asks for it."""
        if not _is_local(request):
            return self.shop.page(request, "pair")
        code, minutes = self.shop.pairing.offer()
        there = self._there()
        qr = "/pair/qr.svg" if there else None
        return self.shop.page(
            request, "pair", code=code, minutes=minutes, address_there=f"{there}pair" if there else "", qr=qr
        )

    async def qr(self, request: Request) -> Response:
        """The address with the code, for a phone's camera: only this computer shows it."""
        there = self._there()
        if not _is_local(request) or not there:
            raise HTTPException(404)
        code, _ = self.shop.pairing.offer()
        return Response(_square(f"{there}pair?code={code}"), media_type="image/svg+xml")

    async def join(self, request: Request) -> Response:
        """A device with the right code is let in from now on."""
        address = request.client.host if request.client else ""
        # looked at first: what is not looked at leaves nothing behind
        if self.shop.pairing.too_often(address):
            raise HTTPException(429, TOO_MANY_CODES)
        sent = await posted(request, self.shop.tokens)
        if not self.shop.pairing.use(sent.text("code").replace(" ", ""), address):
            raise HTTPException(403, NO_CODE)
        token = await to_thread(self.shop.devices.join, sent.text("name", 40) or UNNAMED)
        answer = RedirectResponse("/", 303)
        hosts, lasts = self.shop.hosts, DEVICE_LASTS * _A_DAY
        answer.set_cookie(
            hosts.cookie, token, max_age=lasts, httponly=True, samesite="strict", secure=hosts.scheme == "https"
        )
        return answer

    async def devices(self, request: Request) -> Response:
        """Who was let in: told to this computer alone, as who is shut out is decided there."""
        _refuse_from_elsewhere(request)
        listed = self.shop.devices.listed()
        return self.shop.page(request, "devices", devices=listed["devices"], customers=listed["customers"])

    async def invited(self, request: Request) -> Response:
        """The address that was made just now, to be sent on; nothing of who else was let in."""
        if "invited" not in self.shop.came_of(request):
            raise HTTPException(404)
        return self.shop.page(request, "devices")

    async def revoke(self, request: Request) -> Response:
        """Let somebody in no longer."""
        _refuse_from_elsewhere(request)
        sent = await posted(request, self.shop.tokens)
        which = sent.text("id")
        found = await to_thread(self.shop.devices.revoke, which)
        self.shop.feed.shut_out(which)
        if sent.as_data:
            return JSONResponse({"revoked": found})
        return RedirectResponse("/devices", 303)

    async def invite(self, request: Request) -> Response:
        """Make an address under which a customer sees this job, and say it once."""
        sent = await posted(request, self.shop.tokens)
        job, days = self.shop.asked(request), sent.text("days") or f"{_USUAL_DAYS}"
        if not (days.isascii() and days.isdigit() and 0 < int(days) <= _MOST_DAYS):
            raise InputError.at(
                "", f"so many days are from 1 to {_MOST_DAYS}", "write a number", where="days", value=days
            )
        title = (await self.shop.desk.answered(job)).answer.get("title", job.id)
        token, until = await to_thread(self.shop.devices.invite, job.id, title, int(days))
        address = f"{self._there() or self.shop.hosts.address('127.0.0.1')}c/{token}"
        if sent.as_data:
            return JSONResponse({"address": address, "until": until})
        said = invited_words(address, until, here_only=not self._there())
        invited = {"address": address, "job": job.id, "qr": _square(address) if self._there() else ""}
        # who is let in is listed on this computer alone
        return self.shop.after(request, "/devices" if _is_local(request) else "/invited", said=said, invited=invited)

    async def customer(self, request: Request) -> Response:
        """One job as its customer sees it."""
        invited = self.shop.devices.invited(request.path_params["token"])
        job = None if invited is None else self.shop.desk.job(invited[0])
        if job is None or invited is None:
            raise HTTPException(404)
        await self.shop.desk.answered(job)
        if job.answer.get("title", invited[1]) != invited[1]:
            raise HTTPException(404)
        if self.shop.readings.differing(job.id) or self.shop.waiting(job):
            return self.shop.page(request, "unsettled", 503, title=LOOKED_AT_TITLE, said=[LOOKED_AT_AGAIN])
        data, errors = await self._further.shown(request, job, "customer", keep=True)
        if errors:
            raise HTTPException(503)
        return self.shop.page(request, "customer", data=data)


def _square(address: str) -> str:
    """An address as the square that a phone's camera reads."""
    import segno

    found = io.BytesIO()
    segno.make(address, micro=False).save(found, kind="svg", scale=6, border=4, light="#fff", xmldecl=False)
    return found.getvalue().decode()


def _is_local(request: Request) -> bool:
    me: Me = request.scope["me"]
    return me.local


def _refuse_from_elsewhere(request: Request) -> None:
    if not _is_local(request):
        raise HTTPException(403, NOT_FROM_HERE)
