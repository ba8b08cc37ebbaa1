"""What happens next, for the letter: who does what where a gap is not right yet, or not surely; what to watch."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from shimopt.arithmetic.outcome import least_room
from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.planner import Decision
from shimopt.reasons.gap_reasons import AboveWindow, BelowWindow, ReadsAsNothing
from shimopt.reasons.remedies import ShimsNotAllowed
from shimopt.reasons.shared_reasons import NoPlaceMoves
from shimopt.words.first_words import (
    blind_gaps,
    fighting,
    looked_at_first,
    made_worse,
    nothing_yet_words,
    open_gaps,
    read_again,
    unsettled,
)
from shimopt.words.found_words import left_as_set, not_read_since
from shimopt.words.read_steps import gauged, otherwise_read
from shimopt.words.reading_words import far_in_both, limit_both
from shimopt.words.reading_worth_words import rather_pulled
from shimopt.words.speaker import Speaker, listed, not_all_right
from shimopt.words.standing import stands_as_read

_NO_SHIM = (ShimsNotAllowed, BelowWindow, AboveWindow, NoPlaceMoves)
_MOST_NAMED, _MOST_WARNED = 4, 6


def next_words(decision: Decision) -> str:
    """`Next the workshop gets the shim that is wanted, ...`; empty where all is right and settled."""
    outside = [name for name, found in decision.outcome.gaps.items() if found.verdict == "outside"]
    if unsettled(decision) or {*outside} & read_again(decision):
        return _next("settles what is open, measures again and works it out anew")
    if not outside:
        return ""
    if {*outside} & looked_at_first(decision):
        return _next("looks again at what is allowed and what was measured, before anything is fitted")
    no_shim = {one.about for one in decision.reasons if isinstance(one, _NO_SHIM)}
    steps = []
    # what reads as nothing may hide that it is right
    nothing = {one.about: one for one in decision.reasons if isinstance(one, ReadsAsNothing)}
    for name in (name for name in outside if name in nothing):
        cover = f"sees whether the cover of {shown(name)} rests on its case, and measures the play if it does"
        steps.append(cover if nothing[name].cover else f"finds out what {shown(name)} hides, which reads as nothing")
    if wanting := [name for name in outside if name not in no_shim and name not in nothing]:
        steps.append(f"gets what is wanted for {listed(wanting, _MOST_NAMED)}, fits it and measures again")
    if others := [name for name in outside if name in no_shim and name not in nothing]:
        steps.append(f"sees what keeps {listed(others, _MOST_NAMED)} from being right, before any metal comes off")
    return _next(listed_steps(steps))


def listed_steps(steps: Sequence[str]) -> str:
    """Steps in a row: `gets it, fits it and sees to it`."""
    return steps[0] if len(steps) == 1 else f"{', '.join(steps[:-1])} and {steps[-1]}"


def seen_to_first(job: Job, names: Sequence[str], say: Speaker) -> list[str]:
    """What the workshop does before it runs, of gaps of which no finer gauge tells more."""
    blind = [name for name in names if job.gap[name].reading.no_preload_assumed]
    covers = [name for name in blind if job.gap[name].reading.opens]
    tight = [name for name in blind if name not in covers]
    said = []
    if others := [name for name in names if name not in blind]:
        # by how much it leaves open is the workshop's business
        said += [
            f"measures{step.removeprefix('measure').split(', which')[0]}" for step in otherwise_read(job, others, say)
        ]
    if tight:
        said.append(f"sees that {listed(tight, _MOST_NAMED)} {'is' if len(tight) == 1 else 'are'} not tight already")
    if covers:
        said.append(f"sees that the cover of {listed(covers, _MOST_NAMED)} does not rest on its case")
    return [f"the workshop {words}" for words in said]


def nothing_yet_for(decision: Decision) -> str:
    """That nothing is fitted yet, or at which places, and why; empty where nothing waits."""
    wait, all_of_it = nothing_yet_words(decision)
    if not wait:
        return ""
    said = [not_all_right(fight) for fight in fighting(decision)]
    if worse := made_worse(decision):
        said.append(f"what could go in would make {listed(worse, _MOST_NAMED)} worse")
    others = "" if all_of_it else " What is done elsewhere stands in the table."
    return f"{wait.replace('Fit nothing', 'Nothing is fitted')}: {'; '.join(said)}.{others}"


def before_it_runs(decision: Decision, unsure: Sequence[str], say: Speaker) -> str:
    """What would tell for certain, as it was tried; empty where nothing was found."""
    unread = [name for name in unsure if decision.job.gap[name].reading.calculated]
    others = [name for name in unsure if name not in unread]
    turned = [name for name in unread if decision.job.turned(name) is not None]
    unread = [name for name in unread if name not in turned]
    which = listed(unread, _MOST_WARNED) if others or turned else "it" if len(unread) == 1 else "them"
    said = [f"The workshop reads {which} before it runs: nobody has since it was fitted."] if unread else []
    compared = [name for name in turned if decision.job.gap[name].running is None]
    if compared:
        said.append(f"Compare the running torque of {listed(compared, _MOST_WARNED)} with the maker's figure.")
    first = [name for name in others if name not in gauged(decision.job, others) and _read_finer(decision, name)]
    if first:
        said += [f"Before it runs, {words}." for words in seen_to_first(decision.job, first, say)]
        others = [name for name in others if name not in first]
    return " ".join([*said, *([told] if others and (told := _more_surely(decision, others)) else [])])


def _read_finer(decision: Decision, name: str) -> bool:
    return name in decision.remedies.finer or name in decision.remedies.both


def _more_surely(decision: Decision, unsure: Sequence[str]) -> str:
    """The same of gaps that were read."""
    tried, it = decision.remedies, "it" if len(unsure) == 1 else "them"
    if len(unsure) < len(not_surely(decision)):
        it = listed(unsure, _MOST_WARNED)
    if set(unsure) <= {*tried.more}:
        sizes = listed(list(dict.fromkeys(decision.job.stock[tried.more[name]].part.name for name in unsure)))
        return f"One more {sizes} would make {it} sure." if len(unsure) == 1 else f"One more {sizes} each would."
    if set(unsure) <= {*tried.finer}:
        same = set(unsure) <= {*rather_pulled(decision, unsure)}
        return f"The workshop measures {it} {'once more' if same else 'more finely'} before it runs."
    if set(unsure) <= {*tried.finer, *tried.final}:
        return f"The workshop measures {it} again in the final assembly, more finely, before it runs."
    if set(unsure) <= {*tried.measured}:
        return "The workshop measures the shims that go in there before it runs."
    if set(unsure) <= {*tried.effects}:
        return "How far a shim moves it there has to be measured again before it runs."
    both = set(unsure) <= {*tried.finer, *tried.measured, *tried.both}
    return f"The workshop measures {it} more finely before it runs, and the shims that go in there." if both else ""


def not_surely(decision: Decision) -> list[str]:
    """Gaps that may be out; where the reading itself is in doubt nobody knows how likely that is.

    One that turns as is stated is right by that.
    """
    again = {*read_again(decision), *left_as_set(decision)}
    return [n for n, found in decision.outcome.gaps.items() if found.verdict == "unproven" and n not in again]


def _next(what: str) -> str:
    return f"Next the workshop {what}; a new letter then says how it stands."


def gaps_by_need(decision: Decision) -> list[Gap]:
    """Gaps that are outside first, then those that are not surely inside, then the others, each in job order."""
    order = {"outside": 0, "unproven": 1, "inside": 2}
    return sorted(decision.job.gaps, key=lambda gap: order[decision.outcome.gaps[gap.name].verdict])


def watch_words(decision: Decision, say: Speaker) -> list[str]:
    """What to put right first, what to watch, when to measure again; of running in only where all is inside."""
    still, as_set = open_gaps(decision), left_as_set(decision)
    verdicts = {name: found.verdict for name, found in decision.outcome.gaps.items()}
    # where nothing is done yet, a gap stands as it was read
    off = {gap.name: gap.window.off(gap.reading.bracket.best) for gap in decision.job.gaps}
    as_read = stands_as_read(decision)
    now = sorted((name for name in as_read if off[name]), key=lambda name: -off[name])
    read = {gap.name: gap.reading.bracket for gap in decision.job.gaps}
    sure = {gap.name for gap in decision.job.gaps if not gap.window.out(read[gap.name].low, read[gap.name].high)}
    wrong = [gap.name for gap in gaps_by_need(decision) if verdicts[gap.name] != "inside" or gap.name in still]
    wrong = [*now, *(name for name in wrong if name not in now and not (name in as_read and name in sure - still))]
    wrong = [name for name in wrong if name not in as_set or name in still]
    wrong += [name for name, found in decision.outcome.balances.items() if found.met is False]
    said = [f"First of all: {listed(wrong, _MOST_WARNED)}."] if wrong else []
    said += [follows] if (follows := next_words(decision)) else []
    room = None if wrong or unsettled(decision) else least_room(decision.job, decision.outcome)
    # how far it may be beyond by calculation says nothing of what turns right
    if room is not None and room[0].name not in as_set:
        first = " first" if len(decision.job.gaps) > 1 else ""
        said.append(f"Watch {shown(room[0].name)}{first}: {_room_words(*room, say)}.")
    if decision.changes.nothing and not decision.job.records:
        said.append("Measure again in the final assembly.")
    elif nothing_yet_words(decision)[1]:
        pass
    elif not decision.changes.nothing or {*not_read_since(decision)} - {*as_set}:
        what = "What was not measured after fitting is" if decision.job.records else "All figures after fitting are"
        said.append(f"{what} calculated: measure again in the final assembly.")
    right = as_set and {*verdicts} == {n for n, verdict in verdicts.items() if verdict == "inside" or n in as_set}
    right = right and not any(map(decision.job.turns_wrong, verdicts))
    if wrong or hides_nothing(decision) or unsettled(decision) or not (decision.outcome.doable or right):
        said.append("How it is run in, and when it is measured again, can be said once all of it is right and settled.")
    else:
        said.append(
            "Have it measured again after running in and at every overhaul; at once if anything knocks, binds, "
            "runs hot or sheds metal. (Common practice; the maker's intervals go first.)"
        )
    return said


def _room_words(gap: Gap, left: Fraction, side: int, say: Speaker) -> str:
    """How far a gap is from the limit that it is nearest to; where a chance decides, it may stand beyond it."""
    room = far_in_both(abs(left), say)
    way = f"{room} is left to" if left > 0 else f"it may stand {room} beyond" if left else "it may already stand at"
    return f"{way} {limit_both(gap, side, say)}"


def hides_nothing(decision: Decision) -> list[str]:
    """Gaps that are surely inside, if only what was read as nothing hides nothing."""
    inside = {name for name, found in decision.outcome.gaps.items() if found.verdict == "inside"}
    return list(dict.fromkeys(name for name in blind_gaps(decision) if name in inside))
