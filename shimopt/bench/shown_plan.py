"""Which plan a page shows: of which state of its files; and where its clock ended it, which pieces it had come to.

A plan that was worked out to its end comes out the same wherever that is done again; one that the clock ended may not.
"""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

from shimopt.bench.freshness import Signature, named, signature_of
from shimopt.errors import InputError
from shimopt.job import Job, load_job
from shimopt.planner import Chosen, Decision, chosen_stacks, explained
from shimopt.watch import Watch
from shimopt.words.bench_words import CHANGED_SINCE, NO_VERSION, OTHERWISE_NOW, best_so_far_words


def loaded(path: str, files: tuple[str, ...] = ()) -> tuple[Job, Signature]:
    """The job, and the marks of its files from before it was read: what changes from then on is noticed.

    Parameter: files, what it was read from when it was last read. Raises InputError.
    """
    while True:
        before = signature_of(files)
        job = load_job(path)
        if job.inputs == files:
            return job, before
        files = job.inputs


def ended_by(watch: Watch, chosen: Chosen) -> Watch | None:
    """The watch, where its time was over before the choice was worked out to its end; asked right after it."""
    late = watch.left() == 0 and not all(level.proven for level in chosen.choice.levels)
    return watch if late else None


def planned(watch: Watch, path: str) -> tuple[Decision, str, list[str]]:
    """The plan of a job as its files are now, which one it is, and what is to be said of it. Raises InputError."""
    job, signature = loaded(path)
    chosen = chosen_stacks(job, watch=watch)
    ended = ended_by(watch, chosen)
    plan = explained(chosen, watch=watch)
    return plan, version_of(plan, signature, ended), best_so_far(ended)


def version_of(decision: Decision, signature: Signature, ended: Watch | None) -> str:
    """What names the plan that a page shows."""
    job = decision.job
    files = named(signature, job.drawer_of.version() if job.drawer_of is not None else "")
    if ended is None:
        return files
    return f"{files}.{sha256(repr(sorted(decision.stacks.items())).encode()).hexdigest()[:16]}"


def best_so_far(ended: Watch | None) -> list[str]:
    """What is to be said of a plan that the clock ended."""
    return [] if ended is None else [best_so_far_words(ended.seconds or 0)]


def refuse_other(path: str, shown: str, now: str) -> None:
    """Raise InputError where the plan is another one than was shown."""
    if shown == now:
        return
    same_files = shown.partition(".")[0] == now.partition(".")[0]
    raise InputError.at(Path(path).name, *(OTHERWISE_NOW if same_files else CHANGED_SINCE if shown else NO_VERSION))
