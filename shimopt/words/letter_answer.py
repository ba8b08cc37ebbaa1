"""What the letter says of the job as a whole: what must not be run, the answer, what is done."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from shimopt.arithmetic.changes import PlaceChange
from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.planner import Decision
from shimopt.reasons.job_facts import TorqueOutside
from shimopt.reasons.shared_reasons import TogetherOutside
from shimopt.words.customer_words import to_settle
from shimopt.words.done_words import all_fitted, status_words, what_is_done
from shimopt.words.first_words import (
    first_words,
    in_and_wrong,
    nothing_yet_words,
    open_gaps,
    read_again,
    unanswered,
    unsettled,
    waiting_to_be_fitted,
)
from shimopt.words.found_words import (
    RIGHT_BY_TORQUE,
    done_by_no_shim,
    find_out_first,
    left_as_set,
    looked_at_before_closing,
    not_read_since,
)
from shimopt.words.letter_next_words import before_it_runs, hides_nothing, not_surely, nothing_yet_for, seen_to_first
from shimopt.words.likely_words import all_of, by_chance_words, called, perhaps_words
from shimopt.words.outside_words import as_found, left_by_cut_off, nearer, not_right, spoiled
from shimopt.words.reading_words import far_in_both
from shimopt.words.shortfall_words import all_measured, flat_words, rubbed, rubbed_words, short_of
from shimopt.words.speaker import Speaker, begun, listed, loose_or_tight, number_word, probably
from shimopt.words.standing import Standing, stands_as_read
from shimopt.words.trial_words import play_words, read_with_play, set_since, trial_doubt

_MOST_NAMED = 3
_MOST_WARNED = 6


def warning_words(decision: Decision, say: Speaker, served: Collection[str] = ()) -> list[str]:
    """What must not be run as it is after this work, and what is not known well enough; none where all is inside.

    Parameter: served, the gaps that a bench card serves at every reading: the card's pieces count, not the plan's.
    """
    wrong, tight, said_first, taken_out = [], [], list[str](), spoiled(decision)
    first, doubted = first_words(decision, say), read_again(decision)
    waits, looked_into = {*waiting_to_be_fitted(decision)}, {*find_out_first(decision)}
    as_read = stands_as_read(decision)
    for gap in decision.job.gaps:
        found = decision.outcome.gaps[gap.name]
        if gap.name in as_read:
            # nothing is done there yet: it stands as it was read
            best = gap.reading.bracket.best
            if decision.job.right_but_by_length(gap.name):
                said_first.append(
                    f"Do not run it before it is known why {shown(gap.name)} is not right by calculation."
                )
            elif off := gap.window.off(best):
                wrong.append(f"{shown(gap.name)} is {far_in_both(off, say)} {loose_or_tight(gap.window.side(best))}")
                tight += [gap.name] if gap.window.side(best) == "under" else []
            continue
        # by how much it is outside is not known where the reading is in doubt
        if found.verdict == "outside" and gap.name not in {*served, *doubted} and not decision.job.untold(gap.name):
            side = gap.window.side(found.after.best)
            how = f"{far_in_both(found.off, say)} {loose_or_tight(side)}"
            before = f" ({_was(taken_out[gap.name], say)})" if gap.name in taken_out else ""
            wrong.append(f"{shown(gap.name)} is {how}{before}")
            tight += [gap.name] if side == "under" else []
        # a reading in doubt may hold all the same
        elif found.verdict == "outside" and gap.name in doubted and gap.window.side(found.after.best) == "under":
            tight.append(gap.name)
    said = [*first, *said_first, *(f"Do not run it like this: {one}." for one in rubbed_words(rubbed(decision), say))]
    said += [f"Before it runs, see that {flat}: it is a spring." for flat in flat_words(decision, say)]
    if wrong:
        more = f", and {len(wrong) - _MOST_WARNED} more are not right" if len(wrong) > _MOST_WARNED else ""
        still = (
            "like this"
            if decision.changes.nothing or nothing_yet_words(decision)[1] or not _done_elsewhere(decision, looked_into)
            else "like this, even after what is done here"
        )
        still = "as it is after this work" if set(taken_out) - waits else still
        said.append(f"Do not run it {still}: {', '.join(wrong[:_MOST_WARNED])}{more}.")
    outside = [gap.name for gap in decision.job.gaps if decision.outcome.gaps[gap.name].verdict == "outside"]
    if waiting := [name for name in outside if name in served and name not in doubted]:
        named = listed(waiting, _MOST_WARNED)
        said.append(f"Do not run it as it stands, before what the card says is in: {named}.")
        tight += [name for name in waiting if _too_tight_as_read(decision.job.gap[name])]
    if turns := {one.place: one.fact for one in decision.findings if isinstance(one.fact, TorqueOutside)}:
        tight += [name for name, fact in turns.items() if fact.tight]
        said.append(f"Do not run it like this: by its running torque {listed([*turns], _MOST_WARNED)} is not right.")
    stand = [name for name in stands_outside(decision) if name not in looked_into]
    if now := [name for name in stand if decision.outcome.gaps[name].verdict != "outside"]:
        now += [g.name for place in in_and_wrong(decision) for g in decision.job.moved_by[place] if g.name not in now]
        said.append(f"Do not run it as it stands, before what is listed here is done: {listed(now, _MOST_WARNED)}.")
        tight += [name for name in now if _too_tight_as_read(decision.job.gap[name])]
    if tight:
        said.append(_not_under_power(tight))
    for finding in decision.findings:
        if question := to_settle(finding):
            then = "it runs" if all_fitted(decision) else "anything is fitted"
            said.append(f"To be settled before {then}: {question}.")
    said += [f"To be settled first: {words}" for words in play_words(decision, say)]
    if doubt := trial_doubt(decision):
        said.append(doubt)
    if hidden := hides_nothing(decision):
        said += [f"Before it runs, {words}." for words in seen_to_first(decision.job, hidden, say)]
    # measured outside is not unsure
    passed_over = {*served, *(looked_into & {*stands_outside(decision)})}
    if unsure := [n for n in not_surely(decision) if not decision.job.gap[n].may_be_tight and n not in passed_over]:
        # what is found out first may be all that is wrong
        known = [name for name in unsure if name not in looked_into]
        more = before_it_runs(decision, known, say) if known else ""
        said.append(f"Not surely inside: {listed(unsure, _MOST_WARNED)}. {more}".rstrip())
    return said


def _done_elsewhere(decision: Decision, looked_into: Collection[str]) -> bool:
    """Whether anything is done at a place that waits for nothing to be found out."""
    held = {place for name in looked_into for place, _ in decision.job.gap[name].effects}
    return any(change.changed and place not in held for place, change in decision.changes.at.items())


def _not_under_power(tight: Sequence[str]) -> str:
    return f"Do not turn it under power where it is too tight ({listed(tight, _MOST_WARNED)}): it can seize."


def stands_tight_words(decision: Decision) -> list[str]:
    """What can seize as the machine was left after the last record."""
    tight = [name for name in stands_outside(decision) if _too_tight_as_read(decision.job.gap[name])]
    return [_not_under_power(tight)] if tight else []


def stands_outside(decision: Decision) -> list[str]:
    """Gaps that are outside as the machine was left after the last record, read since or by calculation."""
    gaps = decision.job.gaps if decision.job.records else ()
    return [gap.name for gap in gaps if gap.window.off(gap.reading.bracket.best)]


def _was(reason: TogetherOutside, say: Speaker) -> str:
    """`right as found`, `0.54 mm too loose as found`."""
    off = far_in_both(reason.off, say)
    return f"{off} {loose_or_tight(reason.side)} as found" if reason.off else as_found(reason)


def _too_tight_as_read(gap: Gap) -> bool:
    return gap.window.min is not None and gap.reading.bracket.best < gap.window.min


def answer_words(decision: Decision, say: Speaker) -> str:
    """The letter's first sentence: is it right, and what does it take."""
    total, unsure = len(decision.outcome.gaps), not_surely(decision)
    wrong = [name for name, found in decision.outcome.gaps.items() if found.verdict == "outside"]
    if find_out_first(decision):
        return "What has to be done can be said once that is found out."
    if {*wrong} & (unanswered(decision) | read_again(decision)):
        return "What can be put right can be said once that is settled."
    if wait := nothing_yet_for(decision):
        return wait
    if wrong:
        done = "" if decision.changes.nothing else f" {begun(what_is_done(decision))}."
        many = f"{number_word(len(wrong)).capitalize()} of {number_word(total)} clearances" if total > 1 else ""
        told = f"{many or f'The {called(decision)}'} {not_right(decision, wrong, say)}.{done}"
        return told.replace("Two of two clearances cannot", "Neither clearance can", 1)
    will = "is" if decision.changes.nothing else "will be"
    if decision.job.found_outside:
        it = "it" if total == 1 else "all of it"
        likely = probably(*(decision.outcome.gaps[name].chance for name in unsure))
        unsurely = f", though only {likely}" if unsure else ""
        if set(open_gaps(decision)) - set(find_out_first(decision)):
            unsurely += ", but for what has to be settled first,"
        return f"By calculation {it} comes right{unsurely} with what is to be done now: {what_is_done(decision)}."
    if unsure and not any(decision.job.gap[name].may_be_tight for name in unsure):
        read = all_measured(decision)
        start = "Measured after fitting," if read else _by_what(decision)
        return f"{start} {perhaps_words(decision, total, unsure, read=read)}: {what_is_done(decision)}."
    later = list(dict.fromkeys(gap for gap, _ in read_with_play(decision)))
    if later and open_gaps(decision) <= {*later}:
        now = [gap.name for gap in decision.job.gaps if gap.name not in later]
        comes = "comes" if len(now) == 1 else "come"
        if {*now} <= set_since(decision):
            still = "has" if len(later) == 1 else "have"
            are = "is as it should be" if len(now) == 1 else "are as they should be"
            them = "it" if len(later) == 1 else "them"
            again = f"{listed(later, _MOST_NAMED)} {still} to be measured again before anybody can say so of {them}"
            return f"{begun(listed(now, _MOST_NAMED))} {are}, measured after fitting; {again}."
        then = f"{begun(listed(later, _MOST_NAMED))} can be set for good only after that"
        return f"By calculation {listed(now, _MOST_NAMED)} {comes} right: {what_is_done(decision)}. {then}."
    if unsettled(decision):
        if all_measured(decision):
            it = "it was" if total == 1 else f"{all_of(decision)} were"
            return (
                f"{it[0].upper()}{it[1:]} measured inside, but something has to be settled: {what_is_done(decision)}."
            )
        it = "it comes right" if total == 1 else f"{all_of(decision)} come right"
        return f"{_by_what(decision)} {it}, but for what has to be settled first: {what_is_done(decision)}."
    if chance := by_chance_words(decision):
        it = "it comes right" if total == 1 else f"{all_of(decision)} come right"
        return f"{_by_what(decision)} {it}, {chance}: {what_is_done(decision)}."
    which, are = called(decision), "are" if will == "is" else will
    start = f"The {which} {will}" if total == 1 else f"{which} {are}"
    if short_of(decision, say) or looked_at_before_closing(decision):
        return f"{start} inside what is allowed{_how_known(decision)}: {what_is_done(decision)}."
    return f"{start} as {'it' if total == 1 else 'they'} should be{_how_known(decision)}: {what_is_done(decision)}."


