"""Pages that the planning processes make when they are asked for: so many at most, and none for who has left.

Who asks for the same at the same time waits for one task. One page is made at a time, so that a reading finds a process
free; changes are not held up by pages.
"""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import Callable, Coroutine, Iterator
from contextlib import contextmanager
from typing import Any

from starlette.exceptions import HTTPException

from shimopt.bench.planners import Planners
from shimopt.words.bench_words import BUSY

# what waits to be made, for all and for one who asks; pages that are kept, of those that anybody may ask for
MOST, MOST_OF_ONE, _MOST_KEPT = 64, 8, 64

# what a page is made by: its task with all that it goes by, and which state of the files it is of at least
_Key = tuple[Any, ...]


class PageMaking:
    """Who waits for which page."""

    def __init__(self, planners: Planners) -> None:
        self._planners = planners
        self._tasks: dict[_Key, asyncio.Task[Any]] = {}
        self._waiting: Counter[_Key] = Counter()
        self._of: Counter[str] = Counter()
        self._kept: dict[_Key, Any] = {}
        self._changes = 0
        self._turn = asyncio.Lock()

    async def shown(
        self,
        asker: str,
        left: Callable[[], Coroutine[Any, Any, None]],
        task: tuple[Any, ...],
        *,
        version: str = "",
        keep: bool = False,
    ) -> Any:
        """What a task that changes nothing comes to. Raises InputError, FaultError; HTTPException where too many ask.

        Parameters: left, ends when the asker is gone; version, of the job's files when it was asked; keep, whether the
        same is told again as long as nothing changes.
        """
        key = (*task, version, self._changes)
        if keep and key in self._kept:
            return self._kept[key]
        with self._counted(asker):
            if key not in self._tasks:
                self._tasks[key] = asyncio.create_task(self._made(task))
            made, gone = self._tasks[key], asyncio.create_task(left())
            self._waiting[key] += 1
            try:
                await asyncio.wait({made, gone}, return_when=asyncio.FIRST_COMPLETED)
            finally:
                gone.cancel()
                self._waiting[key] -= 1
                if not self._waiting[key]:
                    del self._waiting[key], self._tasks[key]
                    made.cancel()
            if not made.done():
                raise HTTPException(503)
        if keep and version:
            self._kept = dict([*self._kept.items(), (key, made.result())][-_MOST_KEPT:])
        return made.result()

    async def changed(self, asker: str, task: tuple[Any, ...]) -> Any:
        """What a task comes to that changes something: done once for each who asks, whether he waits or not."""
        with self._counted(asker):
            self._changes += 1
            try:
                return await asyncio.shield(self._planners.request(*task, turn=0).found)
            finally:
                self._changes += 1

    async def _made(self, task: tuple[Any, ...]) -> Any:
        async with self._turn:
            request = self._planners.request(*task)
            try:
                return await request.found
            finally:
                request.drop()

    @contextmanager
    def _counted(self, asker: str) -> Iterator[None]:
        if self._of[asker] >= MOST_OF_ONE or self._of.total() >= MOST:
            raise HTTPException(429, BUSY)
        self._of[asker] += 1
        try:
            yield
        finally:
            self._of[asker] -= 1
            self._of += Counter()
