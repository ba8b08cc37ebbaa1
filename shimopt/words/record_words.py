"""After fitting: predicted against found, and what became of the drawer, in words."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.parts.drawer import Change
from shimopt.words.speaker import Speaker, pieces_text

if TYPE_CHECKING:
    from shimopt.job.record import Record
    from shimopt.recording import Compared, JobChangedError, Recorded

__all__ = [
    "agrees_line",
    "as_csv_line",
    "asked_again_line",
    "change_words",
    "compared_words",
    "likely_words",
    "recorded_lines",
]


def compared_words(row: Compared, gap: Gap, say: Speaker) -> str:
    """One gap: what was predicted, what was found, whether that agrees, and whether it is inside."""
    about = say.about(gap)
    predicted = about.clearance(row.predicted.low, row.predicted.high)
    found = about.clearance(row.found.low, row.found.high)
    end = {
        "inside": "inside its window",
        "unproven": "inside its window, but not beyond doubt",
        "outside": "OUTSIDE its window: take it apart again",
    }[row.verdict]
    return f"{shown(gap.name)}: predicted {predicted}, found {found}; {likely_words(row, say)}. It is {end}."


def likely_words(row: Compared, say: Speaker) -> str:
    """Agreement, or the likely explanation."""
    if row.code == "agrees":
        return "they agree"
    off = f"{say(abs(row.off))} {'looser' if row.off > 0 else 'tighter'} than predicted"
    part = shown(row.part)
    match row.code:
        case "piece_missing":
            return f"{off}, as if {part} were missing: count the pieces"
        case "piece_double":
            return f"{off}, as if {part} were in twice: count the pieces"
        case "clamp_state":
            return (
                f"{off}, like most of the others: likely the clamping, the hardware or the gauge differs from the trial"
            )
        case "not_as_marked":
            return f"{off}: likely a piece is not as marked; measure the pieces with a micrometer"
        case "nothing_fitted":
            return f"{off} though nothing was fitted: look at clamping, seating and the gauge"
        case "burr_or_seating":
            return f"{off}, more than the pieces explain: look for a burr, dirt or a piece that does not seat"
    return f"{off}, more than the pieces explain: look whether it is clamped and seated as in the trial"


def change_words(change: Change) -> str:
    """`R-07: 1 -> 0 (row 3)`."""
    where = f"row {change.row}" if change.row is not None else "a new row"
    return f"{pieces_text([change.piece])}: on_hand {change.count} becomes {change.count + change.by} ({where})"


def asked_again_line(changed: JobChangedError) -> str:
    """Somebody else changed the job while its readings were being typed."""
    (problem,) = changed.problems
    return f"{problem.file}: {problem.rule}{f' ({problem.value})' if problem.value else ''}; it is looked at again."


def agrees_line(last: Record) -> str:
    """There is nothing to change in the drawer."""
    return f"The drawer agrees with the record of {last.date} already: nothing was written."


def as_csv_line(written: Path) -> str:
    """A workbook was written as a CSV, and nothing else was done."""
    return (
        f"{written} holds the drawer now, and the job uses it. Its counts are those of the workbook: pieces that were "
        "fitted and not yet taken out by hand are still in them."
    )


def recorded_lines(recorded: Recorded, gaps: dict[str, Gap], job: Path, drawer: Path | None, unit: str) -> list[str]:
    """What the screen says after recording."""
    say = Speaker(unit)
    lines = [compared_words(row, gaps[row.gap], say) for row in recorded.compared]
    if recorded.again:
        return [*lines, f"The same was recorded before, on {recorded.record.date}: nothing was written."]
    if recorded.settled:
        lines.append(f"The drawer agrees with the record of {recorded.record.date} now.")
    else:
        lines.append(f"Recorded in {job}; as it was it is kept in {recorded.copy}.")
    changed = [change_words(change) for change in recorded.changes]
    match recorded.record.drawer:
        case "by hand":
            lines.append(f"{drawer} is a workbook and only read. Change in it:")
            changed.append(
                "(next time, --drawer-as-csv beside --update-drawer writes it as a CSV, which the job then uses)"
            )
        case "done":
            lines.append(f"Changed in {drawer}:" if changed else f"{drawer}: nothing to change.")
        case _:
            lines.append(f"The drawer's counts were not changed; shimopt record {job} --update-drawer does that.")
    return [*lines, *(f"  {line}" for line in changed)]
