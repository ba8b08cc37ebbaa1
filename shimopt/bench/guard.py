"""Who may ask for what: looked at before any page is, and what every answer carries.

A browser on this computer may show pages of anybody: so a request names a host that is ours, what changes anything
comes from a page of ours, and no answer may be framed, guessed at or kept.
"""

from __future__ import annotations

import asyncio
import ipaddress
from collections.abc import Awaitable, Callable, Collection, Iterable, MutableMapping
from dataclasses import dataclass
from typing import Any

from starlette.exceptions import HTTPException

from shimopt.bench.devices import HERE, Me
from shimopt.bench.page_templates import wrong_page
from shimopt.words.bench_words import FOREIGN, NO_NAME, NOT_HERE, NOT_JOINED, TOO_LARGE, TOO_SLOW

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

MOST_BYTES = 64 * 1024
# seconds in which a body has to come, and in which a part of an answer has to be taken
_TO_SEND, _TO_TAKE = 10.0, 30.0
NOBODY = Me("", "", False)
LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
CARRIED = (
    (
        b"content-security-policy",
        b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
        b"form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)


@dataclass(frozen=True)
class Hosts:
    """The names under which this page is asked for, with its port; `scheme` is http or https.

    `called` is the name that others are told, empty where only this computer sees the page.
    """

    names: Collection[str]
    port: int
    scheme: str = "http"
    called: str = ""

    def knows(self, host: str) -> bool:
        """Whether a request's Host is one of ours."""
        usual = 443 if self.scheme == "https" else 80
        return any(host in ((f"{name}:{self.port}",) + ((name,) if self.port == usual else ())) for name in self.names)

    def address(self, name: str) -> str:
        """The page's address under one of its names."""
        return f"{self.scheme}://{name}:{self.port}/"

    @property
    def cookie(self) -> str:
        """The name of the cookie: browsers tell cookies of one host apart by their names, not by the port."""
        return f"shimopt-bench-{self.port}"

    def loopback(self, host: str) -> bool:
        """Whether a Host is a name that this computer has for itself."""
        return host.rsplit(":", 1)[0] in LOOPBACK if not host.endswith("]") else host in LOOPBACK


def is_loopback(address: str) -> bool:
    """Whether a request came from this computer."""
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


class Guard:
    """Lets through what may be asked; everything else is answered here, in a word.

    Parameters: device, who has a token; open_pages, how pages begin that nobody has to have joined for. On this
    computer, under a name that it has for itself, no token is asked for; everywhere else one is.
    """

    def __init__(
        self, inner: Application, hosts: Hosts, device: Callable[[str], Me | None], open_pages: tuple[str, ...]
    ) -> None:
        self._inner, self._hosts, self._device, self._open = inner, hosts, device, open_pages

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self._inner(scope, receive, send)
            return
        refused = self._refused(scope)
        browser = b"text/html" in dict(scope["headers"]).get(b"accept", b"")
        if refused is not None:
            # who asked by another name finds nothing under it
            await _answered(send, *refused, browser=browser, back="" if refused[1] == NO_NAME else "/")
            return
        me = self._who(scope)
        if me is None and not scope["path"].startswith(self._open):
            wanted = scope["method"] == "GET" and browser
            await _answered(send, 303 if wanted else 403, NOT_JOINED, browser=browser, back="/pair")
            return
        scope["me"] = me or NOBODY
        await self._inner(scope, _bounded(receive), _carrying(send))

    def _who(self, scope: Scope) -> Me | None:
        """Who asks; None for a device that has not joined."""
        (host,) = _all(scope["headers"], b"host")
        if is_loopback((scope.get("client") or ("", 0))[0]) and self._hosts.loopback(host.lower()):
            return HERE
        for line in _all(scope["headers"], b"cookie"):
            for part in line.split(";"):
                name, _, token = part.strip().partition("=")
                if name == self._hosts.cookie and (me := self._device(token)) is not None:
                    return me
        return None

    def _refused(self, scope: Scope) -> tuple[int, str] | None:
        headers = scope["headers"]
        hosts = _all(headers, b"host")
        if len(hosts) != 1 or not self._hosts.knows(hosts[0].lower()):
            return 421, NO_NAME
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return 405, NOT_HERE
        if scope["method"] == "POST" and _all(headers, b"origin") != [f"{self._hosts.scheme}://{hosts[0]}".lower()]:
            return 403, FOREIGN
        if _sent_for_by_another_page(headers):
            return 403, FOREIGN
        if any(not length.isdigit() or int(length) > MOST_BYTES for length in _all(headers, b"content-length")):
            return 413, TOO_LARGE
        return None


def _all(headers: Iterable[tuple[bytes, bytes]], name: bytes) -> list[str]:
    return [value.decode("latin-1") for key, value in headers if key == name]


def _sent_for_by_another_page(headers: Iterable[tuple[bytes, bytes]]) -> bool:
    """Whether a browser says that another page sent for this, and nobody opened it: as a picture, or in a frame."""
    site, mode, dest = (_all(headers, b"sec-fetch-" + name) for name in (b"site", b"mode", b"dest"))
    return bool({"cross-site", "same-site"} & {*site}) and (mode, dest) != (["navigate"], ["document"])


def _bounded(receive: Receive) -> Receive:
    """What is received, no more than a page sends and no slower."""
    loop = asyncio.get_running_loop()
    ends, got, whole = loop.time() + _TO_SEND, 0, False

    async def bounded() -> Message:
        nonlocal got, whole
        if whole:
            # from here on only its end is waited for
            return await receive()
        try:
            message = await asyncio.wait_for(receive(), max(0.0, ends - loop.time()))
        except TimeoutError:
            raise HTTPException(408, TOO_SLOW) from None
        got += len(message.get("body", b""))
        if got > MOST_BYTES:
            raise HTTPException(413, TOO_LARGE)
        whole = not message.get("more_body", False)
        return message

    return bounded


def _carrying(send: Send) -> Send:
    """What is sent, with what every answer carries; who does not take it in is let go."""

    async def carrying(message: Message) -> None:
        if message["type"] == "http.response.start":
            named = {name.lower() for name, _ in message["headers"]}
            # a page that is one file brings rules of its own
            message["headers"] = [*message["headers"], *(one for one in CARRIED if one[0] not in named)]
            if b"cache-control" not in named:
                message["headers"].append((b"cache-control", b"no-store"))
        await asyncio.wait_for(send(message), _TO_TAKE)

    return carrying


async def _answered(send: Send, status: int, words: str, *, browser: bool, back: str) -> None:
    body = (wrong_page(status, words, back) if browser else words).encode()
    kind = b"text/html; charset=utf-8" if browser else b"text/plain; charset=utf-8"
    headers = [(b"content-type", kind), (b"content-length", str(len(body)).encode()), (b"cache-control", b"no-store")]
    headers += [*([(b"location", back.encode())] if status == 303 else []), *CARRIED]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
