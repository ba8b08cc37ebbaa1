"""The server: one process for all browsers, on this computer unless it is told otherwise."""

from __future__ import annotations

import socket
from pathlib import Path

import uvicorn

from shimopt.bench.application import application
from shimopt.bench.desk import Desk
from shimopt.bench.devices import Devices, Pairing
from shimopt.bench.feed import Feed
from shimopt.bench.form_tokens import FormTokens
from shimopt.bench.guard import LOOPBACK, Hosts
from shimopt.bench.kept_apart import KeptApart
from shimopt.bench.planners import Planners
from shimopt.bench.readings import Readings
from shimopt.bench.readings_log import ReadingsLog
from shimopt.bench.shop import Shop
from shimopt.errors import InputError

PORT = 7465
# browsers keep a line open between requests: five seconds, as is usual, cut them off with many benches [s]
_KEPT_OPEN = 75
_WAITING = 512
_TO_END = 1


def taken_port(port: int) -> socket.socket:
    """A socket that listens on this computer alone; any free port for 0. Raises InputError."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind(("127.0.0.1", port))
        # from here on nobody is turned away
        listening.listen(_WAITING)
    except OSError as error:
        listening.close()
        rule = f"nothing can listen there ({error.strerror})"
        raise InputError.at("", rule, "name another port", where="--port", value=str(port)) from None
    return listening


def serve(folder: Path, listening: socket.socket) -> None:
    """Serve the jobs of a folder until somebody stops it. Raises InputError where nothing can be kept there."""
    kept = KeptApart(folder)
    with kept.alone():
        log = ReadingsLog(kept.path / "readings.jsonl")
        try:
            shop = shop_of(folder, kept, log, Hosts(LOOPBACK, listening.getsockname()[1]))
            config = uvicorn.Config(
                application(shop),
                backlog=_WAITING,
                lifespan="on",
                http="h11",
                ws="none",
                loop="asyncio",
                access_log=False,
                log_level="warning",
                server_header=False,
                date_header=False,
                timeout_keep_alive=_KEPT_OPEN,
                timeout_graceful_shutdown=_TO_END,
                proxy_headers=False,
            )
            _Server(config, shop.feed).run(sockets=[listening])
        finally:
            log.close()


def shop_of(folder: Path, kept: KeptApart, log: ReadingsLog, hosts: Hosts) -> Shop:
    """All that the pages of a folder are made from."""
    feed, planners, readings = Feed(), Planners(), Readings(log)
    return Shop(
        desk=Desk(folder, planners, feed, readings),
        feed=feed,
        planners=planners,
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

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Stop."""
        self._feed.close()
        await super().shutdown(sockets)