def _by_what(decision: Decision) -> str:
    """How it is known how the clearances stand, before the sentence that says so."""
    read = decision.changes.nothing and any(gap.reading.after_fitting for gap in decision.job.gaps)
    return "Partly measured after fitting, else by calculation," if read else "By calculation"


def _how_known(decision: Decision) -> str:
    if not all_fitted(decision):
        return ""
    gaps, as_set = decision.job.gaps, left_as_set(decision)
    if as_set and {*not_read_since(decision)} <= {*as_set}:
        which = f"{listed(as_set, _MOST_NAMED)} " if len(gaps) > 1 else ""
        return f", {which}by {'its' if len(as_set) == 1 else 'their'} running torque"
    if not any(gap.reading.after_fitting for gap in gaps):
        return " by calculation" if any(gap.reading.calculated for gap in gaps) else ", as measured"
    if any(gap.reading.calculated for gap in gaps):
        return ", partly measured after fitting and else calculated"
    return ", measured after fitting" + ("" if all_measured(decision) else " where anything was changed")


def gap_status(decision: Decision, gap: Gap, standing: Standing) -> str:
    """Two or three words over a gap's block: what becomes of it, and how sure that is."""
    return ", ".join(filter(None, (becomes(decision, gap, standing), status_doubt(decision, gap, standing))))


