"""Pieces answered by a Dask cluster: one that is there, or one started here.

Only pieces (a file and where in it) go out, and only finished pieces come back: the workers read the gaps themselves,
so they must see the files under the same paths. A worker that dies loses nothing: Dask gives its pieces to another.
Whoever answers at the address is trusted: what comes back from a Dask cluster is code that runs here.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import CancelledError
from contextlib import contextmanager
from time import monotonic
from typing import Any

from shimopt.batch.answers import Counts
from shimopt.batch.batching import Batch, Worker
from shimopt.batch.table_pieces import Piece
from shimopt.errors import InputError, get_extra
from shimopt.machine import cores

_WAIT = "20s"
# enough that no worker waits for the next piece, few enough that memory stays bounded
_PIECES_PER_THREAD = 3
# seconds between looks at whether anybody is at work, and without anybody
_LOOK, _LONGEST_WITHOUT_WORKERS = 2, 20.0


@contextmanager
def on_cluster(address: str) -> Iterator[Worker]:
    """Somebody who answers pieces on the cluster at `address` (tcp://...), or, if it is "local", on one made here.

    Raises InputError where Dask is not installed or the cluster does not answer.
    """
    try:
        import distributed
    except ImportError:
        raise _refused("Dask is not installed", get_extra("cluster")) from None
    if address != "local" and "://" not in address:
        raise _refused(f"{address} is no address of a scheduler", "write tcp://HOST:PORT, or local")
    try:
        if address == "local":
            client = distributed.Client(
                n_workers=cores(), threads_per_worker=1, dashboard_address=None, silence_logs="CRITICAL"
            )
        else:
            client = distributed.Client(address, timeout=_WAIT)
    except (OSError, ValueError, TimeoutError) as error:
        raise _refused(
            f"the scheduler at {address} does not answer ({str(error)[:80]})", "check the address, and that it runs"
        ) from None
    # a client closes the cluster that it made
    with client:
        yield lambda batch, pieces: _answers(client, batch, pieces)


def _answers(client: Any, batch: Batch, pieces: Iterator[tuple[int, Piece]]) -> Iterator[tuple[int, Counts, bytes]]:
    # made by a task, not sent as data: if the worker that holds it dies, another makes it again
    shared = client.submit(Batch, list(batch.sources.values()), batch.terms, batch.form, batch.exact_names, pure=False)
    under_way: set[Any] = set()
    most = max(2, _PIECES_PER_THREAD * sum(client.nthreads().values()))
    for number, piece in pieces:
        under_way.add(client.submit(_answer, shared, number, piece, pure=False, retries=2))
        if len(under_way) >= most:
            yield _next(client, under_way)
    while under_way:
        yield _next(client, under_way)


def _next(client: Any, under_way: set[Any]) -> tuple[int, Counts, bytes]:
    """The next piece that is finished, under way no longer then. Raises InputError where nobody is left to do it."""
    import distributed

    ends = monotonic() + _LONGEST_WITHOUT_WORKERS
    while True:
        try:
            done = distributed.wait(under_way, timeout=_LOOK, return_when="FIRST_COMPLETED").done
            piece = next(iter(done))
            under_way.discard(piece)
            answered: tuple[int, Counts, bytes] = piece.result()
            return answered
        except TimeoutError:
            # a piece may take its time, as long as somebody is at it
            if client.status == "running" and client.scheduler_info()["workers"]:
                ends = monotonic() + _LONGEST_WITHOUT_WORKERS
            elif monotonic() > ends:
                raise _lost("no worker is left on it") from None
        except (CancelledError, distributed.scheduler.KilledWorker, OSError) as error:
            raise _lost(str(error)[:80] or "it went away") from None


def _lost(reason: str) -> InputError:
    return _refused(
        f"the cluster answers no longer ({reason}); finished pieces are kept",
        "start it again, or leave --scheduler out: the same command then goes on",
    )


def _answer(batch: Batch, number: int, piece: Piece) -> tuple[int, Counts, bytes]:
    return batch.answer(number, piece)


def _refused(rule: str, remedy: str) -> InputError:
    return InputError.at("", rule, remedy, where="--scheduler")
