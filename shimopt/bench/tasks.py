"""What a planning process does for the page: each task takes paths and texts, and gives plain data."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from shimopt.bench import change_tasks, page_tasks
from shimopt.bench.freshness import Signature, signature_of
from shimopt.bench.gap_cards import Strips
from shimopt.bench.index_view import row_data
from shimopt.bench.job_view import job_data
from shimopt.bench.reading_written import ToWrite, Written, write_readings
from shimopt.bench.shown_plan import best_so_far, chosen_now, version_of
from shimopt.errors import InputError
from shimopt.planner import Chosen, Decision, before_reasons, explained
from shimopt.watch import Watch

# tells what is there so far
Tell = Callable[[Any], None]
Task = Callable[..., Any]

# plans whose reasons are still to be worked out, by job: the newest few
_MOST_UNEXPLAINED = 8
_unexplained: dict[str, tuple[Chosen, Signature, Watch | None, Strips]] = {}


def plan(
    watch: Watch, tell: Tell, path: str, files: tuple[str, ...], readings: Sequence[ToWrite], whole: bool = True
) -> dict[str, Any]:
    """Write what was read, and plan: told before the reasons are known, then with them. Raises InputError.

    Parameters: files, what the job was read from when it was last read; whole, whether the reasons are worked out at
    once, or are kept for `reasons`.
    """
    if readings:
        tell(_written(path, files, readings, watch))
    (chosen, signature, ended), strips = chosen_now(watch, path, files), Strips()
    answer = _answer(before_reasons(chosen), signature, ended, "plan", strips)
    if not whole:
        while len(_unexplained) >= _MOST_UNEXPLAINED:
            del _unexplained[next(iter(_unexplained))]
        _unexplained[path] = chosen, signature, ended, strips
        return answer
    tell(answer)
    return _answer(explained(chosen, watch=watch), signature, ended, "reasons", strips)


def reasons(watch: Watch, _: Tell, path: str, files: tuple[str, ...], signature: Signature) -> dict[str, Any]:
    """A plan with its reasons, after `plan` without them: of the stacks that this process chose then, or anew."""
    chosen, of, ended, strips = _unexplained.pop(path, (None, None, None, Strips()))
    if chosen is None or of != signature:
        (chosen, signature, ended), strips = chosen_now(watch, path, files), Strips()
    return _answer(explained(chosen, watch=watch), signature, ended, "reasons", strips)


def _written(path: str, files: tuple[str, ...], readings: Sequence[ToWrite], watch: Watch) -> dict[str, Any]:
    """What became of readings; where nothing could be written, why: they are kept, and written later."""
    before = signature_of(files)
    try:
        found = write_readings(Path(path), readings, watch.over)
    except InputError as error:
        found = Written(problems=error.problems)
    told = {"stage": "written", "found": found, "problems": found.problems}
    return told | {"before": before, "signature": signature_of(files)}


def _answer(
    decision: Decision, signature: Signature, ended: Watch | None, stage: str, strips: Strips
) -> dict[str, Any]:
    job, so_far = decision.job, best_so_far(ended)
    data, row = job_data(decision, stage, strips), row_data(decision)
    return {
        "version": version_of(decision, signature),
        "stage": stage,
        "data": data | {"answer": [*so_far, *data["answer"]]},
        "row": row | {"answer": " ".join([*so_far, row["answer"]])},
        "title": job.title,
        "files": job.inputs,
        "signature": signature,
        "hold": change_tasks.held_for(decision),
        # nothing here tells when a database elsewhere changes
        "far": job.drawer_of is not None
        and job.drawer_of.shared
        and not any(Path(name).exists() for name in job.inputs[1:]),
    }


TASKS: Mapping[str, Task] = {"plan": plan, "reasons": reasons}
# tasks that tell nothing before they are done
FURTHER: Mapping[str, Task] = {
    "gap": page_tasks.gap,
    "record_page": page_tasks.record_page,
    "customer": page_tasks.customer,
    "paper": page_tasks.paper,
    "order": page_tasks.order,
    "card": page_tasks.card,
    "drawer": page_tasks.drawer,
    "history": page_tasks.history,
    "hold": change_tasks.hold,
    "free": change_tasks.free,
    "record": change_tasks.record,
    "add_piece": change_tasks.add_piece,
}
