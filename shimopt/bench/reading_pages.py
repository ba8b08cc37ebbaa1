"""Readings as they come from a page: each on disk before it is answered, and answered before all is planned."""

from __future__ import annotations

import re
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from shimopt.bench.desk import AtHand
from shimopt.bench.devices import Me
from shimopt.bench.posted import Posted, posted
from shimopt.bench.reading_said import said_in
from shimopt.bench.readings import Given, NotKeptError, TakenOtherwiseError
from shimopt.bench.shop import Shop, told
from shimopt.errors import InputError
from shimopt.words.bench_words import NO_BENCH, NO_CHOICE, OTHERWISE
from shimopt.words.button_words import refused_here

_BENCH = re.compile(r"[a-z0-9]{16,32}", re.ASCII)
# the bench of a device's forms, which no script can name
_FORMS = "form"
_MOST_COUNTED = 2**53


class ReadingPages:
    """What a bench says of a gap, and which of two readings counts."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop

    def routes(self) -> list[Route]:
        """Each address and who answers it."""
        return [
            Route("/job/{id}/reading", self.reading, methods=["POST"]),
            Route("/job/{id}/choose", self.choose, methods=["POST"]),
        ]

    async def reading(self, request: Request) -> Response:
        """Take a reading; the same one, sent again, is answered alike."""
        sent = await posted(request, self.shop.tokens, once=False)
        job, shop = self.shop.asked(request), self.shop
        try:
            given = _given(sent, request.scope["me"])
            reading, new = await shop.readings.take(job.id, job.path, given, shop.devices.lets_in)
        except TakenOtherwiseError:
            return self._refused(request, job, sent, 409, [{"text": OTHERWISE, "rule": OTHERWISE}])
        except NotKeptError as error:
            return self._refused(request, job, sent, 503, told(error.problems))
        except InputError as error:
            return self._refused(
                request, job, sent, 400, [refused_here(one, sent.text("gap")) for one in told(error.problems)]
            )
        answer = shop.readings.answer(job.id, job.path, reading)
        if new:
            about = {key: answer[key] for key in ("job", "gap", "seq", "differs")}
            number = shop.readings.number(job.id, job.path, reading.gap)
            shop.feed.say_reading(reading.device, reading.bench, **about, n=number)
            shop.desk.plan_again(job, turn=0)
        if sent.as_data:
            return JSONResponse(answer)
        # what is written meanwhile stands on the page that is shown next
        await shop.desk.answered(job)
        return shop.answered(sent, f"/job/{job.id}#gap-{shop.readings.number(job.id, job.path, reading.gap)}")

    async def choose(self, request: Request) -> Response:
        """One of several readings counts from now on."""
        sent = await posted(request, self.shop.tokens)
        job, shop, seq = self.shop.asked(request), self.shop, sent.text("seq")
        gap = sent.text("gap")
        if not (seq.isascii() and seq.isdigit() and await shop.readings.choose(job.id, gap, int(seq))):
            return self._refused(request, job, sent, 409, [{"text": NO_CHOICE, "rule": NO_CHOICE}])
        shop.desk.plan_again(job, turn=0)
        number = shop.readings.number(job.id, job.path, gap)
        shop.feed.say("reading", job=job.id, gap=gap, n=number, own=False, seq=int(seq), differs=False)
        return shop.answered(sent, f"/job/{job.id}#gap-{number}", job=job.id, gap=gap, seq=int(seq))

    def _refused(
        self, request: Request, job: AtHand, sent: Posted, status: int, errors: list[dict[str, Any]]
    ) -> Response:
        if sent.as_data:
            return JSONResponse({"errors": errors}, status)
        number = self.shop.readings.number(job.id, job.path, sent.text("gap"))
        typed = {"typed": sent.typed} if status == 400 else {}
        return self.shop.after(request, f"/job/{job.id}#gap-{number}", errors=errors, **typed)


def _given(sent: Posted, me: Me) -> Given:
    """The reading that was sent. Raises InputError, HTTPException."""
    said, gap = said_in(sent.fields), sent.fields.get("gap")
    if not isinstance(gap, str):
        raise HTTPException(400, NO_BENCH)
    if sent.form:
        return Given(me.id, _FORMS, 0, gap, said, sent.form, sent.text("over"))
    bench, counter = sent.text("bench"), sent.text("counter")
    if not _BENCH.fullmatch(bench) or not (counter.isascii() and counter.isdigit() and len(counter) < 17):
        raise HTTPException(400, NO_BENCH)
    if not 0 < int(counter) < _MOST_COUNTED:
        raise HTTPException(400, NO_BENCH)
    return Given(me.id, bench, int(counter), gap, said, seen=sent.text("over"))
