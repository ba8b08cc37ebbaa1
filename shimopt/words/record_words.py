"""After fitting: predicted against found, running torques, and what became of the drawer, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from shimopt.arithmetic.clearance import Stack, thickness_of
from shimopt.assembly import RunningTorque, turns
from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.job.record import Record
from shimopt.lengths import Bracket, spelled
from shimopt.parts.drawer import Change, FittedPiece
from shimopt.readings.reading import from_nothing
from shimopt.reasons.about_trial import otherwise
from shimopt.words.digits import few_digits, with_digits_of
from shimopt.words.finding_words import finding_words, interchanged_words, unlike_words
from shimopt.words.found_words import how_far_off, not_as_predicted_words
from shimopt.words.outside_words import turns_wrongly
from shimopt.words.read_steps import find_out
from shimopt.words.reading_words import basis_text
from shimopt.words.speaker import Speaker, begun, listed, loose_or_tight, pieces_text

if TYPE_CHECKING:
    from shimopt.recording import Compared, Fitted, JobChangedError, Recorded

_MOST_PLACES = 6
COMPARE = "compare it with the maker's figure, for this job states none"


def compared_lines(recorded: Recorded, job: Job, unit: str) -> list[str]:
    """A sentence for every gap that was read, all with the digits of the readings, what was predicted with one more."""
    say = speaker_of(recorded.compared, job, unit)
    turned = {name: gap.running for name, gap in recorded.record.gaps.items()}
    return [compared_words(row, job.gap[row.gap], say, turned.get(row.gap)) for row in recorded.compared]


def speaker_of(rows: Sequence[Compared], job: Job, unit: str) -> Speaker:
    """Who says what was compared: all with the digits of the readings, what was predicted with one more."""
    read = [bracket for row in rows for bracket in (row.found, job.gap[row.gap].reading.found)]
    return with_digits_of(Speaker(unit, job.stock), read, [row.predicted for row in rows])


def compared_words(row: Compared, gap: Gap, say: Speaker, turned: RunningTorque | None = None) -> str:
    """One gap: what was predicted, what was read, whether that agrees, and whether it is inside."""
    predicted, found, means = compared_cells(row, gap, say, turned)
    more = " If it was machined or restored, record that too: --machined." if row.code == "nothing_done" else ""
    return f"{shown(gap.name)}: predicted {predicted}, read {found}; {means}{more}"


def compared_cells(row: Compared, gap: Gap, say: Speaker, turned: RunningTorque | None = None) -> tuple[str, str, str]:
    """Of one gap what was predicted, what was read, and what that means; `turned`, how hard it was found to turn."""
    about = say.about(gap)
    before, read = about.as_after(row.predicted), about.as_read(row.found)
    predicted = f"{about.clearance(before.low, before.high)}{basis_text(gap)}"
    found = about.clearance(read.low, read.high)
    # where nothing was changed, taking it apart again helps nobody; what was inside and is not any more alarms
    as_before = row.predicted == gap.reading.bracket
    was = ", as before" if gap.window.off(gap.reading.bracket.best) else ", and was inside before"
    sides = [gap.window.side(bracket.best) for bracket in (gap.reading.bracket, row.found)]
    if sides[0] != sides[1] and gap.window.off(gap.reading.bracket.best):
        was = f", {loose_or_tight(sides[1])} now, and it was {loose_or_tight(sides[0])}"
    end = {
        "inside": "inside its window",
        "unproven": "inside its window by its best estimate: the gauge cannot tell for certain",
        "outside": f"OUTSIDE its window{was if as_before else ': take it apart again'}",
    }[row.verdict]
    said = f"{likely_words(row, gap, say, turned)}."
    # what was turned has told already what a reading of nothing hides
    if not from_nothing(row.found) or turned is not None:
        return predicted, found, f"{said} It is {end}."
    first = f"It reads as nothing, which may hide a preload of any size: {find_out(cover=False, opened_by=None)}"
    means = f"{said} {first}." if gap.window.wants_preload else f"{said} It is {end}. {first}."
    return predicted, found, means


def likely_words(row: Compared, gap: Gap, say: Speaker, turned: RunningTorque | None = None) -> str:
    """Agreement, or the likely explanation; what turns wrong is explained by that, and by no length."""
    if row.code == "machined":
        return "it was worked on otherwise than by shims since, so the prediction no longer holds"
    if row.code == "agrees":
        return (
            "they agree"
            if not row.off
            else f"they agree (up to {few_digits(say, row.plausible)[0]} apart is plausible)"
        )
    fact = otherwise(row, gap)
    way = "" if turned is None else turns(turned, gap.running)
    side = gap.window.side(row.found.best) if gap.window.off(row.found.best) else ""
    told_alike = (side, way) in (("over", "loose"), ("under", "tight"))
    if told_alike and (way == "loose" or not from_nothing(row.found)):
        return f"{not_as_predicted_words(fact, say)}; and it {turns_wrongly(tight=way == 'tight')}"
    if way in ("tight", "loose"):
        return f"{how_far_off(fact, say)}; but it {turns_wrongly(tight=way == 'tight')}: go by that, not by its length"
    return not_as_predicted_words(fact, say)


def change_words(change: Change, *, in_rows: bool = True) -> str:
    """`R-07: 1 -> 0 (row 3)`; of a drawer that is no table, without the row."""
    said = f"{pieces_text([change.piece])}: on_hand {change.count} becomes {change.count + change.by}"
    if not in_rows:
        return said
    where = (
        f"row {change.row}" if change.row is not None else f"a new row, {spelled(change.piece.thickness.best, 'mm')}"
    )
    return f"{said} ({where})"


def bought_words(piece: FittedPiece, count: int, *, counted: bool, packs: Collection[int] = ()) -> str:
    """`1 more S40 than the drawer held: counted as bought`; or that it will be, where the counts do not follow yet.

    Where it comes in `packs` of one size, what is left over of them lies in no drawer yet.
    """
    end = "held: counted as bought" if counted else "holds: then counted as bought"
    left = -count % max(packs) if len({*packs}) == 1 else 0
    more = f"; of packs of {max(packs)} that leaves {left} over: write them into the drawer" if left else ""
    return f"{count} more {pieces_text([piece])} than the drawer {end}{more}"


def asked_again_line(changed: JobChangedError) -> str:
    """Somebody else changed the job while its readings were being typed."""
    (problem,) = changed.problems
    return f"{problem.file}: {problem.rule}{f' ({problem.value})' if problem.value else ''}; it is looked at again."


def agrees_line(last: Record) -> str:
    """There is nothing to change in the drawer."""
    return f"The drawer agrees with the record of {last.date} already: nothing was written."


def as_csv_line(written: Path) -> str:
    """A workbook was written as a CSV, and nothing else was done."""
    return f"{written} holds the drawer now, with the counts of the workbook, and the job uses it."


def offer_csv(workbook: Path) -> str:
    """Asks whether a workbook shall become a CSV."""
    csv = workbook.with_suffix(".csv").name
    return (
        f"{shown(workbook)} is a workbook: it is only read. Write it as {shown(csv)} beside it, with its counts as "
        "they are after this record, for the job to use from then on?"
    )


def fitted_question(likely: Fitted) -> str:
    """Asks whether what was planned was fitted; whether what was in still is, where nothing was to be fitted yet."""
    asked = "Nothing was to be fitted yet. Is what was in still in?" if likely.as_it_was else "Fitted as planned?"
    return f"{asked} {_planned(likely.job, likely.stacks)}"


def fitted_example(job: Job) -> str:
    """How pieces are typed: by name, or by their thickness in the job's unit."""
    sizes = {"mm": "0.2 + 0.25", "thou": "8 + 10", "in": "0.008 + 0.010", "um": "200 + 250"}[job.unit]
    return f'"H5 + 2 x S-02", by thickness "{sizes}", "H5 measured 0.148 mm"'


