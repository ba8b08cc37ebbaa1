"""The server: one process for all browsers, on this computer unless it is told otherwise."""

from __future__ import annotations

import gc
import socket
import ssl
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import uvicorn

from shimopt.bench.application import application
from shimopt.bench.connections import Crowd, Patient
from shimopt.bench.desk import Desk
from shimopt.bench.devices import Devices, Pairing
from shimopt.bench.feed import Feed
from shimopt.bench.folder_scan import READINGS
from shimopt.bench.form_tokens import FormTokens
from shimopt.bench.guard import Hosts
from shimopt.bench.kept_apart import KeptApart
from shimopt.bench.page_making import PageMaking
from shimopt.bench.planners import Planners
from shimopt.bench.readings import Readings
from shimopt.bench.readings_log import ReadingsLog
from shimopt.bench.secure_lines import Knocking
from shimopt.bench.shop import Shop
from shimopt.errors import InputError

# browsers keep a line open between requests: five seconds, as is usual, cut them off with many benches [s]
_KEPT_OPEN = 75
# lines that wait to be let in, and how many are at once: what came by one is read before later ones push it out
_WAITING, _AT_ONCE = 4096, 100
_TO_END = 1


def tls_of(certificate: Path, key: Path) -> ssl.SSLContext:
    """What TLS is made with, of a certificate and its key. Raises InputError where they are no pair."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        context.load_cert_chain(certificate, key, password="")
    except (OSError, ssl.SSLError) as error:
        rule = f"certificate and key cannot be used ({error.strerror or error})"
        remedy = "name a certificate and its key, both in PEM, the key without a password"
        raise InputError.at(certificate, rule, remedy, where="--tls") from None
    return context


def taken_port(port: int, *, network: bool = False) -> socket.socket:
    """A socket that listens on this computer alone, or on its network; any free port for 0. Raises InputError."""
    # asyncio sends at once (TCP_NODELAY) only where the protocol is named: else an answer's second half waits 40 ms
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind(("" if network else "127.0.0.1", port))
        # from here on nobody is turned away
        listening.listen(_WAITING)
    except OSError as error:
        listening.close()
        rule = f"nothing can listen there ({error.strerror})"
        raise InputError.at("", rule, "name another port", where="--port", value=str(port)) from None
    return listening


@contextmanager
def opened_shop(folder: Path, hosts: Hosts) -> Iterator[Shop]:
    """All that the pages of a folder are made from, for as long as they are served; one page at a time.

    Raises InputError where nothing can be kept there, or another page serves it.
    """
    kept = KeptApart(folder)
    with kept.alone():
        log = ReadingsLog(kept.path / READINGS)
        try:
            yield shop_of(folder, kept, log, hosts)
        finally:
            log.close()


def serve(
    shop: Shop, listening: socket.socket, fault: Callable[[Exception], object], tls: ssl.SSLContext | None = None
) -> None:
    """Serve the pages until somebody stops it; `fault` is told of what goes wrong by our own fault."""
    crowd = Crowd()
    lines = partial(Knocking, crowd=crowd, tls=tls) if tls else partial(Patient, crowd=crowd)
    config = uvicorn.Config(
        application(shop, fault),
        lifespan="on",
        http=lines,  # type: ignore[arg-type] # it makes what its type would
        ws="none",
        loop="asyncio",
        access_log=False,
        log_level="critical",
        server_header=False,
        date_header=False,
        backlog=_AT_ONCE,
        timeout_keep_alive=_KEPT_OPEN,
        timeout_graceful_shutdown=_TO_END,
        proxy_headers=False,
    )
    # what is loaded stays: it is not looked through for garbage while somebody waits
    gc.freeze()
    # who writes or unpacks something beside it gives Python back sooner than usual [s]
    sys.setswitchinterval(0.001)
    _Server(config, shop.feed).run(sockets=[listening])


def shop_of(folder: Path, kept: KeptApart, log: ReadingsLog, hosts: Hosts) -> Shop:
    """All that the pages of a folder are made from."""
    feed, planners, readings = Feed(), Planners(), Readings(log)
    return Shop(
        desk=Desk(folder, planners, feed, readings),
        feed=feed,
        planners=planners,
        making=PageMaking(planners),
        readings=readings,
        tokens=FormTokens(kept.key()),
        devices=Devices(kept),
        pairing=Pairing(),
        hosts=hosts,
    )


class _Server(uvicorn.Server):
    """A server that ends its open lines first, so that a stopped page stops at once."""

    def __init__(self, config: uvicorn.Config, feed: Feed) -> None:
        super().__init__(config)
        self._feed = feed

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start; more lines may wait than are let in at once."""
        await super().startup(sockets)
        for listening in sockets or ():
            listening.listen(_WAITING)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Stop."""
        self._feed.close()
        await super().shutdown(sockets)
