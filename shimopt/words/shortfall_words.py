"""What a plan does not give of what the job asks beside its windows: as many pieces, packs alike, nothing soft.

Sentences that begin small, for the first lines of screen and paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from shimopt.errors import shown
from shimopt.job import Job
from shimopt.planner import Decision
from shimopt.reasons.gap_reasons import TooFewForAll, TooFewPieces
from shimopt.reasons.remedies import OneMorePiece
from shimopt.seats import Finding
from shimopt.seats.part_facts import GivesWay, SlottedOnMovingFace, SoftOnMovingFace, TakesUpPlay
from shimopt.seats.stack_rules import with_hard_between
from shimopt.words.doubt_words import doubted
from shimopt.words.even_words import cleared_up_first, settled_before
from shimopt.words.finding_words import finding_words
from shimopt.words.found_words import find_out_first
from shimopt.words.reason_words import too_few_for_all
from shimopt.words.speaker import Speaker, listed
from shimopt.words.trial_words import read_with_play, set_since

_MOST_FULLER = 3
_RUBBED = (SoftOnMovingFace, SlottedOnMovingFace, GivesWay)


def short_of(decision: Decision, say: Speaker) -> list[str]:
    """All of it but what is rubbed; of places whose gaps come right, for the others say it themselves."""
    return [*too_few(decision, say), *_uneven(decision, say)]


def read_again_then(decision: Decision) -> list[str]:
    """What was read while another gap still had play that the same packs take away: `backlash has to be read again`."""
    pairs, done = read_with_play(decision), set_since(decision)
    return [
        f"{shown(gap)} has to be read again {'now that' if other in done else 'once'} {shown(other)} is set: how "
        f"{listed([place for place, _ in decision.job.gap[gap].effects])} share the pieces may change then."
        for gap, other in pairs
    ]


def too_few(decision: Decision, say: Speaker) -> list[str]:
    """Places that take more pieces than there are, though what they set is right."""
    said = []
    for names, words in too_few_told(decision, say):
        moved = [gap.name for name in names for gap in decision.job.moved_by.get(name, ())]
        if all(decision.outcome.gaps[name].verdict != "outside" for name in moved):
            said.append(words)
    return said


def too_few_told(decision: Decision, say: Speaker) -> Iterator[tuple[tuple[str, ...], str]]:
    """The places that too few pieces suit, one by one or those that act together, and the sentence."""
    for reason in decision.reasons:
        if isinstance(reason, TooFewPieces):
            there = f"only {reason.there} {say.had} {'suits' if reason.there == 1 else 'suit'}"
            yield (reason.about,), f"{shown(reason.about)} takes at least {reason.fewest} pieces, and {there}."
        elif isinstance(reason, TooFewForAll):
            yield reason.names, f"{too_few_for_all(reason, say)}."


def _uneven(decision: Decision, say: Speaker) -> Iterator[str]:
    outcome, waits = decision.outcome.balances, cleared_up_first(decision)
    for balance in decision.job.balances:
        if settled_before(decision.job, balance, waits):
            continue
        if balance.within is not None and outcome[balance.name].met is False:
            spread = say(outcome[balance.name].spread_after)
            yield f"{shown(balance.name)} stays uneven by {spread}, {say(balance.within)} asked."
        elif balance.within is not None and (worst := outcome[balance.name].beyond(balance.within)):
            best = f"by best estimate {say(outcome[balance.name].spread_after)}, which is inside"
            # what was read after fitting was read in the final assembly
            later = "" if all_measured(decision) else "; it is measured again in the final assembly"
            asked = f"{say(balance.within)} asked"
            yield f"{shown(balance.name)} may be uneven by up to {say(worst)}, {asked}: {best}{later}."


def all_measured(decision: Decision) -> bool:
    """Whether every gap was measured after fitting and nothing more is to be done."""
    return decision.changes.nothing and all(gap.reading.after_fitting for gap in decision.job.gaps)


def rubbed_in(findings: Iterable[Finding], job: Job, stacks: Mapping[str, Sequence[int]]) -> list[Finding]:
    """Soft or slotted pieces of these stacks with nothing hard between them and a face that turns, and gaskets."""
    rubbed = (one for one in findings if isinstance(one.fact, _RUBBED))
    return [
        one
        for one in with_hard_between(rubbed, job, stacks)
        if one.grade == "caution"
        and one.known_by in {job.stock[i].part.known_by for i in stacks.get(one.place or "", ())}
    ]


def rubbed(decision: Decision) -> list[Finding]:
    """The same of a plan."""
    return rubbed_in(decision.findings, decision.job, decision.stacks)


def springs_fitted(decision: Decision) -> list[Finding]:
    """Springs that go in where the seat names them: how thick one is hangs on whether it lies pressed flat."""
    stock, changes = decision.job.stock, decision.changes.at
    named = (one for one in decision.findings if isinstance(one.fact, TakesUpPlay) and one.fact.named)
    return [
        one
        for one in named
        if one.place in changes
        and one.known_by in {stock[piece.line].part.known_by for piece in changes[one.place].into}
    ]


def flat_words(decision: Decision, say: Speaker) -> list[str]:
    """`A-1 at end play lies pressed flat`, of each of them."""
    return [f"{say.known(*one.known_by)} at {shown(one.place)} lies pressed flat" for one in springs_fitted(decision)]


def rubbed_words(found: Sequence[Finding], say: Speaker) -> list[str]:
    """`S-10 at reverse is soft, and the face turns: only with a hard piece between`."""
    return [f"{say.known(*one.known_by)} at {shown(one.place)} {finding_words(one, say)}" for one in found]


def rubbed_steps(found: Sequence[Finding]) -> list[str]:
    """What to do about it."""
    running = [one for one in found if isinstance(one.fact, SoftOnMovingFace) and one.fact.alone]
    running = [one for one in running if not (isinstance(one.fact, SoftOnMovingFace) and one.fact.asked)]
    alone = list(dict.fromkeys(one.place for one in running))
    soft = list(dict.fromkeys(o.place for o in found if not isinstance(o.fact, GivesWay) and o.place not in alone))
    crushed = list(dict.fromkeys(one.place for one in found if isinstance(one.fact, GivesWay)))
    steps = [f"Put a piece that is hard against what turns at {listed(soft, 4)} first."] if soft else []
    meant = "where the maker means it so, name its material in the seat's `materials`"
    made = "is made to run against what turns, or take a hard one"
    steps += [f"See first that what goes in at {listed(alone, 4)} {made}."] if alone else []
    return [*steps, *([f"Find a shim of metal for {listed(crushed, 4)} first; {meant}."] if crushed else [])]


def fuller_steps(decision: Decision, say: Speaker, only: str = "") -> list[str]:
    """What one piece more than a place takes would make surely inside; of one gap `only`, if it is named."""
    job, first = decision.job, {*doubted(decision), *find_out_first(decision)}
    said = []
    for name, stack in decision.remedies.fuller.items():
        if name not in first and only in ("", name):
            place = job.place[job.alone[name]]
            most, at = place.most_pieces, shown(place.name)
            limit = f"{most} {'is' if most == 1 else 'are'} assumed to be the most there, where nothing says more"
            limit = limit if place.most_assumed else f"at most {most} {'is' if most == 1 else 'are'} allowed there"
            fit = f"With {most + 1} pieces at {at} ({say.stack(stack, place.name)}) {shown(name)} would be sure"
            said.append(f"{fit}; {limit}: write most_pieces = {most + 1} only where the seat bears it.")
    return said[:_MOST_FULLER]


def one_more_steps(decision: Decision, unmet: Sequence[str]) -> list[str]:
    """What one piece more in a place than it takes would bring inside, or within: balances that are `unmet`."""
    tried, told = decision.remedies.one_more, {r.about for r in decision.reasons if isinstance(r, OneMorePiece)}
    said, found = [], decision.outcome.gaps
    allow = "allow it (`most_pieces`, 3 where nothing says it) only where the seat bears it."
    gaps = [name for name in tried if name in decision.job.gap and name not in told]
    if sure := [name for name in gaps if found[name].verdict == "unproven"]:
        said.append(f"One piece more in a place would make {listed(sure, 4)} sure: {allow}")
    if right := [name for name in gaps if name not in sure]:
        said.append(f"One piece more in a place would bring {listed(right, 4)} inside: {allow}")
    if uneven := [name for name in unmet if name in tried]:
        within = f"would bring {listed(uneven, 4)} within: allow it only where the seat bears it."
        said.append(f"One piece more in a place than is allowed now {within}")
    return said
