"""What happens, told to every page that listens: a page that does not take it in is let go, and comes back itself."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Any

_MOST_LISTENING, _MOST_WAITING = 300, 64
_QUIET = 15.0  # seconds after which a page is shown that the line stands


class Feed:
    """All listening pages; `say` tells them, `close` ends them."""

    def __init__(self) -> None:
        self._listening: dict[asyncio.Queue[bytes | None], str] = {}
        self._count = 0

    @property
    def full(self) -> bool:
        """Whether no further page can listen."""
        return len(self._listening) >= _MOST_LISTENING

    def say(self, name: str, **data: Any) -> None:
        """Tell every page."""
        self._count += 1
        line = f"id: {self._count}\nevent: {name}\ndata: {json.dumps(data)}\n\n".encode()
        for waiting in list(self._listening):
            if waiting.full():
                self._end(waiting)
            else:
                waiting.put_nowait(line)

    def close(self) -> None:
        """End all lines."""
        for waiting in list(self._listening):
            self._end(waiting)

    def _end(self, waiting: asyncio.Queue[bytes | None]) -> None:
        self._listening.pop(waiting, None)
        while not waiting.empty():
            waiting.get_nowait()
        waiting.put_nowait(None)

    @property
    def heard(self) -> bool:
        """Whether any page listens."""
        return bool(self._listening)

    @property
    def looked_at(self) -> set[str]:
        """The jobs whose pages listen."""
        return {job for job in self._listening.values() if job}

    async def lines(self, job: str = "") -> AsyncIterator[bytes]:
        """What a page is sent, until it goes or is let go; `job` is the one that it shows."""
        waiting: asyncio.Queue[bytes | None] = asyncio.Queue(_MOST_WAITING)
        self._listening[waiting] = job
        try:
            yield b"retry: 2000\n\n"
            while True:
                try:
                    line = await asyncio.wait_for(waiting.get(), _QUIET)
                except TimeoutError:
                    line = b": still here\n\n"
                if line is None:
                    return
                yield line
        finally:
            self._listening.pop(waiting, None)
