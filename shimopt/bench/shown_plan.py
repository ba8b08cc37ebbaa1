"""Which plan a page shows: of which state of its files, and what it does.

What changes its files without changing what it does, as a hold of other pieces in the same stock, leaves it as it is.
A plan that the clock ended may come out otherwise when it is worked out again, though no file has changed.
"""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

from shimopt.bench.freshness import Signature, named, signature_of
from shimopt.errors import InputError
from shimopt.job import Job, load_job
from shimopt.planner import Chosen, Decision, chosen_stacks, explained
from shimopt.watch import Watch
from shimopt.words.bench_words import CHANGED_SINCE, NO_VERSION, OTHERWISE_NOW, STOCK_SINCE, best_so_far_words


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


def chosen_now(watch: Watch, path: str, files: tuple[str, ...] = ()) -> tuple[Chosen, Signature, Watch | None]:
    """What is chosen for a job as its files are now, their marks, and the watch where it ended the choice too early.

    Parameter: files, as for `loaded`. Raises InputError.
    """
    job, signature = loaded(path, files)
    chosen = chosen_stacks(job, watch=watch)
    return chosen, signature, ended_by(watch, chosen)


def ended_by(watch: Watch, chosen: Chosen) -> Watch | None:
    """The watch, where its time was over before the choice was worked out to its end; asked right after it."""
    late = watch.left() == 0 and not all(level.proven for level in chosen.choice.levels)
    return watch if late else None


def planned(watch: Watch, path: str) -> tuple[Decision, str, list[str]]:
    """The plan of a job as its files are now, which one it is, and what is to be said of it. Raises InputError."""
    chosen, signature, ended = chosen_now(watch, path)
    plan = explained(chosen, watch=watch)
    return plan, version_of(plan, signature), best_so_far(ended)


def version_of(decision: Decision, signature: Signature) -> str:
    """What names the plan that a page shows: its files, and what it does."""
    job, outcome, parts = decision.job, decision.outcome.gaps, [line.part for line in decision.job.stock]
    # the job's own file comes first, with two marks
    taken_from = named(signature[2:], job.drawer_of.version() if job.drawer_of is not None else "")
    gaps = [
        (gap.name, gap.window, gap.reading.bracket, outcome[gap.name].after, outcome[gap.name].verdict)
        for gap in job.gaps
    ]
    pieces = [
        (place, [(parts[i].name, parts[i].piece, parts[i].thickness) for i in stack])
        for place, stack in sorted(decision.stacks.items())
    ]
    return f"{named(signature[:2])}-{taken_from}.{sha256(repr((gaps, pieces)).encode()).hexdigest()[:16]}"


def best_so_far(ended: Watch | None) -> list[str]:
    """What is to be said of a plan that the clock ended."""
    return [] if ended is None else [best_so_far_words(ended.seconds or 0)]


def refuse_other(path: str, shown: str, now: str) -> None:
    """Raise InputError where the plan does something else than the one that was shown."""
    files_shown, _, does_shown = shown.partition(".")
    files, _, does = now.partition(".")
    if does != does_shown:
        otherwise = OTHERWISE_NOW if files == files_shown else STOCK_SINCE
        if files.partition("-")[0] != files_shown.partition("-")[0]:
            otherwise = CHANGED_SINCE
        raise InputError.at(Path(path).name, *(otherwise if shown else NO_VERSION))
