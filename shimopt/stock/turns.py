"""Who writes next to a stock in a file: in the order in which they asked, and one who dies is passed over.

Each who asks takes a number, and holds the byte of that number in a file beside the stock for as long as it takes. It
has its turn when nobody holds a lower one. The system lets go of the bytes of a process that ends, however it ends; and
of one that closes the file, so that nothing else may open it.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Lock

from shimopt.machine import ByteLocks, byte_locks
from shimopt.stock.store import StockError
from shimopt.tables.locking import locked

_LONGEST_WAIT = 20.0
_BETWEEN_TRIES = 0.001
# the counter's own byte; tickets begin behind it
_COUNTER, _FIRST = 0, 16
_DIGITS = 12
# byte locks are a process's own: threads of one wait for each other here
_threads: dict[str, Lock] = {}
_making = Lock()


@contextmanager
def in_turn(path: Path, longest_wait: float = _LONGEST_WAIT) -> Iterator[None]:
    """Have the turn to write to the stock at `path`. Raises StockError where it does not come in time."""
    locks = byte_locks()
    if locks is None:
        # a system without locks on bytes: whoever tries first, has it
        with locked(path, longest_wait, "stock"):
            yield
        return
    queue = path.with_name(f".{path.name}.turns")
    with _making:
        mine = _threads.setdefault(os.path.realpath(queue), Lock())
    until = time.monotonic() + longest_wait
    if not mine.acquire(timeout=longest_wait):
        raise _too_long(path)
    try:
        try:
            file = os.open(queue, os.O_RDWR | os.O_CREAT, 0o666)
        except OSError as error:
            rule = f"the stock may only be read here ({error.strerror})"
            raise StockError(str(path), rule, "allow writing to the file and to its folder") from None
        try:
            _wait(locks, file, path, until)
            yield
        finally:
            # this lets go of all its bytes
            os.close(file)
    finally:
        mine.release()


def _wait(locks: ByteLocks, file: int, path: Path, until: float) -> None:
    while not locks.alone(file, _COUNTER, 1):
        _pause(path, until)
    number = int(os.pread(file, _DIGITS, 0).strip(b"\0 ") or 0) + 1
    os.pwrite(file, f"{number:>{_DIGITS}}".encode(), 0)
    locks.alone(file, _FIRST + number, 1)
    locks.let_go(file, _COUNTER, 1)
    # beside others who only look: a byte that somebody holds for himself is a turn that has not ended
    while not locks.beside_others(file, _FIRST, number):
        _pause(path, until)


def _pause(path: Path, until: float) -> None:
    if time.monotonic() > until:
        raise _too_long(path)
    time.sleep(_BETWEEN_TRIES)


def _too_long(path: Path) -> StockError:
    rule = "other programs are writing to the stock, and the turn did not come"
    return StockError(str(path), rule, "wait for them to finish, and try again")