def alone_words(gap: Gap, found: Bracket, say: Speaker) -> str:
    """A figure without ± is taken to be known as closely as the gap was when it was first read."""
    about = say.about(gap)
    read, taken = about.clearance(found.best, found.best), about.clearance(found.low, found.high)
    more = "both ends, or ± so much, say more"
    return f"{shown(gap.name)}: {read} is taken as {taken}, as closely as it was known at first; {more}."


def _planned(job: Job, stacks: Mapping[str, Stack]) -> str:
    say = Speaker(job.unit, job.stock)
    said = [
        f"{say.row(stacks.get(place.name, ()), place.seat)} at {shown(place.name)}"
        for place in job.places
        if stacks.get(place.name, ()) or place.installed
    ]
    more = f"; {len(said) - _MOST_PLACES} more" if len(said) > _MOST_PLACES else ""
    return f"{'; '.join(said[:_MOST_PLACES])}{more}" if said else "nothing was to be fitted"


def fitted_lines(fitted: Fitted, say: Speaker, *, said: bool) -> list[str]:
    """What is in the places, where that was said; that it counts as planned, where nobody said otherwise."""
    say = replace(say, stock=fitted.job.stock)
    measured = [name for name, pieces in fitted.anew.items() if pieces and name not in fitted.others]
    if not fitted.others and not measured:
        end = "" if said else " (nobody said otherwise; --fitted PLACE=PIECES does)"
        how = "The planned pieces are in" if fitted.turned else "Fitted as planned"
        if fitted.as_it_was:
            how = "What was in is still in, for nothing was to be fitted yet"
            end = "" if said else ' (nobody said otherwise; --fitted PLACE=PIECES or --fitted "as planned" does)'
        lines = [f"{how}{end}: {_planned(fitted.job, fitted.stacks)}."]
    else:
        lines = []
    for name in (*measured, *fitted.others):
        stack = fitted.stacks[name]
        thick = thickness_of(stack, fitted.job.stock)
        thickness = f", {say.bracket(thick.low, thick.high)} thick" if stack else ""
        how = "not as planned" if name in fitted.others else "as planned, measured anew"
        lines.append(f"{shown(name)} holds {say.row(stack, fitted.job.place[name].seat)}{thickness}: {how}.")
    for name, lies in fitted.turned.items():
        row = say.row(fitted.stacks[name], fitted.job.place[name].seat)
        typed = " + ".join(say.named(i) for i in lies)
        lines.append(
            f"{shown(name)} lies as {typed}, as typed. It should lie as {row}: turn it round, and record it so."
        )
    for names in fitted.unlike:
        packs = [say.row(fitted.stacks.get(name, ()), fitted.job.place[name].seat) for name in names]
        lines.append(f"{unlike_words(names, packs)}. Put that right before it runs.")
    for balance in fitted.interchanged:
        lines.append(f"{begun(interchanged_words(balance.name, balance.places))}. Put that right before it runs.")
    for finding in fitted.unsuited:
        piece, place = say.known(*finding.known_by), shown(finding.place)
        lines.append(f"Take {piece} out of {place}: it does not suit there, {finding_words(finding, say)}.")
    return lines


