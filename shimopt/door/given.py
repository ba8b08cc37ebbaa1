"""What the functions of the door are given: a job in any of its shapes, a unit, and how long a search may take."""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Iterable, Mapping
from concurrent.futures import Future
from concurrent.futures import TimeoutError as StillAtWork
from threading import Thread
from typing import Any

from shimopt.errors import InputError, did_you_mean
from shimopt.job import Job, job_from, load_job
from shimopt.lengths import UNITS
from shimopt.planner import Decision, best_so_far, decide
from shimopt.watch import Watch

# a job, the path of its file or folder, or a mapping with the keys of job.toml
JobLike = Job | str | os.PathLike[str] | Mapping[str, Any]
# beyond its time the search may go on for so long [s], or for this share of it; then its best is taken without it
_BEYOND, _SHARE_BEYOND = 0.4, 0.06


def loaded(job: JobLike) -> Job:
    """The job itself. Raises InputError."""
    if isinstance(job, Job):
        return job
    return job_from(job) if isinstance(job, Mapping) else load_job(job)


def loaded_all(jobs: JobLike | Iterable[JobLike]) -> list[Job]:
    """One job or several, each itself. Raises InputError."""
    several = not isinstance(jobs, Job | str | Mapping) and isinstance(jobs, Iterable)
    given: list[Any] = list(jobs) if several else [jobs]  # type: ignore[arg-type] # a path is no iterable
    return [loaded(job) for job in given]


def watch_of(time_limit: float | None, steps: int | None, progress: Callable[[str], None] | None = None) -> Watch:
    """A watch that begins now. Raises InputError."""
    for name, limit, least in (("time_limit", time_limit, "above 0"), ("steps", steps, "1 or more")):
        if limit is not None and not limit > 0:
            rule, remedy = f"a limit is {least}", "leave it out for no limit of this kind"
            raise InputError.at("", rule, remedy, where=name, value=str(limit))
    return Watch(seconds=time_limit, steps=steps, progress=progress)


def known(name: str, names: Mapping[str, Any], where: str, what: str) -> str:
    """A name that is known. Raises InputError, with the one that was probably meant."""
    if name not in names:
        remedy = did_you_mean(name, names, f"it has {', '.join(list(names)[:8])}")
        raise InputError.at("", f"the job has no {what} of this name", remedy, where=where, value=name)
    return name


def names_of(names: str | Collection[str]) -> Collection[str]:
    """The names that were given: one alone is a text."""
    return [names] if isinstance(names, str) else names


def unit_for(job: Job, unit: str | None) -> str:
    """The unit to say lengths in, the job's own where none is asked for. Raises InputError."""
    if unit is not None and unit not in UNITS:
        raise InputError.at("", f"a unit is one of {', '.join(UNITS)}", "name one of these", where="unit", value=unit)
    return unit or job.unit


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
