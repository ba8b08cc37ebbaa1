"""The server: one process for all browsers, on this computer unless it is told otherwise."""

from __future__ import annotations

import socket
from pathlib import Path

import uvicorn

from shimopt.bench.application import application
from shimopt.bench.desk import Desk
from shimopt.bench.feed import Feed
from shimopt.bench.guard import LOOPBACK, Hosts
from shimopt.bench.planners import Planners
from shimopt.errors import InputError

PORT = 7465
# browsers keep a line open between requests: five seconds, as is usual, cut them off with many benches [s]
_KEPT_OPEN = 75
_TO_END = 1


def taken_port(port: int) -> socket.socket:
    """A socket that listens on this computer alone; any free port for 0. Raises InputError."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind(("127.0.0.1", port))
    except OSError as error:
        listening.close()
        rule = f"nothing can listen there ({error.strerror})"
        raise InputError.at("", rule, "name another port", where="--port", value=str(port)) from None
    return listening


def serve(folder: Path, listening: socket.socket) -> None:
    """Serve the jobs of a folder until somebody stops it."""
    feed, planners = Feed(), Planners()
    desk = Desk(folder, planners, feed)
    port = listening.getsockname()[1]
    config = uvicorn.Config(
        application(desk, feed, planners, Hosts(LOOPBACK, port)),
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
    _Server(config, feed).run(sockets=[listening])


class _Server(uvicorn.Server):
    """A server that ends its open lines first, so that a stopped page stops at once."""

    def __init__(self, config: uvicorn.Config, feed: Feed) -> None:
        super().__init__(config)
        self._feed = feed

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Stop."""
        self._feed.close()
        await super().shutdown(sockets)
