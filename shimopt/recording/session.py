"""Recording in an order that survives being cut off at any point.

1. The job file gets the record; where the drawer is to be changed, marked "pending", with the drawer's fingerprint as
   it is and as it will be.
2. The drawer gets its new counts.
3. The record is marked "done".

Cut off between 1 and 2 the drawer still has its fingerprint from before: a second run applies the change. Cut off
between 2 and 3 it has the one from after: a second run only marks it done. With any other fingerprint somebody else
changed the drawer, and a person has to say which of the two it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal
from uuid import uuid4

from shimopt.errors import InputError, Problem
from shimopt.job import Job
from shimopt.job.record import FittedPiece, Record, RecordedGap, last_settled, pieces_moved
from shimopt.lengths import Bracket
from shimopt.planner import Decision
from shimopt.recording.compare import Compared, compare
from shimopt.recording.drawer import Change, changes_of, drawer_with
from shimopt.recording.job_file import job_with_record, keep_copy, read_job_text, write_job_text
from shimopt.tables.files import file_fingerprint
from shimopt.tables.locking import locked
from shimopt.tables.read import is_workbook

__all__ = ["Recorded", "Settle", "record_job", "settle_drawer"]

Settle = Literal["apply", "done"]


@dataclass(frozen=True, slots=True)
class Recorded:
    """What was recorded: the record, each gap compared, the drawer's changes, the copy of the old job file.

    `again` where the same had been recorded before and nothing was written; `settled` where only the drawer was brought
    into line with an earlier record.
    """

    record: Record
    compared: tuple[Compared, ...]
    changes: tuple[Change, ...]
    copy: Path | None = None
    again: bool = False
    settled: bool = False


def record_job(
    decision: Decision,
    found: Mapping[str, Bracket],
    *,
    date: str,
    person: str,
    instrument: str,
    update_drawer: bool = False,
) -> Recorded:
    """Write a record of the plan as fitted and of what was read afterwards.

    Raises InputError; unless the drawer could not be replaced after the job file was, nothing is written then.
    """
    job = decision.job
    assert job.sources is not None
    path = job.sources.job
    predicted = {name: outcome.after for name, outcome in decision.outcome.gaps.items()}
    compared = tuple(compare(job, decision.stacks, predicted, found))
    record = Record(
        uuid4().hex[:12],
        date,
        person,
        instrument,
        _places(decision),
        {gap.name: RecordedGap(predicted[gap.name], found.get(gap.name)) for gap in job.gaps},
    )
    last = job.records[-1] if job.records else None
    if last is not None and _the_same(last, record):
        return Recorded(last, compared, (), again=True)
    with locked(path, what="job"):
        text = read_job_text(path)
        if not update_drawer or job.sources.drawer is None:
            write_with_copy = job_with_record(path, text, record, job.unit)
            copy = keep_copy(path, text)
            write_job_text(path, write_with_copy)
            return Recorded(record, compared, (), copy)
        return _with_drawer(job, text, record, last_settled(job.records, job.was_in), compared, bought=decision.buy)


def settle_drawer(job: Job, settle: Settle | None = None) -> Recorded | None:
    """Bring the drawer into line with the last record; None where there is nothing to do.

    Raises InputError where somebody else changed the drawer since the record was begun and `settle` does not say
    whether the record's changes are in it.
    """
    last = job.records[-1] if job.records else None
    if last is None or job.sources is None or job.sources.drawer is None or last.drawer in ("done", "by hand"):
        return None
    path, drawer = job.sources.job, job.sources.drawer
    before = last_settled(job.records, job.was_in)
    with locked(path, what="job"):
        text = read_job_text(path)
        if last.drawer == "untouched":
            return _with_drawer(job, text, last, before, (), replace_last=True)
        with locked(drawer):
            now = file_fingerprint(drawer)
            changes: list[Change] = []
            if now == last.drawer_before or settle == "apply":
                changes = changes_of(pieces_moved(before, last), drawer, list(job.sources.catalogues), bought=True)
                drawer_with(drawer, changes).save()
            elif now != last.drawer_after and settle != "done":
                raise _cannot_tell(drawer)
            done = replace(last, drawer="done")
            write_job_text(path, job_with_record(path, text, done, job.unit, replace_last=True))
        return Recorded(done, (), tuple(changes), settled=True)


def _cannot_tell(drawer: Path) -> InputError:
    rule = (
        "the drawer was changed by somebody else after a record of this job was begun, so it cannot be seen whether "
        "the record's pieces were taken out of it"
    )
    remedy = "count them, then run this again with --settle apply or --settle done"
    return InputError([Problem(str(drawer), "", "", rule, remedy)])


def _with_drawer(
    job: Job,
    text: str,
    record: Record,
    before: Record | None,
    compared: tuple[Compared, ...],
    *,
    bought: bool = False,
    replace_last: bool = False,
) -> Recorded:
    """The three steps. The job file is locked already."""
    assert job.sources is not None
    assert job.sources.drawer is not None
    path, drawer = job.sources.job, job.sources.drawer
    with locked(drawer):
        changes = changes_of(pieces_moved(before, record), drawer, list(job.sources.catalogues), bought=bought)
        if is_workbook(drawer):
            record = replace(record, drawer="by hand")
            new = job_with_record(path, text, record, job.unit, replace_last=replace_last)
            copy = keep_copy(path, text)
            write_job_text(path, new)
            return Recorded(record, compared, tuple(changes), copy, settled=replace_last)
        changed = drawer_with(drawer, changes)
        pending = replace(
            record, drawer="pending", drawer_before=file_fingerprint(drawer), drawer_after=changed.fingerprint
        )
        begun = job_with_record(path, text, pending, job.unit, replace_last=replace_last)
        copy = keep_copy(path, text)
        write_job_text(path, begun)
        changed.save()
        done = replace(pending, drawer="done")
        write_job_text(path, job_with_record(path, begun, done, job.unit, replace_last=True))
    return Recorded(done, compared, tuple(changes), copy, settled=replace_last)


def _places(decision: Decision) -> dict[str, tuple[FittedPiece, ...]]:
    """What is in every place afterwards: the plan's stack, or what was in before where the place was left alone."""
    job = decision.job
    places: dict[str, tuple[FittedPiece, ...]] = {}
    for place in job.places:
        stack = decision.stacks.get(place.name, ())
        pieces = tuple(FittedPiece.of(job.stock[i].part) for i in stack) or job.kept(place.name)
        if pieces:
            places[place.name] = pieces
    return places


def _the_same(old: Record, new: Record) -> bool:
    """Whether a record says nothing new: the same readings on the same day, and the same pieces."""
    reads = [{name: gap.read for name, gap in record.gaps.items() if gap.read} for record in (old, new)]
    return reads[0] == reads[1] and dict(old.places) == dict(new.places) and old.date[:10] == new.date[:10]