def unread_words(recorded: Recorded, fitted: Fitted, say: Speaker) -> list[str]:
    """Gaps that nobody read, and that by calculation are outside with what is in."""
    said = []
    for gap in recorded.unread_outside(fitted.job):
        at = fitted.predicted[gap.name]
        clear = say.about(gap).clearance(at.low, at.high)
        held = {place: Counter(fitted.stacks.get(place, ())) for place, _ in gap.effects}
        same = all(Counter(fitted.job.place[place].installed) == stack for place, stack in held.items())
        # nothing was changed there, and it was read before
        how = "not read again: as found" if same and not gap.reading.calculated else "not read: by calculation"
        said.append(f"{shown(gap.name)}, {how} {clear}, OUTSIDE its window.")
    return said


def recorded_lines(recorded: Recorded, job: Job, drawer: Path | str | None, unit: str, *, said: bool) -> list[str]:
    """What the screen says after recording; `said`, whether it was said what was fitted."""
    say, file = Speaker(unit, job.stock), job.inputs[0]
    lines = [] if recorded.fitted is None else fitted_lines(recorded.fitted, say, said=said)
    lines += compared_lines(recorded, job, unit)
    if recorded.fitted is not None and (names := recorded.fitted.as_first):
        read, it = ("reads", "it") if len(names) == 1 else ("read", "them")
        lines.append(f"{listed(names)} {read} now as was predicted of {it} first.")
    if recorded.fitted is not None:
        lines += unread_words(recorded, recorded.fitted, say)
    lines += [] if recorded.settled else [f"{torque}." for torque in torques_compared(recorded.record, job)]
    if recorded.again:
        return [*lines, f"The same was recorded before, on {recorded.record.date}: nothing was written."]
    if recorded.as_csv is not None:
        lines.append(f"{recorded.as_csv} holds the drawer now, and the job uses it.")
    if recorded.settled:
        by_hand = recorded.record.drawer == "by hand"
        state = "does not agree with the record of {} yet." if by_hand else "agrees with the record of {} now."
        lines.append(f"The drawer {state.format(recorded.record.date)}")
    else:
        lines.append(f"Recorded in {file}; as it was it is kept in {recorded.copy}.")
    in_rows = job.drawer_of is None or not job.drawer_of.shared
    changed = [change_words(change, in_rows=in_rows) for change in recorded.changes]
    match recorded.record.drawer:
        case "by hand":
            lines.append(f"{drawer} is a workbook: it is only read. Change in it by hand:")
            changed.append(f"or have it written as a CSV with these counts: shimopt record {file} --drawer-as-csv")
        case "done":
            lines.append(f"Changed in {drawer}:" if changed else f"{drawer}: nothing to change.")
        case _ if drawer is None:
            lines.append("The job names no drawer: there are no counts to change.")
        case _:
            lines.append(f"The drawer's counts were not changed; shimopt record {file} --update-drawer does that.")
    counted = recorded.record.drawer in ("by hand", "done")
    for piece, count in recorded.bought.items():
        packs = {offer.pack for line in job.stock if line.part.name == piece.part for offer in line.offers}
        changed.append(bought_words(piece, count, counted=counted, packs=packs))
    for piece in recorded.aside:
        changed.append(
            f"{pieces_text([piece])}, much thinner than marked: not put back. Measure it all round, or scrap it"
        )
    return [*lines, *(f"  {line}" for line in changed)]


