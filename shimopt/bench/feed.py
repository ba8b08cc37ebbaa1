"""What happens, told to every page that listens: a page that does not take it in is let go, and comes back itself."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from dataclasses import dataclass
from typing import Any

_MOST_LISTENING, _MOST_WAITING = 300, 64
_QUIET = 15.0  # seconds after which a page is shown that the line stands


@dataclass(frozen=True, slots=True)
class Listener:
    """A page that listens: the job that it shows, on which device, and as which bench."""

    job: str = ""
    device: str = ""
    bench: str = ""


class Feed:
    """All listening pages; `say` tells them, `shut_out` ends those of a device, `close` all."""

    def __init__(self) -> None:
        self._listening: dict[asyncio.Queue[bytes | None], Listener] = {}
        self._count = 0

    @property
    def full(self) -> bool:
        """Whether no further page can listen."""
        return len(self._listening) >= _MOST_LISTENING

    def say(self, name: str, **data: Any) -> None:
        """Tell every page."""
        self._tell(self._line(name, data), list(self._listening))

    def say_reading(self, device: str, bench: str, **data: Any) -> None:
        """Tell of a reading; which bench gave it is told to that bench alone."""
        own = [it for it, one in self._listening.items() if (one.device, one.bench) == (device, bench)]
        others = [it for it in self._listening if it not in own]
        self._tell(self._line("reading", data | {"own": True}), own)
        self._tell(self._line("reading", data | {"own": False}), others)

    def _line(self, name: str, data: dict[str, Any]) -> bytes:
        self._count += 1
        return f"id: {self._count}\nevent: {name}\ndata: {json.dumps(data)}\n\n".encode()

    def _tell(self, line: bytes, pages: list[asyncio.Queue[bytes | None]]) -> None:
        for waiting in pages:
            if waiting.full():
                self._end(waiting)
            else:
                waiting.put_nowait(line)

    def shut_out(self, device: str) -> None:
        """End the lines of a device that is let in no longer."""
        for waiting in [it for it, one in self._listening.items() if one.device == device]:
            self._end(waiting)

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
        return {one.job for one in self._listening.values() if one.job}

    async def lines(self, listener: Listener) -> AsyncIterator[bytes]:
        """What a page is sent, until it goes or is let go."""
        waiting: asyncio.Queue[bytes | None] = asyncio.Queue(_MOST_WAITING)
        self._listening[waiting] = listener
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
