"""Recording in an order that survives being cut off at any point.

1. The job file gets the record; where the drawer is to be changed, marked "pending", with the drawer's version.
2. The drawer makes the changes, under the record's id.
3. The record is marked "done".

Cut off between 1 and 2 the drawer is still in that version: a second run applies the changes. Cut off between 2 and 3
the drawer knows the id: a second run only marks it done. Where neither holds somebody else changed the drawer, and a
person has to say which of the two it is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import KW_ONLY, dataclass, field, replace
from pathlib import Path
from typing import Literal, NamedTuple
from uuid import uuid4

from shimopt.arithmetic.agreement import Compared, compare
from shimopt.assembly import RunningTorque
from shimopt.errors import InputError
from shimopt.job import Gap, Job
from shimopt.job.record import Record, RecordedGap, last_settled, pieces_moved, settled
from shimopt.lengths import Bracket
from shimopt.parts.csv_drawer import CsvDrawer, write_as_csv
from shimopt.parts.drawer import Change, Drawer, DrawerChangedError, FittedPiece, matching_line, put_aside, worked_out
from shimopt.parts.part import StockLine
from shimopt.planner import Decision
from shimopt.recording.fitted import Fitted, fitted_by_default, found_as_first
from shimopt.recording.job_file import JobFile, opened

Settle = Literal["apply", "done"]
_MOST_TRIES = 20


@dataclass(frozen=True, slots=True)
class Visit:
    """Who read the gaps, when (ISO) and with what; `running` is the running torque of those gaps where it was taken,
    `blades` the pairs of blades of those that were read by them, `machined` what was done to gaps without a shim;
    `pulls` how many pulls of a dial those were of which the mean was taken.
    """

    date: str
    person: str
    instrument: str
    running: Mapping[str, RunningTorque] = field(default_factory=dict)
    blades: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    machined: Mapping[str, str] = field(default_factory=dict)
    pulls: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Recorded:
    """What was recorded: the record, each gap compared, the drawer's changes, the copy of the old job file.

    `fitted` is what is in the places, None where only the drawer was brought into line with an earlier record
    (`settled`); `again` where the same had been recorded before and nothing was written; `as_csv` is the CSV that a
    workbook became; `bought` counts the pieces that went in though the drawer never held them: they count as bought, or
    will where its counts do not follow yet; `aside` those that came out worn, and go into no drawer.
    """

    record: Record
    compared: tuple[Compared, ...]
    changes: tuple[Change, ...]
    copy: Path | None = None
    _: KW_ONLY
    again: bool = False
    settled: bool = False
    fitted: Fitted | None = None
    as_csv: Path | None = None
    bought: Mapping[FittedPiece, int] = field(default_factory=dict)
    aside: Mapping[FittedPiece, int] = field(default_factory=dict)

    def unread_outside(self, job: Job) -> list[Gap]:
        """The gaps that nobody read at a visit, and that with what is in are outside by calculation."""
        gaps = self.record.gaps
        return [g for g in job.gaps if gaps[g.name].read is None and g.window.off(gaps[g.name].predicted.best)]


class _Moves(NamedTuple):
    """The changes of a drawer, how many of each piece went in that it never held, how many are put aside."""

    changes: Sequence[Change]
    bought: Mapping[FittedPiece, int]
    aside: Mapping[FittedPiece, int]


def record_job(
    decision: Decision,
    found: Mapping[str, Bracket],
    visit: Visit,
    *,
    fitted: Fitted | None = None,
    update_drawer: bool = False,
    as_csv: bool = False,
) -> Recorded:
    """Write a record of what was fitted and of what was read afterwards.

    Parameters: fitted, what is in the places, by default if not given; update_drawer, whether the drawer's counts
    follow; as_csv, whether they do and a workbook becomes a CSV for it. A job that was read from no file is not written
    anywhere: the record that is handed back is all there is.

    Raises JobChangedError where the job's file says something else by now, InputError; unless the drawer could not be
    changed after the job file was, nothing is written then.
    """
    job, fitted = decision.job, fitted or fitted_by_default(decision)
    first = found_as_first(fitted, found) if decision.to_find_out else {}
    predicted = fitted.predicted | first
    compared = tuple(compare(fitted.job, fitted.stacks, predicted, found, machined=visit.machined))
    fitted = replace(fitted, as_first=tuple(row.gap for row in compared if row.gap in first and row.code == "agrees"))
    record = Record(
        uuid4().hex[:12],
        visit.date,
        visit.person,
        visit.instrument,
        fitted.pieces,
        {
            gap.name: RecordedGap(
                predicted[gap.name],
                found.get(gap.name),
                visit.running.get(gap.name),
                visit.blades.get(gap.name),
                visit.machined.get(gap.name, ""),
                visit.pulls.get(gap.name, 0),
            )
            for gap in job.gaps
        },
    )
    last = job.records[-1] if job.records else None
    with opened(job) as file:
        # somebody else may have recorded the job while its readings were being typed
        last = file.told_since(lambda other: _the_same(other, record)) or last
        if last is not None and _the_same(last, record):
            return Recorded(last, compared, (), again=True, fitted=fitted)
        if job.drawer_of is None:
            file.put(record)
            return Recorded(record, compared, (), file.copy, fitted=fitted)
        before = last_settled(job.records, job.was_in, job.drawer_of.version())
        if not (update_drawer or as_csv or job.drawer_of.shared):
            moves = _moves(before, record, job.drawer_of.stock(), bought=True)
            file.put(record)
            return Recorded(record, compared, (), file.copy, fitted=fitted, bought=moves.bought, aside=moves.aside)
        with _drawer_to_change(job, file, as_csv=as_csv) as drawer:
            record, made = _with_drawer(drawer, file, record, before, bought=decision.buy)
        copy, csv, bought, aside = file.copy, file.drawer, made.bought, made.aside
        changes = tuple(made.changes)
        return Recorded(record, compared, changes, copy, fitted=fitted, as_csv=csv, bought=bought, aside=aside)


def settle_drawer(job: Job, settle: Settle | None = None, *, as_csv: bool = False) -> Recorded | None:
    """Bring the drawer into line with the last record; None where there is nothing to do.

    Parameters: settle, whether the record's changes are still to be made ("apply") or are in the drawer ("done"), where
    that cannot be seen; as_csv, whether a workbook becomes a CSV for it.

    Raises JobChangedError where the job's file says something else by now, and InputError where somebody else changed
    the drawer since the record was begun and `settle` does not say whether the record's changes are in it.
    """
    last, drawer = job.records[-1] if job.records else None, job.drawer_of
    if last is None or drawer is None or last.drawer == "done":
        return None
    now, by_hand, pending = drawer.version(), last.drawer == "by hand", last.drawer == "pending"
    if by_hand and settled(last, now):
        # whether what was changed was what the record had told, only a person knows
        if not (as_csv or drawer.writable):
            return None
        if settle is None:
            raise _not_seen(drawer)
    before = last if by_hand and settle == "done" else last_settled(job.records[:-1], job.was_in, now)
    with opened(job, replace_last=True, keep_copy=not pending) as file:
        file.told_since(lambda _: False)
        with _drawer_to_change(job, file, as_csv=as_csv) as changed:
            if pending:
                made, version = _finished(changed, last, before, settle)
                record = replace(last, drawer="done", drawer_after=version)
                file.put(record)
            else:
                record, made = _with_drawer(changed, file, last, before, bought=True)
        copy, csv = None if pending else file.copy, file.drawer
        return Recorded(
            record, (), tuple(made.changes), copy, settled=True, as_csv=csv, bought=made.bought, aside=made.aside
        )


def drawer_as_csv(job: Job) -> Path:
    """Write the job's workbook as a CSV beside it, and let the job use that. Raises InputError."""
    with opened(job) as file, _drawer_to_change(job, file, as_csv=True) as drawer:
        if file.drawer is None:
            rule, remedy = "the job's drawer is no workbook in a file", "there is nothing to write as a CSV"
            raise InputError.at(drawer.name, rule, remedy)
        file.put(None)
        return file.drawer


