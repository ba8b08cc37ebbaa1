"""What the functions of the door are given: a job in any of its shapes, and how long a search may take."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from typing import Any

from shimopt.errors import InputError, nearest_name
from shimopt.job import Job, job_from, load_job
from shimopt.watch import Watch

__all__ = ["JobLike", "known", "loaded", "watch_of"]

# a job, the path of its file or folder, or a mapping with the keys of job.toml
JobLike = Job | str | os.PathLike[str] | Mapping[str, Any]


def loaded(job: JobLike) -> Job:
    """The job itself. Raises InputError."""
    if isinstance(job, Job):
        return job
    return job_from(job) if isinstance(job, Mapping) else load_job(job)


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
        meant = nearest_name(name, names)
        remedy = f"did you mean {meant}?" if meant else f"it has {', '.join(list(names)[:8])}"
        raise InputError.at("", f"the job has no {what} of this name", remedy, where=where, value=name)
    return name
