"""Connections on which TLS has to begin first: counted among all others, and waited for no longer than they are."""

from __future__ import annotations

import asyncio
import ssl
from functools import partial
from typing import Any, cast

from shimopt.bench.connections import TO_ASK, Crowd, Patient


class Knocking(asyncio.Protocol):
    """One connection until its TLS stands; then a `Patient` goes on with it."""

    def __init__(self, *, crowd: Crowd, tls: ssl.SSLContext, **given: Any) -> None:
        self._crowd, self._tls, self._patient = crowd, tls, partial(Patient, crowd=crowd, **given)
        self.address = ""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Somebody is there."""
        self._transport = cast(asyncio.Transport, transport)
        self.address = (transport.get_extra_info("peername") or ("",))[0]
        if self._crowd.enter(self):
            self._beginning = asyncio.get_running_loop().create_task(self._begin())
        else:
            self.abort()

    def connection_lost(self, _: Exception | None) -> None:
        """Nobody is there any more."""
        self._crowd.leave(self)

    def abort(self) -> None:
        """End it now."""
        self._transport.abort()

    async def _begin(self) -> None:
        patient, secure = self._patient(), None
        try:
            secure = await asyncio.get_running_loop().start_tls(
                self._transport, patient, self._tls, server_side=True, ssl_handshake_timeout=TO_ASK
            )
        except OSError:
            # no TLS, too slow, or gone: nobody to tell
            pass
        finally:
            self._crowd.leave(self)
        # it may have been ended meanwhile
        if secure is not None and not secure.is_closing():
            patient.connection_made(secure)