@contextmanager
def _drawer_to_change(job: Job, file: JobFile, *, as_csv: bool) -> Iterator[Drawer]:
    """The drawer that a record changes: the CSV that a workbook becomes, which is gone again if nothing comes of it."""
    drawer, sources = job.drawer_of, job.sources
    if drawer is None:
        raise InputError.at("", "the job has no drawer", "name one, or leave its counts alone", where="drawer")
    if not as_csv or drawer.writable or sources is None or sources.drawer is None:
        yield drawer
        return
    path, new = write_as_csv(sources.drawer)
    file.take_drawer(path)
    try:
        yield CsvDrawer(path, sources.catalogues)
    except InputError:
        if new and not file.written:
            path.unlink(missing_ok=True)
        raise


def _with_drawer(
    drawer: Drawer, file: JobFile, record: Record, before: Record | None, *, bought: bool
) -> tuple[Record, _Moves]:
    """The three steps; again from the first if somebody else changes the drawer between the first and the second."""
    for _ in range(_MOST_TRIES):
        version = drawer.version()
        try:
            moves = _moves(before, record, drawer.stock(), bought=bought)
            shown = worked_out(moves.changes, drawer.stock(), drawer.name, drawer.held() if drawer.shared else None)
        except InputError:
            file.put_back()
            raise
        if not drawer.writable:
            by_hand = replace(record, drawer="by hand", drawer_before=version)
            file.put(by_hand)
            return by_hand, moves._replace(changes=shown)
        pending = replace(record, drawer="pending", drawer_before=version)
        file.put(pending)
        try:
            moved = drawer.move(moves.changes, version, record.id, record.person)
        except DrawerChangedError:
            continue
        done = replace(pending, drawer="done", drawer_after=moved.version)
        file.put(done)
        return done, moves._replace(changes=moved.changes)
    raise _cannot_tell(drawer)