def becomes(decision: Decision, gap: Gap, standing: Standing) -> str:
    """What is done for a gap, or that nothing helps yet."""
    if gap.name in standing.find_out:
        return "to be looked into first"
    if gap.name in standing.doubted:
        return "measured again first"
    if gap.name in standing.waits:
        return "nothing is fitted yet"
    if decision.outcome.gaps[gap.name].verdict == "outside":
        if reason := standing.spoiled.get(gap.name):
            return f"{as_found(reason)}, will not be right after this"
        if any(place in standing.wrong for place, _ in gap.effects):
            return "to be settled first"
        if decision.job.untold(gap.name):
            return "to be settled first"
        if nearer(decision, gap.name):
            return "comes nearer, but not right"
        return "not put right so far" if gap.name in left_by_cut_off(decision) else "cannot be put right yet"
    movers, over = _movers(decision, gap)
    changed = [change.place for change in movers if change.changed]
    if not changed and over and (done := decision.job.machined(gap.name)):
        return f"put right without a shim: {shown(done, 200)}"
    if not changed and over and gap.name in done_by_no_shim(decision):
        return "no shim was changed"
    if len(movers) == 1 or not changed:
        return status_words(movers, over=over)
    together = packs_set(decision, gap, standing)
    if together:
        return f"set by the pack{'s' if changed[1:] else ''} at {listed(changed)}"
    visited = any(decision.visit.at[place].changed for place, _ in gap.effects)
    return "stays as it is now" if visited else "stays as it was"


