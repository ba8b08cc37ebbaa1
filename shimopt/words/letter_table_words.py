"""The letter's table: what was found of each gap, what is allowed, what is done, what it is then; and a second unit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from shimopt.arithmetic.changes import PlaceChange
from shimopt.arithmetic.clearance import Stack
from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.planner import Decision
from shimopt.words.digits import with_digits_of
from shimopt.words.done_words import worked_on_too
from shimopt.words.first_words import nothing_yet_words
from shimopt.words.letter_answer import gap_status, packs_cancel, packs_set, status_doubt
from shimopt.words.picture_words import exchange_words
from shimopt.words.reading_words import limits_text, stands_off
from shimopt.words.speaker import Speaker, sized, unit_name
from shimopt.words.standing import Standing

_MOST_VISITS = 2


def table_columns(decision: Decision) -> list[str]:
    """The heads of the columns beside the gap; after a record what was calculated stands beside what was measured."""
    job = decision.job
    if not job.records:
        return ["found", "allowed", "done", "now" if nothing_now(decision) else "then"]
    days = {job.read_on(gap.name) for gap in job.gaps if gap.reading.after_fitting}
    measured = f"measured {shown(days.pop())}" if len(days) == 1 else "measured"
    columns = ["found", "allowed", "done", "calculated", measured]
    return columns if decision.changes.nothing else [*columns, "then"]


def nothing_now(decision: Decision) -> bool:
    """Whether nothing is changed, or nothing yet."""
    return decision.changes.nothing or nothing_yet_words(decision)[1]


def table_rows(decision: Decision, gaps: Sequence[Gap], say: Speaker, standing: Standing) -> list[list[str]]:
    """The cells of these gaps, one for each column; what packs of several places do for several is told once."""
    rows: list[list[str]] = []
    told: dict[str, str] = {}
    for gap in gaps:
        # what leaves it as it was is told where it does something; of what is looked into first nothing is done yet
        open_ = gap.name in standing.untold
        work = "" if open_ or packs_cancel(decision, gap) else _work_at(decision, gap, say)
        first = told.setdefault(work, gap.name) if packs_set(decision, gap, standing) else gap.name
        work = work if first == gap.name else f"the same packs as {shown(first)}"
        cells = _row(decision, gap, _done(decision, gap, work, standing), say)
        # the column is called "now" where nothing is fitted yet at all
        stands = "as found" if nothing_now(decision) and not decision.job.records else ""
        rows.append([*cells[:-1], stands] if open_ and not decision.changes.nothing else cells)
    return rows


def _row(decision: Decision, gap: Gap, done: str, say: Speaker) -> list[str]:
    """A gap's cells; `done` is what becomes of it, and what is done for that."""
    job, told = decision.job, say.about(gap)
    first, after = job.first_read(gap), say.as_after(decision.outcome.gaps[gap.name].after)
    read = say.as_read(first.found)
    found = stands_off(read, say) if first.opens else told.clearance(read.low, read.high)
    if job.stood_bare(gap):
        found = f"without shims the {found}{_came_out(decision, gap, say)}"
    row = [found, limits_text(gap.window, told), done]
    if job.records:
        row += _since(decision, gap, told)
        if decision.changes.nothing:
            return row
    if job.stood_bare(gap) and not any(decision.stacks.get(place, ()) for place, _ in gap.effects):
        # without shims it still only stands off
        return [*row, "as found"]
    return [*row, told.clearance(after.low, after.high)]


def _came_out(decision: Decision, gap: Gap, say: Speaker) -> str:
    """What was in before the reading; after a record the visits tell it."""
    if not gap.in_own_place or decision.job.records:
        return ""
    out = decision.job.place[gap.name].came_out
    return f"; {say.stack(out, gap.name)} came out" if out else ""


