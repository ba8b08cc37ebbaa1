"""The letter's table: what was found of each gap, what is allowed, what is done, what it is then; and a second unit."""

from __future__ import annotations

from shimopt.arithmetic.clearance import thickness_of
from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.planner import Decision
from shimopt.words.letter_answer import gap_status
from shimopt.words.reading_words import limits_text
from shimopt.words.speaker import Speaker

__all__ = ["table_columns", "table_row", "unit_sentence"]


def table_columns(decision: Decision) -> list[str]:
    """The heads of the columns beside the gap; after a record what was calculated stands beside what was measured."""
    job = decision.job
    if not job.records:
        return ["found", "allowed", "done", "now" if decision.changes.nothing else "then"]
    days = {job.read_on(gap.name) for gap in job.gaps if gap.reading.after_fitting}
    measured = f"measured {shown(days.pop())}" if len(days) == 1 else "measured"
    columns = ["found", "allowed", "done", "calculated", measured]
    return columns if decision.changes.nothing else [*columns, "then"]


def table_row(decision: Decision, gap: Gap, swap: str, say: Speaker) -> list[str]:
    """A gap's cells, one for each column; `swap` is what goes in, and for what."""
    job, told = decision.job, say.about(gap)
    first, after = job.as_first_read.get(gap.name, gap.reading), decision.outcome.gaps[gap.name].after
    found = (
        f"cover stands {say.bracket(-first.found.high, -first.found.low)} off"
        if first.opens
        else told.clearance(first.found.low, first.found.high)
    )
    status = gap_status(decision, gap)
    # packs that set a gap together are named with what goes in
    done = swap if status.startswith("set by") else f"{status}: {swap}{_thickness(decision, gap, say)}"
    row = [found, limits_text(gap.window, told), done if swap else status]
    if job.records:
        row += _since(decision, gap, told)
        if decision.changes.nothing:
            return row
    return [*row, told.clearance(after.low, after.high)]


def _since(decision: Decision, gap: Gap, say: Speaker) -> list[str]:
    """What was calculated after the visits so far, and what was measured then."""
    job, now = decision.job, gap.reading.bracket
    if not gap.reading.recorded:
        return ["", "as found"]
    recorded = next((one.gaps[gap.name] for one in reversed(job.records) if gap.name in one.gaps), None)
    calculated = say.clearance(recorded.predicted.low, recorded.predicted.high) if recorded else ""
    if not gap.reading.after_fitting:
        return [calculated, "not measured"]
    days = {job.read_on(one.name) for one in job.gaps if one.reading.after_fitting}
    day = f" ({shown(job.read_on(gap.name))})" if len(days) > 1 else ""
    return [calculated, f"{say.clearance(now.low, now.high)}{day}"]


def _thickness(decision: Decision, gap: Gap, say: Speaker) -> str:
    """How thick what goes in is, where nothing comes out and it is named alone."""
    now = [decision.changes.at[place] for place, _ in gap.effects]
    movers = now if any(change.changed for change in now) else [decision.visit.at[place] for place, _ in gap.effects]
    into = [piece.line for change in movers for piece in change.into]
    if len(movers) > 1 or not into or movers[0].out or any(say.stock[i].part.measured for i in into):
        return ""
    return f" ({say(thickness_of(into, say.stock).best)})"


def unit_sentence(say: Speaker) -> str:
    """The second unit, once: `All figures are in thou; 1 thou is 0.0254 mm.`"""
    there = {"mm": "1 mm is 39.37 thou", "um": "25.4 um are 1 thou", "in": "1 in is 25.4 mm"}
    return f"All figures are in {say.unit}; {there.get(say.unit, '1 thou is 0.0254 mm')}."
