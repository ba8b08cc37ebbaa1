"""Many jobs: every job.toml below a folder planned in worker processes, results as they come, one table at the end."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import KW_ONLY, astuple, dataclass, fields
from pathlib import Path

from shimopt.errors import FaultError, InputError, writable
from shimopt.machine import cores, deaf_to_interrupts, tidied
from shimopt.parts.part import natural_key

_JOB = "job.toml"


@dataclass(frozen=True, slots=True)
class JobAnswer:
    """What a job came to: `job` is its folder below the one that was named, `exit_code` what `plan` would end with.

    A job that is broken, or whose readings are to be chosen first, has no counts, and its first error. `settle_first`
    is yes where something has to be settled, or read again, before what the plan says can be done; `pieces` are in
    afterwards, of which `go_in` were not before.
    """

    job: str
    _: KW_ONLY
    title: str = ""
    gaps: int | None = None
    inside: int | None = None
    unproven: int | None = None
    outside: int | None = None
    pieces: int | None = None
    exit_code: int = 0
    error: str = ""
    settle_first: str = ""
    go_in: int | None = None


JOB_COLUMNS = tuple(field.name for field in fields(JobAnswer))


def job_files(folder: Path) -> list[Path]:
    """Every job.toml below a folder, in natural order, be it a file or not; and each folder that cannot be looked into.

    Such a folder is given as the job.toml that might be in it. Raises InputError where there is nothing.
    """
    if not folder.is_dir():
        raise InputError.at(folder, "there is no such folder", "name a folder with jobs in it")
    closed: list[str] = []
    walked = os.walk(folder, onerror=lambda error: closed.append(str(error.filename)))
    found = [Path(where, _JOB) for where, folders, files in walked if _JOB in files or _JOB in folders]
    found += [Path(where, _JOB) for where in closed]
    if not found:
        raise InputError.at(folder, f"no {_JOB} lies below this folder", "name the folder that holds the jobs")
    return sorted(found, key=lambda path: (natural_key(_name(path, folder)), _name(path, folder)))


def _name(path: Path, folder: Path) -> str:
    return path.parent.relative_to(folder).as_posix()


def plan_folder(
    folder: Path,
    *,
    buy: bool = False,
    told: Callable[[JobAnswer, int, int], None] | None = None,
    planned: Callable[[str, str, bool], JobAnswer] | None = None,
) -> list[JobAnswer]:
    """Plan all jobs below a folder; the answers are sorted by name. Raises InputError where there are none.

    Parameters: told, given each answer as it comes, how many have come, and how many there are; planned, the function
    that plans one job file (another one in tests).
    """
    files = job_files(folder)
    plan_one = planned or plan_job
    tasks = [(str(path), _name(path, folder), buy) for path in files]
    answers: dict[str, JobAnswer] = {}

    def take(answer: JobAnswer) -> None:
        answers[answer.job] = answer
        if told:
            told(answer, len(answers), len(tasks))

    def left() -> list[tuple[str, str, bool]]:
        return [task for task in tasks if task[1] not in answers]

    try:
        _planned(plan_one, tasks, take, cores())
        # a worker died, and nobody knows of which job: what was lost is planned again, one job after the other
        while lost := left():
            if _planned(plan_one, lost, take, 1) and (rest := left()):
                take(JobAnswer(rest[0][1], exit_code=3, error="The process that planned it died (out of memory?)."))
    finally:
        _end_workers()
    return [answers[name] for _, name, _ in tasks]


def _planned(
    plan_one: Callable[[str, str, bool], JobAnswer],
    tasks: Sequence[tuple[str, str, bool]],
    take: Callable[[JobAnswer], None],
    workers: int,
) -> bool:
    """Plan jobs on so many cores; whether a worker died. Answers that were there before it did are taken."""
    pool = ProcessPoolExecutor(min(workers, len(tasks)), multiprocessing.get_context("spawn"), deaf_to_interrupts)
    died = False
    try:
        with tidied(_end_workers):
            for future in as_completed([pool.submit(plan_one, *task) for task in tasks]):
                try:
                    take(future.result())
                except BrokenProcessPool:
                    died = True
    except KeyboardInterrupt:
        _end_workers()
        raise
    finally:
        pool.shutdown(wait=False, cancel_futures=True)
    return died


def _end_workers() -> None:
    """End the processes that this one started: nobody waits for what they have in hand."""
    for process in multiprocessing.active_children():
        process.terminate()


def plan_job(path: str, name: str, buy: bool) -> JobAnswer:
    """Plan one job; whatever goes wrong with it is part of the answer."""
    from shimopt.door.planned import plan
    from shimopt.job import load_job
    from shimopt.words.first_words import unsettled

    try:
        found = plan(load_job(path), buy)
    except InputError as error:
        return JobAnswer(name, exit_code=2, error=str(error.problems[0]))
    except FaultError as error:
        return JobAnswer(name, exit_code=3, error=f"A fault of our own: {error}")
    except Exception as error:  # one job must not stop the others
        return JobAnswer(name, exit_code=3, error=f"A fault of our own: {type(error).__name__}: {error}")
    verdicts = [gap.verdict for gap in found.outcome.gaps.values()]
    inside, unproven, outside = (verdicts.count(verdict) for verdict in ("inside", "unproven", "outside"))
    return JobAnswer(
        name,
        title=found.job.title,
        gaps=len(verdicts),
        inside=inside,
        unproven=unproven,
        outside=outside,
        pieces=int(found.outcome.levels["pieces"]),
        exit_code=0 if found.doable else 1,
        settle_first="yes" if unsettled(found.decision) else "",
        go_in=len(found.decision.changes.going_in()),
    )


def jobs_table(answers: Sequence[JobAnswer]) -> list[dict[str, object]]:
    """The answers as rows of JOB_COLUMNS."""
    cells = ([writable(one) if isinstance(one, str) else one for one in astuple(answer)] for answer in answers)
    return [dict(zip(JOB_COLUMNS, row, strict=True)) for row in cells]
