"""Two processes that plan, and who is waiting for them: urgent tasks first, and what nobody waits for is dropped."""

from __future__ import annotations

import asyncio
import os
import pickle
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import count
from threading import Lock
from typing import Any

from shimopt.errors import FaultError, InputError

_NUMBERS = count()


class DroppedError(Exception):
    """Nobody waits for this any longer."""


@dataclass(order=True)
class Request:
    """A task for a planning process; the lower its `turn`, the sooner."""

    turn: int
    number: int
    task: str = field(compare=False)
    arguments: tuple[Any, ...] = field(compare=False)
    told: Callable[[Any], None] = field(compare=False)
    found: asyncio.Future[Any] = field(compare=False)
    process: _Planner | None = field(compare=False, default=None)

    def taken_by(self, process: _Planner | None) -> None:
        """Who is at work on it, so that it can be dropped."""
        self.process = process

    def drop(self) -> None:
        """Let it go: what is under way ends at its next step, what has not begun never does."""
        if not self.found.done():
            self.found.set_exception(DroppedError())
            self.found.exception()  # looked at here: whoever dropped it need not
        if self.process is not None:
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
            start_new_session=True,
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
        self._queue: asyncio.PriorityQueue[Request] = asyncio.PriorityQueue()

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
        self, task: str, *arguments: Any, turn: int = 1, told: Callable[[Any], None] = lambda _: None
    ) -> Request:
        """Ask for a task; `told` gets what is there so far, in the event loop. Its `found` raises what went wrong."""
        found = asyncio.get_running_loop().create_future()
        request = Request(turn, next(_NUMBERS), task, arguments, told, found)
        self._queue.put_nowait(request)
        return request

    async def ask(self, task: str, *arguments: Any, turn: int = 1) -> Any:
        """What a task comes to. Raises InputError, FaultError."""
        return await self.request(task, *arguments, turn=turn).found

    async def _serve(self, planner: _Planner) -> None:
        loop = asyncio.get_running_loop()
        while True:
            request = await self._queue.get()
            if request.found.done():
                continue

            def so_far(found: Any, request: Request = request) -> None:
                loop.call_soon_threadsafe(_tell, request, found)

            request.taken_by(planner)
            kind, found = await loop.run_in_executor(self._threads, planner.ask, request, so_far)
            request.taken_by(None)
            _settle(request, kind, found)


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
