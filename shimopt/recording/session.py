"""Recording in an order that survives being cut off at any point.

1. The job file gets the record; where the drawer is to be changed, marked "pending", with the drawer's version.
2. The drawer makes the changes, under the record's id.
3. The record is marked "done".

Cut off between 1 and 2 the drawer is still in that version: a second run applies the changes. Cut off between 2 and 3
the drawer knows the id: a second run only marks it done. Where neither holds somebody else changed the drawer, and a
person has to say which of the two it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal
from uuid import uuid4

from shimopt.errors import InputError
from shimopt.job import Job
from shimopt.job.record import Record, RecordedGap, last_settled, pieces_moved
from shimopt.lengths import Bracket
from shimopt.parts.drawer import Change, Drawer, DrawerChangedError, FittedPiece, matching_line, worked_out
from shimopt.parts.part import StockLine
from shimopt.planner import Decision
from shimopt.recording.compare import Compared, compare
from shimopt.recording.job_file import JobFile, opened

__all__ = ["Recorded", "Settle", "record_job", "settle_drawer"]

Settle = Literal["apply", "done"]
_MOST_TRIES = 20


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

    A job that was read from no file is not written anywhere: the record that is handed back is all there is.
    Raises JobChangedError where the job's file says something else by now, InputError; unless the drawer could not be
    changed after the job file was, nothing is written then.
    """
    job = decision.job
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
    with opened(job) as file:
        # somebody else may have recorded the job while its readings were being typed
        last = file.told_since(lambda other: _the_same(other, record)) or last
        if last is not None and _the_same(last, record):
            return Recorded(last, compared, (), again=True)
        if not update_drawer or job.drawer_of is None:
            file.put(record)
            return Recorded(record, compared, (), file.copy)
        before = last_settled(job.records, job.was_in)
        record, changes = _with_drawer(job.drawer_of, file, record, before, bought=decision.buy)
        return Recorded(record, compared, changes, file.copy)


def settle_drawer(job: Job, settle: Settle | None = None) -> Recorded | None:
    """Bring the drawer into line with the last record; None where there is nothing to do.

    Raises JobChangedError where the job's file says something else by now, and InputError where somebody else changed
    the drawer since the record was begun and `settle` does not say whether the record's changes are in it.
    """
    last, drawer = job.records[-1] if job.records else None, job.drawer_of
    if last is None or drawer is None or last.drawer in ("done", "by hand"):
        return None
    before = last_settled(job.records, job.was_in)
    if last.drawer == "untouched":
        with opened(job, replace_last=True) as file:
            file.told_since(lambda _: False)
            record, made = _with_drawer(drawer, file, last, before, bought=True)
            return Recorded(record, (), made, file.copy, settled=True)
    with opened(job, replace_last=True, keep_copy=False) as file:
        file.told_since(lambda _: False)
        made = _finished(drawer, last, before, settle)
        done = replace(last, drawer="done")
        file.put(done)
    return Recorded(done, (), made, settled=True)


def _with_drawer(
    drawer: Drawer, file: JobFile, record: Record, before: Record | None, *, bought: bool
) -> tuple[Record, tuple[Change, ...]]:
    """The three steps; again from the first if somebody else changes the drawer between the first and the second."""
    for _ in range(_MOST_TRIES):
        version = drawer.version()
        try:
            changes = _changes(before, record, drawer.stock(), bought=bought)
            shown = worked_out(changes, drawer.stock(), drawer.name)
        except InputError:
            file.put_back()
            raise
        if not drawer.writable:
            by_hand = replace(record, drawer="by hand")
            file.put(by_hand)
            return by_hand, tuple(shown)
        pending = replace(record, drawer="pending", drawer_before=version)
        file.put(pending)
        try:
            moved = drawer.move(changes, version, record.id)
        except DrawerChangedError:
            continue
        done = replace(pending, drawer="done", drawer_after=moved.version)
        file.put(done)
        return done, moved.changes
    raise _cannot_tell(drawer)


def _finished(drawer: Drawer, last: Record, before: Record | None, settle: Settle | None) -> tuple[Change, ...]:
    """Finish a record that was cut off: what is still to be changed in the drawer."""
    now = drawer.version()
    # a record of an earlier shimopt foretold the version
    if last.drawer_after == now:
        return ()
    changes = _changes(before, last, drawer.stock(), bought=True)
    if settle == "apply" and now != last.drawer_before:
        return drawer.move(changes, now, f"{last.id}-settled").changes
    try:
        return drawer.move(changes, last.drawer_before, last.id).changes
    except DrawerChangedError:
        if settle == "done":
            return ()
        raise _cannot_tell(drawer) from None


def _changes(before: Record | None, after: Record, stock: Sequence[StockLine], *, bought: bool) -> list[Change]:
    """What the drawer gives and gets between two records; if `bought`, what it lacks was bought and never lay in it."""
    changes = []
    for piece, into in pieces_moved(before, after).items():
        if bought and into > 0:
            at = matching_line(piece, stock)
            into = min(into, 0 if at is None else stock[at].on_hand)
        changes.append(Change(piece, -into))
    return changes


def _cannot_tell(drawer: Drawer) -> InputError:
    rule = (
        "the drawer was changed by somebody else after a record of this job was begun, so it cannot be seen whether "
        "the record's pieces were taken out of it"
    )
    remedy = "count them, then run this again with --settle apply or --settle done"
    return InputError.at(drawer.name, rule, remedy)


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
