"""A process that plans and does nothing else: one task after the other, each of which may be dropped while it lasts.

It is started with `python -m`, not by multiprocessing: that would run the program that started it once more.
"""

from __future__ import annotations

import gc
import os
import pickle
import sys
from importlib import import_module
from queue import SimpleQueue
from threading import Thread
from time import monotonic, sleep
from typing import Any, BinaryIO

from shimopt.errors import InputError
from shimopt.machine import give_way
from shimopt.watch import PLAN_STEPS, Watch

# so long a plan may take for the page [s]; then the best so far is shown, and called so
_LONGEST = 20.0

# what some plans load when they first need it: loaded before, while nothing is asked for so long [s]
_QUIET = 0.5
_NEEDED_BY_SOME = (
    "filelock",
    "tomlkit",
    "shimopt.choose.place_by_place",
    "shimopt.choose.priced",
    "shimopt.choose.reached",
    "shimopt.choose.tied_places",
    "shimopt.choose.try_all",
    "shimopt.proof.highs",
)

# number, name and arguments of a task
Asked = tuple[int, str, tuple[Any, ...]]


class _DroppedError(Exception):
    """Nobody waits for the task under way any longer."""


class _Bell:
    """What is to be done, and which of it was dropped; a thread listens while the other plans."""

    def __init__(self, source: BinaryIO) -> None:
        self.asked: SimpleQueue[Asked] = SimpleQueue()
        self.dropped = -1
        self.watch = Watch()
        self._source = source

    def listen(self) -> None:
        """Hear what comes, until whoever asks is gone: then this process is gone too."""
        while True:
            try:
                message = pickle.load(self._source)
            except (EOFError, OSError, pickle.UnpicklingError):
                os._exit(0)
            if isinstance(message, int):
                self.dropped = message
                self.watch.stop()
            else:
                self.asked.put(message)

    def rings(self) -> bool:
        """Whether anything is asked within a short while."""
        ends = monotonic() + _QUIET
        while self.asked.empty() and monotonic() < ends:
            sleep(_QUIET / 20)
        return not self.asked.empty()


def load_ahead() -> None:
    """Load what some plans need, so that the first of them does not wait for it."""
    for name in _NEEDED_BY_SOME:
        import_module(name)


def work(source: BinaryIO, target: BinaryIO) -> None:
    """Do what comes from `source`, pickled: `(number, task, arguments)`; a number alone drops that task.

    Answers `(number, kind, what)` to `target`: "so far" while it lasts, then one of "done", "refused" (the problems),
    "dropped" and "fault" (a line about it).
    """
    # loaded before anybody waits for it
    from shimopt.bench.tasks import FURTHER, TASKS

    gc.set_threshold(200_000, 20, 20)

    bell = _Bell(source)

    def answer(number: int, kind: str, found: Any) -> None:
        # whole or not at all: what cannot be told is told as a fault
        told = pickle.dumps((number, kind, found))
        try:
            target.write(told)
            target.flush()
        except BrokenPipeError:
            # whoever asked is gone: then this process is gone too
            os._exit(0)

    Thread(target=bell.listen, daemon=True).start()
    # what is loaded stays: it is not looked through for garbage
    gc.freeze()
    loaded = False
    while True:
        if not loaded and not bell.rings():
            load_ahead()
            gc.freeze()
            loaded = True
        number, task, arguments = bell.asked.get()
        bell.watch = Watch(_LONGEST, PLAN_STEPS)

        def tell(found: Any, number: int = number) -> None:
            if bell.dropped == number:
                raise _DroppedError
            answer(number, "so far", found)

        try:
            further = FURTHER.get(task)
            found = further(bell.watch, *arguments) if further else TASKS[task](bell.watch, tell, *arguments)
            answer(number, "done", found)
        except _DroppedError:
            answer(number, "dropped", None)
        except InputError as error:
            answer(number, "refused", error.problems)
        except Exception as error:  # whatever it is, whoever asked is told, and the next task is done
            answer(number, "fault", f"{type(error).__name__}: {str(error)[:300]}")


def main() -> None:
    """Work for whoever started this process; what anything prints goes where errors go, not among the answers."""
    # a browser is answered first
    give_way()
    target = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    work(sys.stdin.buffer, target)


if __name__ == "__main__":
    main()