def _since(decision: Decision, gap: Gap, say: Speaker) -> list[str]:
    """What was calculated after the visits so far, and what was measured then."""
    job, now = decision.job, say.as_read(gap.reading.bracket)
    if not gap.reading.recorded:
        return ["", "as found"]
    recorded = next((one.gaps[gap.name] for one in reversed(job.records) if gap.name in one.gaps), None)
    # what was machined since was never calculated
    known = recorded is not None and not job.machined(gap.name)
    # with as many digits as it was planned with, and not with those of what was read since
    planned = with_digits_of(say, [job.first_read(gap).found], [recorded.predicted]) if known and recorded else say
    predicted = planned.as_after(recorded.predicted) if known and recorded else None
    calculated = say.clearance(predicted.low, predicted.high) if predicted else "does not hold"
    if not gap.reading.after_fitting:
        return [calculated, "not measured"]
    days = {job.read_on(one.name) for one in job.gaps if one.reading.after_fitting}
    day = f" ({shown(job.read_on(gap.name))})" if len(days) > 1 else ""
    return [calculated, f"{say.clearance(now.low, now.high)}{day}"]


def _work_at(decision: Decision, gap: Gap, say: Speaker) -> str:
    """What is done for a gap at its places, or was done at the visits so far."""
    places = [place for place, _ in gap.effects]
    now = [decision.changes.at[place] for place in places]
    return _work(
        now if any(change.changed for change in now) else [decision.visit.at[place] for place in places], gap, say
    )


def _done(decision: Decision, gap: Gap, work: str, standing: Standing) -> str:
    """What becomes of a gap, and what is done for that."""
    status = (status_doubt if work and packs_set(decision, gap, standing) else gap_status)(decision, gap, standing)
    also = worked_on_too(decision).get(gap.name, "") if decision.changes.nothing else ""
    return "; ".join(filter(None, (": ".join(filter(None, (status, work))), also)))


def _work(changes: Sequence[PlaceChange], gap: Gap, say: Speaker) -> str:
    """What goes from one place to another, in, out, and what stays beside it; empty where nothing is changed."""
    names = {change.place for change in changes}
    moved = Counter((p.line, p.other, change.place) for change in changes for p in change.into if p.other in names)
    said = [
        f"{say.stack((line,) * many, target)} from {shown(source)} to {shown(target)}"
        for (line, source, target), many in moved.items()
    ]
    for change in changes:
        gone, come = (
            tuple(piece.line for piece in pieces if piece.other not in names) for pieces in (change.out, change.into)
        )
        words = [_exchange(gone, come, change, say)] if gone or come else []
        if change.stays and change.changed:
            words.append(f"{say.stack(change.stays, change.place)} stay{'s' if len(change.stays) == 1 else ''}")
        if words:
            said.append(f"{'' if change.place == gap.name else f'{shown(change.place)}: '}{', '.join(words)}")
    return "; ".join(said)


def _exchange(gone: Stack, come: Stack, change: PlaceChange, say: Speaker) -> str:
    """`B for A`, `A out`; what goes in alone is told with its thickness."""
    out, into = say.stack(gone, change.place), say.stack(come, change.place)
    if out == into:
        # two pieces of one name, told apart by what was measured
        out, into = (f"{into} ({say.thick(lines)})" for lines in (gone, come))
    if gone:
        return exchange_words(out, into if come else "")
    measured = any(say.stock[line].part.measured for line in come)
    return into if measured else sized(into, say.thick(come))


def measured_by(job: Job) -> str:
    """When, by whom and with what it was measured after fitting, the last visits first; empty where it was not."""
    said = []
    for record in reversed(job.records):
        if any(gap.read is not None for gap in record.gaps.values()):
            who = f" by {shown(record.person)}" if record.person else ""
            tool = f", with: {shown(record.instrument)}" if record.instrument else ""
            said.append(f"{shown(record.date[:10])}{who}{tool}")
    more = f"; and {len(said) - _MOST_VISITS} times before" if len(said) > _MOST_VISITS else ""
    return f"Measured after fitting: {'; '.join(said[:_MOST_VISITS])}{more}." if said else ""


def unit_sentence(say: Speaker) -> str:
    """The second unit, once: `All lengths are in thou; 1 thou is 0.0254 mm.`"""
    there = {"mm": "1 mm is 39.37 thou", "um": "25.4 um are 1 thou", "in": "1 in is 25.4 mm"}
    return f"All lengths are in {unit_name(say.unit)}; {there.get(say.unit, '1 thou is 0.0254 mm')}."