def packs_set(decision: Decision, gap: Gap, standing: Standing) -> bool:
    """Whether the packs of several places set a gap: its row names them with what goes in."""
    if decision.outcome.gaps[gap.name].verdict == "outside" or gap.name in standing.untold:
        return False
    return _several_change(decision, gap) and not packs_cancel(decision, gap)


def packs_cancel(decision: Decision, gap: Gap) -> bool:
    """Whether what is done to the packs of several places leaves a gap as it was read."""
    _, over = _movers(decision, gap)
    same = decision.outcome.gaps[gap.name].after == gap.reading.bracket
    return same and not over and _several_change(decision, gap)


def _several_change(decision: Decision, gap: Gap) -> bool:
    movers, _ = _movers(decision, gap)
    return len(movers) > 1 and any(change.changed for change in movers)


def _movers(decision: Decision, gap: Gap) -> tuple[list[PlaceChange], bool]:
    """The changes at the places that move a gap; those of the visits so far where that is over and none is left."""
    over = not any(decision.changes.at[place].changed for place, _ in gap.effects)
    return [(decision.visit if over else decision.changes).at[place] for place, _ in gap.effects], over


def status_doubt(decision: Decision, gap: Gap, standing: Standing) -> str:
    """That something is settled first, or how likely a gap that is not outside is right; empty where it surely is."""
    found = decision.outcome.gaps[gap.name]
    if found.verdict == "outside" or gap.name in standing.untold:
        return ""
    if gap.name in standing.open:
        return "to be settled first"
    if gap.name in left_as_set(decision):
        return RIGHT_BY_TORQUE
    return f"{probably(found.chance)} inside" if found.verdict == "unproven" else ""
