"""What a planning process does for the page: each task takes paths and texts, and gives plain data."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from shimopt.bench.freshness import Signature, named, signature_of
from shimopt.bench.index_view import row_data
from shimopt.bench.job_view import job_data
from shimopt.job import Job, load_job
from shimopt.planner import Decision, before_reasons, chosen_stacks, explained
from shimopt.watch import Watch

# tells what is there so far
Tell = Callable[[Any], None]
Task = Callable[..., Any]


def plan(watch: Watch, tell: Tell, path: str, files: tuple[str, ...]) -> dict[str, Any]:
    """The plan of all gaps, told before its reasons are known; then with them. Raises InputError.

    Parameter: files, what the job was read from when it was last read.
    """
    job, signature = _loaded(path, files)
    chosen = chosen_stacks(job, watch=watch)
    tell(_answer(before_reasons(chosen), signature, "plan"))
    return _answer(explained(chosen, watch=watch), signature, "reasons")


def _loaded(path: str, files: tuple[str, ...]) -> tuple[Job, Signature]:
    """The job, and the marks of its files from before it was read: what changes from then on is noticed."""
    while True:
        before = signature_of(files)
        job = load_job(path)
        if job.inputs == files:
            return job, before
        files = job.inputs


def _answer(decision: Decision, signature: Signature, stage: str) -> dict[str, Any]:
    job = decision.job
    return {
        "version": named(signature, job.drawer_of.version() if job.drawer_of is not None else ""),
        "stage": stage,
        "data": job_data(decision, stage),
        "row": row_data(decision),
        "title": job.title,
        "files": job.inputs,
        "signature": signature,
    }


TASKS: Mapping[str, Task] = {"plan": plan}
