"""The customer's letter in words that need no training: the answer, what is allowed, every gap, what to watch."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from shimopt.arithmetic import off_by
from shimopt.arithmetic.changes import PlaceChange
from shimopt.arithmetic.needed import Span, aimed, needed
from shimopt.errors import shown
from shimopt.job import Gap, Job, Window
from shimopt.planner import Decision
from shimopt.reasons.gap_account import Unsuited
from shimopt.reasons.gap_reasons import (
    AlreadyInside,
    BeyondParts,
    DrawerRanOut,
    NoThinner,
    ReadAgainFirst,
    ReadsAsNothing,
    Reason,
    TooTightWithThinnest,
    Unproven,
)
from shimopt.reasons.job_facts import DecidedByBrackets, MoreInThanAssumed, PreloadWithoutLimit
from shimopt.reasons.remedies import ShimsNotAllowed
from shimopt.reasons.shared_reasons import ShiftThickness, StaysOutside, WindowsFight
from shimopt.seats import Finding
from shimopt.words.assembly_words import heat_words
from shimopt.words.customer_words import because, fought, to_clear_up, to_settle, unfit
from shimopt.words.doubt_words import TOLD_OF_DOUBT
from shimopt.words.exact_words import exact_grounds, taken_words
from shimopt.words.finding_words import finding_words
from shimopt.words.findings_list import planned_cautions
from shimopt.words.first_words import blind_words, read_again, told_first
from shimopt.words.found_words import left_as_set
from shimopt.words.outside_words import else_further_out
from shimopt.words.reading_words import both_units, limits_both, source_text
from shimopt.words.record_words import running_measured
from shimopt.words.size_words import worn_words
from shimopt.words.speaker import Speaker, begun, chance_text, ended, listed, not_all_right, stack_wanted
from shimopt.words.standing import Standing
from shimopt.words.together_words import together_words
from shimopt.words.visit_words import done_here, measured_again, measured_words, visited_here, was_done

PACK_WORDS = "The pack on its seat, cut open: the face on the left, each shim as it lies."
SECTION_WORDS = {
    False: "That shim on the shaft, cut open: held in the middle, and as it would lie.",
    True: "That shim at the shaft, cut open: dark red is where both would have to be.",
}


def explanation(job: Job, say: Speaker) -> str:
    """What the words mean, of play or preload or both, as the job sets them."""
    paper = {
        "thou": "A thou is a thousandth of an inch; a sheet of paper is about 4 thou thick.",
        "in": "A sheet of paper is about 0.004 in thick.",
        "mm": "A sheet of paper is about 0.10 mm thick.",
        "um": "A sheet of paper is about 100 µm thick.",
    }
    loaded = {gap.window.wants_preload for gap in job.gaps}
    said = []
    if False in loaded:
        said.append(
            "A clearance is the little room that a moving part needs: too little and it binds, too much and it knocks."
        )
    if True in loaded:
        said.append(
            "A preload is less room than none: parts are held together lightly, on purpose; too little and they work "
            "loose, too much and they run hot."
        )
    opens = any(effect > 0 for gap in job.gaps for _, effect in gap.effects)
    what = "sets it" if True in loaded or opens else "takes up some of it"
    return " ".join([*said, f"A shim is a thin piece of known thickness that {what}. {paper[say.unit]}"])


def rule_words(decision: Decision) -> str:
    """The rule by which places were shimmed or left alone."""
    even = any(balance.within is not None for balance in decision.job.balances)
    unlike = ", or where places that belong together came out too unlike" if even else ""
    return (
        f"A place gets a shim only where its clearance is outside what is allowed{unlike}, and only a shim that truly "
        f"fits its seat. {'Else a' if even else 'A'} clearance that is already right is left alone"
        f"{_unless_moved(decision)}."
    )


def _unless_moved(decision: Decision) -> str:
    """Where the work moves one that was right, for places that act on several do so."""
    changes = decision.changes.at
    for gap in decision.job.gaps:
        shared = [place for place, _ in gap.effects if len(decision.job.moved_by[place]) > 1]
        right = not off_by(gap.reading.bracket.best, gap.window)
        if right and any(changes[place].changed for place in shared):
            return ", unless a shim that another needs moves it too"
    return ""


def common_window(decision: Decision) -> Window | None:
    """The window of every gap, where it is the same for all."""
    windows = {(gap.window.min, gap.window.max) for gap in decision.job.gaps}
    return decision.job.gaps[0].window if len(windows) == 1 else None


def allowed_words(decision: Decision, say: Speaker) -> str:
    """What is allowed, and who says so."""
    sources = list(dict.fromkeys(source_text(gap) for gap in decision.job.gaps))
    window = common_window(decision)
    if window is None:
        return f"What is allowed is stated in: {ended(listed(sources, 3))}"
    everywhere = " everywhere" if len(decision.job.gaps) > 1 else ""
    return f"Allowed is {limits_both(window, say)}{everywhere}, as stated in: {ended(listed(sources, 3))}"


def grounds(decision: Decision, counts: dict[str, tuple[int, int]]) -> list[str]:
    """What the letter rests on, where it rests on something taken for granted."""
    measured = any(line.part.measured for line in decision.job.stock)
    said = [*exact_grounds(counts, measured=measured), *taken_words(decision)]
    if decision.screening.unchecked:
        said.append("Not every shim could be checked against its seat, for some dimensions are not known.")
    return said


@dataclass(slots=True)
class GapWords:
    """The sentences about a gap, and the refused part that they describe, None where they describe none.

    `plain` where they say no more than that it was found so, got this shim or was right, and is so now.
    """

    sentences: list[str]
    described: Unsuited | None = None
    plain: bool = True


def all_gap_words(decision: Decision, say: Speaker, standing: Standing | None = None) -> dict[str, GapWords]:
    """The sentences about every gap. A refused part is described where it first comes up."""
    described: set[str] = set()
    standing, one_window = standing or Standing.of(decision), common_window(decision) is not None
    return {gap.name: _gap_words(decision, gap, say, described, standing, one_window) for gap in decision.job.gaps}


def _gap_words(
    decision: Decision, gap: Gap, say: Speaker, described: set[str], standing: Standing, one_window: bool
) -> GapWords:
    found, job = decision.outcome.gaps[gap.name], decision.job
    reasons, findings = standing.reasons.get(gap.name, ()), standing.findings.get(gap.name, ())
    first = job.first_read(gap).bracket
    told: Unsuited | None = None
    told_here = say.about(gap)
    said = [measured_words(decision, gap, say)]
    if not one_window:
        said.append(f"Allowed {limits_both(gap.window, told_here)}.")
    movers = [decision.changes.at[place] for place, _ in gap.effects]
    held = any(change.held for change in movers)
    # that it is right, and what stays in, is told by what is done
    visited = visited_here(decision, gap)
    stay = (held or bool(visited)) and not any(change.changed for change in movers)
    if visited:
        said += was_done(decision, gap, first, visited, say)
    else:
        said += measured_again(decision, gap, say)
    if how := standing.doubted.get(gap.name):
        beyond = [because(reason, told_here, held=held) for reason in reasons if isinstance(reason, BeyondParts)]
        return GapWords([*said, TOLD_OF_DOUBT[how], *beyond], plain=False)
    # what has to be looked into first is not to be read as work that is planned
    said += done_here(decision, gap, say, known=gap.name not in standing.untold)
    if gap.name in standing.waits:
        fight = standing.fights.get(gap.name, ())
        return GapWords([*said, *([f"{not_all_right(fight)}, whatever goes in."] if fight else [])], plain=False)
    usual = len(said)
    # what was wrong with what was in
    if worn := worn_words(_was_in(decision, gap), told_here).strip():
        said.append(worn)
    # that it is right is said of the gap, not of a torque that nothing here limits
    turned = running_measured(job, gap)
    said += [turned] if turned else []
    told_already: tuple[type[Reason], ...] = (AlreadyInside, NoThinner)
    # what the first lines leave open is not called right, nor impossible
    unlimited = any(isinstance(one.fact, PreloadWithoutLimit) for one in findings)
    asked = unlimited or (found.verdict == "outside" and gap.name in standing.unanswered)
    if any(isinstance(reason, ShimsNotAllowed) for reason in reasons):
        # by how much it is outside is told with what has to be done instead
        told_already = (*told_already, StaysOutside)
    # one culprit: what is done for another gap, or that their windows cannot all hold
    fight, taken_out = standing.fights.get(gap.name, ()), standing.spoiled.get(gap.name)
    fights = taken_out is not None and bool(fight)
    # what turns as is stated is right by that: how likely it is so by calculation is no answer to it
    as_set = gap.name in left_as_set(decision)
    # how surely what is held back would bring it inside is not told
    doubted = as_set or gap.name in read_again(decision)
    doubted = doubted or (gap.name in standing.untold and any(c.changed for c in movers))
    for reason in reasons:
        if taken_out is not None and fights and reason is taken_out:
            said.append(fought(taken_out, fight, told_here))
        elif not asked and not (stay and isinstance(reason, told_already)):
            if (fights and isinstance(reason, WindowsFight)) or (doubted and isinstance(reason, Unproven)):
                continue
            words = because(reason, told_here, held=held)
            if isinstance(reason, DrawerRanOut) and (others := else_further_out(reason, decision, say)):
                words += f" It goes where it is wanted more: {listed(reason.got)} {others}."
            if gap.name in standing.open:
                words = words.replace("That is right, so", "As it was read that is right, so", 1)
            said += [words] if words else []
            usual += bool(words) and isinstance(reason, (AlreadyInside, NoThinner))
    if any(change.into for change in movers) or found.verdict == "outside":
        refusals, told = _refused(decision.refused(gap.name), say, described)
        said += refusals
        usual += len(refusals)
    again = any((isinstance(r, TooTightWithThinnest) and r.doubtful) or isinstance(r, ReadAgainFirst) for r in reasons)
    again = again or gap.name in standing.find_out
    if found.verdict == "outside" and not again and (span := _lacks(job, gap)) is not None:
        place = job.place[job.alone[gap.name]]
        said.append(_wanted(span, place.fewest_pieces, say, instead=bool(place.installed)))
    chance = found.chance
    by_chance = (gap.least_chance or gap.reading.basis != "worst case") and chance != 1
    # a chance that hangs on what is open is none
    if chance is not None and found.verdict != "outside" and by_chance and not as_set and gap.name not in standing.open:
        said.append(f"The chance that it is inside is {chance_text(chance).replace('>', 'more than ')}.")
    if gap.heat is not None:
        said.append(begun(heat_words(gap, gap.heat, found.after, say)))
    if any(one.part and one.grade == "caution" for place, _ in gap.effects for one in standing.findings.get(place, ())):
        said += [f"To be cleared up: {words}" for words in planned_cautions(decision, say, dict(gap.effects))]
    nothing = any(isinstance(r, ReadsAsNothing) for r in reasons)
    for finding in findings:
        # by what a job decides, and what it leaves unsaid, is the shop's business
        settled = (
            finding.part
            or told_first(finding)
            or to_settle(finding)
            or isinstance(finding.fact, DecidedByBrackets | MoreInThanAssumed)
        )
        if (not nothing and blind_words(job, finding, say)) or (finding.grade == "caution" and not settled):
            said.append(f"To be cleared up: {to_clear_up(finding, say)}.")
    plain = found.verdict == "inside" and len(said) == usual and _as_usual(decision, gap, movers, standing.open)
    return GapWords(said, told, plain)


def _was_in(decision: Decision, gap: Gap) -> tuple[int, ...]:
    """The pieces that are in at a gap's places, or came out at the visits so far."""
    places = [place for place, _ in gap.effects]
    out = [piece.line for place in places for piece in decision.visit.at[place].out]
    return tuple(dict.fromkeys((*(i for place in places for i in decision.job.place[place].installed), *out)))