def running_words(running: RunningTorque) -> str:
    """`running torque 1.2 N·m without oil`."""
    return f"running torque {shown(running.written)}{f' {shown(running.how)}' if running.how else ''}"


def torques_of(record: Record) -> list[str]:
    """`pinion: running torque 1.2 N·m without oil`, for every gap of a record that has one."""
    return [f"{shown(name)}: {running_words(gap.running)}" for name, gap in record.gaps.items() if gap.running]


def torques_outside(record: Record, job: Job) -> list[str]:
    """The gaps that turn harder or easier than the job states."""
    return [
        name
        for name, gap in record.gaps.items()
        if gap.running and turns(gap.running, job.gap[name].running) in ("tight", "loose")
    ]


def torques_compared(record: Record, job: Job) -> list[str]:
    """The same beside what the job states of them."""
    return [
        f"{shown(name)}: {running_words(gap.running)}: {turns_words(gap.running, job.gap[name])}"
        for name, gap in record.gaps.items()
        if gap.running
    ]


def _torques_told(record: Record, job: Job) -> list[str]:
    """`pinion: running torque 4 lbf in without oil, too easily (6 to 10 lbf in is stated)`; of a right one no more."""
    how = {"loose": ", too easily", "tight": ", too hard"}
    ways = [how.get(turns(gap.running, job.gap[n].running), "") for n, gap in record.gaps.items() if gap.running]
    stated = [job.gap[name].running for name, gap in record.gaps.items() if gap.running]
    return [
        f"{said}{way} ({shown(of.written)} is stated)" if way and of is not None else said
        for said, way, of in zip(torques_of(record), ways, stated, strict=True)
    ]


def recorded_torques(job: Job) -> str:
    """The same of all gaps of the last record, as the end of a sentence; empty where there is none."""
    said = _torques_told(job.records[-1], job) if job.records else []
    return f" Measured then: {'; '.join(said)}." if said else ""


def running_measured(job: Job, gap: Gap) -> str:
    """`Running torque 1.2 N·m without oil, measured on 2026-05-03: ...`; empty where the last record has none.

    Where the job states no limits of it, nothing here calls it right.
    """
    found = job.turned(gap.name)
    if found is None:
        return ""
    measured = f"{begun(running_words(found))}, measured on {shown(job.records[-1].date[:10])}"
    return f"{measured}: {turns_words(found, gap)}."


def turns_words(measured: RunningTorque, gap: Gap) -> str:
    """What a running torque says beside the one that is stated for the gap."""
    said = "" if gap.running is None else shown(str(gap.running))
    match turns(measured, gap.running):
        case "right":
            return f"{said} is stated, so that is right"
        case "tight" | "loose" as way:
            return f"{said} is stated, so it is too {way}"
        case "otherwise":
            return f"{said} is stated, taken otherwise: turn it again so"
    return COMPARE
