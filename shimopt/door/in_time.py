"""A plan within its time: what it is computed by may hear nothing for a while, so that somebody else must wait."""

from __future__ import annotations

from concurrent.futures import Future
from concurrent.futures import TimeoutError as StillAtWork
from threading import Thread

from shimopt.job import Job
from shimopt.planner import Decision, best_so_far, decide
from shimopt.watch import Watch

__all__ = ["decided_in_time"]

# beyond its time the search may go on for so long [s], or for this share of it; then its best is taken without it
_BEYOND, _SHARE_BEYOND = 0.4, 0.06


def decided_in_time(job: Job, watch: Watch, *, buy: bool = False, choices: bool = False) -> Decision:
    """What `decide` comes to, or where the time is over before, the best so far without its reasons.

    A search that is left behind ends by itself, when it next asks the watch. Raises InputError, FaultError.
    """
    left = watch.left()
    if left is None or watch.seconds is None:
        return decide(job, buy=buy, watch=watch, choices=choices)
    found: Future[Decision] = Future()

    def search() -> None:
        try:
            found.set_result(decide(job, buy=buy, watch=watch, choices=choices))
        except BaseException as error:  # whatever it is, it is raised where somebody waits for it
            found.set_exception(error)

    Thread(target=search, daemon=True).start()
    try:
        return found.result(left + max(_BEYOND, _SHARE_BEYOND * watch.seconds))
    except StillAtWork:
        watch.stop()
        return best_so_far(job, watch, buy=buy)