def _as_usual(decision: Decision, gap: Gap, movers: Sequence[PlaceChange], still: Collection[str]) -> bool:
    """Whether a table's row tells all of how it was found and what is done there."""
    read = decision.job.first_read(gap)
    visits = [*movers, *visited_here(decision, gap)]
    twice = bool(visited_here(decision, gap)) and any(change.changed for change in movers)
    strange = read.opens or read.basis != "worst case" or any(term.code == "shift" for term in read.terms)
    return (
        gap.name not in still
        and not twice
        and not strange
        and not any(change.back or change.stays_out for change in visits)
    )


def _refused(refused: tuple[Unsuited, ...], say: Speaker, described: set[str]) -> tuple[list[str], Unsuited | None]:
    """The shims that are thick enough but don't suit the seat; the first of them that is new is described."""
    said: list[str] = []
    others = 0
    first: Unsuited | None = None
    for unsuited in refused:
        mark = f"{say.part(unsuited.line)}: {finding_words(unsuited.finding, say)}"
        if first is not None or mark in described:
            others += 1
            continue
        described.add(mark)
        first = unsuited
        said.append(
            f"One shim of the drawer would be thick enough, but {unfit(unsuited.finding, say)}. It is not used here."
        )
    if others:
        which = "Others that are thick enough do" if others > 1 else "Another that is thick enough does"
        said.append(f"{which} not suit this seat{' either' if said else ''}.")
    return said, first