def _finished(drawer: Drawer, last: Record, before: Record | None, settle: Settle | None) -> tuple[_Moves, str]:
    """Finish a record that was cut off: what is still to be changed in the drawer, and its version afterwards."""
    now = drawer.version()
    # a record of an earlier shimopt foretold the version
    if last.drawer_after == now:
        return _Moves((), {}, {}), now
    moves = _moves(before, last, drawer.stock(), bought=True)
    try:
        if settle == "apply" and now != last.drawer_before:
            moved = drawer.move(moves.changes, now, f"{last.id}-settled", last.person)
        else:
            # where an id is never forgotten, it tells by itself whether it was done
            moved = drawer.move(moves.changes, now if drawer.shared else last.drawer_before, last.id, last.person)
    except DrawerChangedError:
        if settle == "done":
            return _Moves((), {}, {}), now
        raise _cannot_tell(drawer) from None
    return moves._replace(changes=moved.changes), moved.version


def _moves(before: Record | None, after: Record, stock: Sequence[StockLine], *, bought: bool) -> _Moves:
    """What the drawer gives and gets between two records; if `bought`, what it lacks was bought and never lay in it."""
    moved = _one_piece(pieces_moved(before, after), stock)
    left = Counter({i: line.on_hand for i, line in enumerate(stock)})
    # what came out lies there before anything goes in
    for piece, into in moved.items():
        if into < 0 and (at := matching_line(piece, stock)) is not None:
            left[at] -= into
    changes, new, aside = [], dict[FittedPiece, int](), dict[FittedPiece, int]()
    for piece, into in moved.items():
        taken = into
        if into < 0 and put_aside(piece, stock):
            aside[piece] = -into
            continue
        if bought and into > 0:
            at = matching_line(piece, stock, taken=True)
            taken = 0 if at is None else min(into, left[at])
            if at is not None:
                left[at] -= taken
            if taken < into:
                new[piece] = into - taken
        changes.append(Change(piece, -taken))
    return _Moves(changes, new, aside)


def _one_piece(moved: Counter[FittedPiece], stock: Sequence[StockLine]) -> Counter[FittedPiece]:
    """What moved, without a piece that was only measured where it is, or came out measured and went back by its label.

    That it went back is taken for granted where the drawer has no other to give.
    """
    here = Counter({i: line.on_hand for i, line in enumerate(stock)})
    back = [piece for piece, into in moved.items() if into < 0]
    for piece in back:
        if (at := matching_line(piece, stock)) is not None:
            here[at] -= moved[piece]
    found = Counter(moved)
    for piece, into in moved.items():
        at = matching_line(piece, stock, taken=True) if into > 0 else None
        lacking = max(0, into - here[at]) if at is not None else max(0, into)
        for other in back:
            if (other.part, other.piece) == (piece.part, piece.piece):
                # where one lies back in its row, another of that row that goes in is as good as the same
                most = found[piece] if at is not None and at == matching_line(other, stock) else lacking
                same = max(0, min(most, -found[other]))
                found[other] += same
                found[piece] -= same
                lacking -= same
    return Counter({piece: into for piece, into in found.items() if into})


def _not_seen(drawer: Drawer) -> InputError:
    rule = (
        "it was changed since the last record told what to change in it by hand, and nobody can see whether that was it"
    )
    remedy = "count them, then run this again with --settle done (they are in it) or --settle apply (they are not)"
    return InputError.at(drawer.name, rule, remedy)


def _cannot_tell(drawer: Drawer) -> InputError:
    rule = (
        "the drawer was changed by somebody else after a record of this job was begun, so it cannot be seen whether "
        "the record's pieces were taken out of it"
    )
    remedy = "count them, then run this again with --settle apply or --settle done"
    return InputError.at(drawer.name, rule, remedy)


def _the_same(old: Record, new: Record) -> bool:
    """Whether a record says nothing new: the same readings on the same day, and the same pieces."""
    reads = [
        {name: (gap.read, gap.running) for name, gap in record.gaps.items() if gap.read or gap.running}
        for record in (old, new)
    ]
    return reads[0] == reads[1] and dict(old.places) == dict(new.places) and old.date[:10] == new.date[:10]
