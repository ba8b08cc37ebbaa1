"""How a command is stopped, by Ctrl-C or at the end of its time: within two seconds, whatever it is in the midst of.

A solver hears nothing while it is at work, and an exception thrown into the midst of loading a library is swallowed
or becomes another. So Ctrl-C throws nothing while a command computes: it is heard by a thread that sleeps until then.
It stops the watch, gives whoever computes a moment to come to an end, and then gives the best plan so far itself and
ends the process at once. It does the same when the time is over and the command still is not.

Only a process of its own is stopped so, never a test or a server that calls `main`.
"""

from __future__ import annotations

import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

from shimopt.machine import break_off, end_at_once
from shimopt.watch import Watch

INTERRUPTED = 130
# seconds that whoever computes has to come to an end by itself, and that are left then to give the best so far
_OF_ITS_OWN, _FOR_THE_BEST = 0.6, 0.8
# and in all, from Ctrl-C to the end
IN_ALL = 1.8
# and that a command has which puts itself in order
_TO_TIDY_UP = 1.5
# and that it has to read its files, when the time is over before that
_TO_BE_READY = 0.9
# beyond its time a command may go on for so long, or for this share of it; so much of giving may come after it, too
_BEYOND, _SHARE_BEYOND, AFTER_THE_END = 0.4, 0.06, 0.5
_BYTE_OF_OURS = b"\0"


class _Stops:
    """What is known of the command under way; the thread that listens and the one that computes both see it."""

    def __init__(self) -> None:
        self.begun: float | None = None
        self.interrupted = False
        self.throws = False
        self.watch: Watch | None = None
        self.give_best: Callable[[], int] | None = None
        self.ready: Callable[[], bool] = lambda: True
        self.takes: Callable[[], float] = lambda: 0.0
        self.voice = threading.Lock()
        self.waker: socket.socket | None = None
        self.told: Callable[[Callable[[], int]], int] = lambda give: give()


_stops = _Stops()


def seconds_left(limit: float | None) -> float | None:
    """What is left of a limit in seconds for the whole command, loading of the program included."""
    if limit is None or _stops.begun is None:
        return limit
    return max(0.01, limit - (time.monotonic() - _stops.begun))


def times_slower() -> float:
    """How many times as long as it computes this process takes, since others compute beside it."""
    return 1.0 if _stops.begun is None else max(1.0, (time.monotonic() - _stops.begun) / max(0.1, time.process_time()))


def interrupted() -> bool:
    """Whether Ctrl-C was pressed: the command ends with 130, whatever else it came to."""
    return _stops.interrupted


def listen(begun: float, told: Callable[[Callable[[], int]], int], *, hears: bool) -> None:
    """From now on this process keeps its time, and hears Ctrl-C. Called once, at its beginning, in its main thread.

    Parameters: begun, when the process began, by the clock of `time.monotonic` [s]; told, the exit code of what a
    function does, whatever goes wrong in it; hears, whether it hears Ctrl-C: not where somebody made it deaf to it.
    """
    _stops.begun, _stops.told = begun, told
    ear, mouth = socket.socketpair()
    mouth.setblocking(False)
    _stops.waker = mouth
    if hears:
        signal.signal(signal.SIGINT, _on_interrupt)
        # the number of a signal is written here the moment it comes, even while a solver is at work
        signal.set_wakeup_fd(mouth.fileno(), warn_on_full_buffer=False)
    threading.Thread(target=_listening, args=(ear,), daemon=True).start()


@contextmanager
def throwing() -> Iterator[None]:
    """While it lasts Ctrl-C throws KeyboardInterrupt: into questions, and into what puts itself in order after one."""
    before, _stops.throws = _stops.throws, True
    try:
        yield
    finally:
        _stops.throws = before


@contextmanager
def watched(
    watch: Watch,
    give_best: Callable[[], int] | None = None,
    ready: Callable[[], bool] = lambda: True,
    takes: Callable[[], float] = lambda: 0.0,
) -> Iterator[None]:
    """While it lasts, Ctrl-C and the end of the time stop `watch`, and what goes on all the same.

    Parameters: give_best, called where the command has to be ended before it has given anything: gives the best so
    far, and the exit code; ready, whether there is anything to give yet: for that a moment more is waited; takes, how
    long it takes to give it [s].
    """
    _stops.watch, _stops.give_best, _stops.ready, _stops.takes = watch, give_best, ready, takes
    _wake()
    try:
        yield
    finally:
        _stops.watch = _stops.give_best = None


def only_voice() -> None:
    """Be the one who gives the result; if it is being given already, this thread has nothing more to do."""
    if not _stops.voice.acquire(blocking=False) and _stops.waker is not None:
        threading.Event().wait()


def _wake() -> None:
    if _stops.waker is not None:
        _stops.waker.send(_BYTE_OF_OURS)


def _on_interrupt(_number: int, _frame: FrameType | None) -> None:
    _stops.interrupted = True
    if _stops.throws:
        raise KeyboardInterrupt


def _listening(ear: socket.socket) -> None:
    while True:
        ear.settimeout(_until_the_end(_stops.watch, _stops.takes()))
        try:
            heard = ear.recv(1)
        except TimeoutError:
            _end(None)
            continue
        if heard and heard != _BYTE_OF_OURS:
            _stops.interrupted = True
            _end(INTERRUPTED, ear)


def _until_the_end(watch: Watch | None, takes: float) -> float | None:
    """Seconds until a command is ended whose time is over; None if it has no limit.

    Parameter: takes, how long it takes then to give the best so far, without its reasons [s].
    """
    left = None if watch is None else watch.to_the_end()
    if watch is None or left is None or watch.seconds is None:
        return None
    return max(0.05, left - max(0.0, takes - AFTER_THE_END) + max(_BEYOND, _SHARE_BEYOND * watch.seconds))


def _end(code: int | None, ear: socket.socket | None = None) -> None:
    """Stop, wait a moment, give the best so far, end. Without `code` the time was over, and the best says the code."""
    watch, give_best, ready = _stops.watch, _stops.give_best, _stops.ready
    if watch is not None:
        watch.stop()
    if code is None:
        _wait_until(ready)
    if ear is not None and (watch is not None or _stops.throws):
        own = max(0.05, min(_OF_ITS_OWN, IN_ALL - _stops.takes()))
        _wait_for_a_second(ear, own if watch is not None else _TO_TIDY_UP)
    if not _stops.voice.acquire(timeout=0 if code is None else _FOR_THE_BEST):
        if code is None:
            # it is being given just now, and will be whole
            return
        end_at_once(code)
    # computing on would take half the time from giving the best so far
    break_off(threading.main_thread())
    found = _stops.told(give_best) if give_best is not None else 0
    end_at_once(found if code is None else code)


def _wait_until(ready: Callable[[], bool]) -> None:
    ends = time.monotonic() + _TO_BE_READY
    while not ready() and time.monotonic() < ends:
        time.sleep(0.02)


def _wait_for_a_second(ear: socket.socket, seconds: float) -> None:
    """Wait for whoever computes to come to an end; a second Ctrl-C is less patient."""
    ends = time.monotonic() + seconds
    while (left := ends - time.monotonic()) > 0:
        ear.settimeout(left)
        try:
            heard = ear.recv(1)
        except TimeoutError:
            return
        if heard and heard != _BYTE_OF_OURS:
            end_at_once(INTERRUPTED)
