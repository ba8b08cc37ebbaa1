"""Two processes that plan, and who is waiting for them: urgent tasks first, and what nobody waits for is dropped."""

from __future__ import annotations

import asyncio
import os
import pickle
import subprocess
import sys
from bisect import insort
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import KW_ONLY, dataclass, field
from itertools import count
from threading import Lock
from typing import Any

from shimopt.errors import FaultError, InputError
from shimopt.machine import started_apart

_NUMBERS = count()


class DroppedError(Exception):
    """Nobody waits for this any longer."""


@dataclass(order=True)
class Request:
    """A task for a planning process; the lower its `turn`, the sooner.

    `by` is the only process that is to do it, where it goes on from what that one has worked out; `process` is the one
    that does it, or did.
    """

    turn: int
    number: int
    task: str = field(compare=False)
    arguments: tuple[Any, ...] = field(compare=False)
    told: Callable[[Any], None] = field(compare=False)
    found: asyncio.Future[Any] = field(compare=False)
    _: KW_ONLY
    by: _Planner | None = field(compare=False, default=None)
    process: _Planner | None = field(compare=False, default=None)
    under_way: bool = field(compare=False, default=False)

    def begin(self, process: _Planner) -> None:
        """Somebody is at work on it."""
        self.process, self.under_way = process, True

    def end(self) -> None:
        """Nobody is any more."""
        self.under_way = False

    def drop(self) -> None:
        """Let it go: what is under way ends at its next step, what has not begun never does."""
        if not self.found.done():
            self.found.set_exception(DroppedError())
            self.found.exception()  # looked at here: whoever dropped it need not
        if self.under_way and self.process is not None:
            self.process.drop(self.number)


class _Planner:
    """One planning process, started anew where it died."""

    def __init__(self) -> None:
        self._lock, self._ended = Lock(), False
        self._start()

    def _start(self) -> None:
        # it finds what this process finds, and nothing in the folder in which it was started
        found = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "shimopt.bench.planning_process"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=found,
            # Ctrl-C is for whoever started it
            **started_apart(),
        )

    @property
    def pid(self) -> int:
        """The process's number."""
        return self._process.pid

    def _send(self, message: Any) -> None:
        stream = self._process.stdin
        if stream is not None:
            with self._lock:
                pickle.dump(message, stream)
                stream.flush()

    def drop(self, number: int) -> None:
        with suppress(OSError, ValueError):
            self._send(number)

    def ask(self, request: Request, so_far: Callable[[Any], None]) -> tuple[str, Any]:
        """What a task comes to, in a thread that waits for it; asked twice where the process died of it."""
        for _ in range(2):
            try:
                self._send((request.number, request.task, request.arguments))
                while True:
                    number, kind, found = pickle.load(self._process.stdout)  # type: ignore[arg-type] # it is a pipe
                    if number == request.number and kind != "so far":
                        return kind, found
                    if number == request.number:
                        so_far(found)
            except (EOFError, OSError, ValueError, pickle.UnpicklingError):
                if self._ended:
                    break
                self._kill()
                self._start()
        return "fault", "the process that planned it died (out of memory?)"

    def end(self) -> None:
        self._ended = True
        self._kill()

    def _kill(self) -> None:
        self._process.kill()
        self._process.wait()
        for stream in (self._process.stdin, self._process.stdout):
            with suppress(OSError, ValueError):
                if stream is not None:
                    stream.close()


class Planners:
    """The planning processes, from `start` to `close`."""

    def __init__(self, processes: int = 2) -> None:
        self._count = processes
        # the sooner, the further in front
        self._waiting: list[Request] = []
        self._more = asyncio.Event()

    def start(self) -> None:
        """Start the processes; they load what they need while the page is already there."""
        self._threads = ThreadPoolExecutor(self._count, "planner")
        self._planners = [_Planner() for _ in range(self._count)]
        self._running = [asyncio.create_task(self._serve(planner)) for planner in self._planners]

    @property
    def processes(self) -> list[int]:
        """The numbers of the processes."""
        return [planner.pid for planner in self._planners]

    async def close(self) -> None:
        """End the processes at once."""
        for running in self._running:
            running.cancel()
        for planner in self._planners:
            planner.end()
        self._threads.shutdown(wait=False, cancel_futures=True)

    def request(
        self,
        task: str,
        *arguments: Any,
        turn: int = 1,
        told: Callable[[Any], None] = lambda _: None,
        after: Request | None = None,
    ) -> Request:
        """Ask for a task; `told` gets what is there so far, in the event loop. Its `found` raises what went wrong.

        Parameter: after, the task from which it goes on: then the same process does it.
        """
        found = asyncio.get_running_loop().create_future()
        by = after.process if after is not None else None
        request = Request(turn, next(_NUMBERS), task, arguments, told, found, by=by)
        insort(self._waiting, request)
        self._more.set()
        return request

    async def ask(self, task: str, *arguments: Any, turn: int = 1) -> Any:
        """What a task comes to. Raises InputError, FaultError."""
        return await self.request(task, *arguments, turn=turn).found

    async def _serve(self, planner: _Planner) -> None:
        loop = asyncio.get_running_loop()
        while True:
            request = await self._next(planner)

            def so_far(found: Any, request: Request = request) -> None:
                loop.call_soon_threadsafe(_tell, request, found)

            request.begin(planner)
            kind, found = await loop.run_in_executor(self._threads, planner.ask, request, so_far)
            request.end()
            _settle(request, kind, found)

    async def _next(self, planner: _Planner) -> Request:
        """What a process is to do next; what was dropped before it began never is."""
        while True:
            self._waiting = [one for one in self._waiting if not one.found.done()]
            for place, one in enumerate(self._waiting):
                if one.by in (None, planner):
                    return self._waiting.pop(place)
            self._more.clear()
            await self._more.wait()


def _tell(request: Request, found: Any) -> None:
    if not request.found.done():
        request.told(found)


def _settle(request: Request, kind: str, found: Any) -> None:
    if request.found.done():
        return
    if kind == "done":
        request.found.set_result(found)
    elif kind == "refused":
        request.found.set_exception(InputError(found))
    elif kind == "dropped":
        request.found.set_exception(DroppedError())
    else:
        request.found.set_exception(FaultError(found))