def refused_words(finding: Finding, gap: Gap, say: Speaker) -> str:
    """Why not every shim that is thick enough was taken, by the first that was not."""
    why = unfit(finding, say)
    # its code is of no use to a customer
    return f"Not every shim that is thick enough can be used. One was left out at {shown(gap.name)}: {why}."


def left_out_words(gap: Gap) -> str:
    """What a picture shows of a shim of which it is told already why it was left out."""
    return f"The shim that was left out at {shown(gap.name)}."


def pack_words(decision: Decision, place: str, say: Speaker) -> str:
    """What lies in a pack that several gaps hang on, and how it came to be so."""
    gaps = listed([gap.name for gap in decision.job.moved_by[place]], 4)
    what = say.ordered(decision.stacks[place], decision.job.place[place].seat)
    thick = say(decision.outcome.thickness[place].best)
    shifts = [together_words(r, say) for r in decision.reasons if isinstance(r, ShiftThickness) and place in r.names]
    return " ".join((f"{gaps} hang on the same packs. At {shown(place)} lies {what}: {thick} in all.", *shifts[:1]))


def _lacks(job: Job, gap: Gap) -> Span | None:
    """The thickness that a place of its own wants; None where there is none, or nothing would do."""
    place = job.place.get(job.alone.get(gap.name, ""))
    if place is None or not place.takes_shims or job.untold(gap.name) or job.turns_wrong(gap.name):
        return None
    aim = aimed(job, gap)
    return (needed(job, gap) or aim) if aim is not None and aim.least > 0 else None


def _wanted(span: Span, fewest: int, say: Speaker, *, instead: bool) -> str:
    if instead and fewest <= 1:
        most = span.least if span.most is None else span.most
        size = f"{both_units(span.least, most, say)}{' or more' if span.most is None else ''}"
        return f"What is needed is {size} of shim in all, in place of what is in or with it."
    if fewest > 1:
        most = span.least if span.most is None else span.most
        size = f"{both_units(span.least, most, say)}{' or more' if span.most is None else ''}"
        return f"What is needed is {stack_wanted(fewest, size)}; each piece has to suit."
    if span.most is None:
        return f"What is needed is {both_units(span.least, span.least, say)} of shim or more that suits."
    return f"What is needed is a shim of {both_units(span.least, span.most, say)} that suits."
