"""Connections of browsers, so many at most: who is slow to ask, or asks nothing, makes room for who does.

A connection is quiet while no request of it is being answered. The quiet one that has waited longest goes first.
"""

from __future__ import annotations

import asyncio
from collections import Counter
from typing import Any, Protocol

from uvicorn.protocols.http.h11_impl import H11Protocol

from shimopt.bench.guard import is_loopback

MOST, MOST_QUIET, MOST_OF_ONE_DEVICE = 800, 300, 64
# seconds from the first byte of a request to the end of its head, and from the connection to its first request
TO_ASK = 10.0


class Connection(Protocol):
    """What is counted: from where it comes, and how it is ended."""

    address: str

    def abort(self) -> None:
        """End it now."""


class Crowd:
    """All connections of a server."""

    def __init__(self) -> None:
        # in the order in which they became quiet
        self._quiet: dict[Connection, None] = {}
        self._all: set[Connection] = set()
        self._of: Counter[str] = Counter()

    def enter(self, one: Connection) -> bool:
        """A connection more, for which another may have to go; False where it is to go itself."""
        self._all.add(one)
        self._of[one.address] += 1
        self._quiet[one] = None
        if not is_loopback(one.address) and self._of[one.address] > MOST_OF_ONE_DEVICE:
            return False
        if len(self._quiet) > MOST_QUIET or len(self._all) > MOST:
            longest = next(iter(self._quiet))
            self.leave(longest)
            longest.abort()
            return longest is not one
        return True

    def leave(self, one: Connection) -> None:
        """A connection less."""
        if one in self._all:
            self._all.discard(one)
            self._of[one.address] -= 1
            self._of += Counter()
        self._quiet.pop(one, None)

    def busy(self, one: Connection) -> None:
        """A request of it is being answered."""
        self._quiet.pop(one, None)

    def quiet(self, one: Connection) -> None:
        """It has been."""
        if one in self._all:
            self._quiet.setdefault(one)


class Patient(H11Protocol):
    """One connection, which has to come to the point."""

    def __init__(self, *, crowd: Crowd, **given: Any) -> None:
        super().__init__(**given)
        self._crowd, self._clock = crowd, None
        self.address = ""
        # what came with the end of a handshake, before the line was handed on
        self._early = b""

    _clock: asyncio.TimerHandle | None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override] # as its base has it
        """Somebody is there."""
        super().connection_made(transport)
        self.address = self.client[0] if self.client else ""
        if self._crowd.enter(self):
            self._start()
        else:
            self.abort()
        if self._early and not transport.is_closing():
            self.data_received(self._early)

    def data_received(self, data: bytes) -> None:
        """Something of a request came."""
        if self.transport is None:
            self._early += data
            return
        super().data_received(data)
        if self._asking:
            self._stop()
            self._crowd.busy(self)
        elif self._clock is None and not self.transport.is_closing():
            self._start()

    def on_response_complete(self) -> None:
        """A request was answered."""
        super().on_response_complete()
        if not self._asking:
            self._crowd.quiet(self)

    def connection_lost(self, exc: Exception | None) -> None:
        """Nobody is there any more."""
        self._stop()
        self._crowd.leave(self)
        if self.transport is None:
            return
        super().connection_lost(exc)

    def abort(self) -> None:
        """End it now."""
        self.transport.abort()

    @property
    def _asking(self) -> bool:
        return self.cycle is not None and not self.cycle.response_complete

    def _start(self) -> None:
        self._clock = self.loop.call_later(TO_ASK, self.abort)

    def _stop(self) -> None:
        if self._clock is not None:
            self._clock.cancel()
            self._clock = None
