"""All findings of a plan as sentences, like ones of several places joined: all of them, or those that matter here."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable
from dataclasses import replace

from shimopt.lengths import Bracket
from shimopt.planner import Decision
from shimopt.reasons.doubts import SUSPECT
from shimopt.reasons.gap_reasons import PartsDoNotSuit
from shimopt.reasons.job_facts import (
    ClosedUpDiffers,
    NoPreloadAssumed,
    NotAsPredicted,
    ReadWithPlay,
    SeatsAsked,
    TorqueRightNotLength,
)
from shimopt.reasons.slip_facts import SizeSuspect
from shimopt.seats import Finding
from shimopt.seats.finding import Lack
from shimopt.seats.part_facts import BoreTooSmall
from shimopt.seats.stack_facts import NotChecked
from shimopt.words.doubt_words import sizes_doubted, suspects
from shimopt.words.finding_words import assumed_clause, finding_words
from shimopt.words.first_words import blind_words, read_with_spring, told_first
from shimopt.words.fit_words import wanting
from shimopt.words.found_words import told_as_found
from shimopt.words.next_steps import lacks_bore, seats_asked
from shimopt.words.speaker import Speaker, listed
from shimopt.words.trial_words import play_clause, trial_doubted

_MOST = 8
# a place, and what a piece in it is known by
_About = tuple[str, str, str | None, Bracket | None]
_LIGHT = (SeatsAsked, ClosedUpDiffers)
_UNTOLD = (*SUSPECT, NotChecked)  # told elsewhere on the screen


def findings_list(decision: Decision, say: Speaker) -> list[str]:
    """What was found, first about readings and what is fitted, then about the other parts.

    Of a part that must not be fitted only the first reason is told.
    """
    of_fitted: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    of_others: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    stopped: set[_About] = set()
    fitted = _fitted(decision)
    for grade in ("stop", "caution", "note"):
        for finding in decision.findings:
            about = (finding.place, *finding.known_by)
            if finding.grade != grade or isinstance(finding.fact, _UNTOLD) or about in stopped:
                continue
            if grade == "stop":
                stopped.add(about)
            here = about in fitted or not finding.part
            lines, named = (of_fitted, say.known(*finding.known_by)) if here else (of_others, _tagged(finding, say))
            subject = f"{finding.grade}: {named}" if finding.part else finding.grade
            lines[(subject, finding_words(finding, say))].append(finding.place)
    texts = [_joined(*key, where) for lines in (of_fitted, of_others) for key, where in lines.items()]
    if len(texts) > _MOST:
        texts = [*texts[:_MOST], f"{len(texts) - _MOST} more findings: see --json."]
    unchecked = unchecked_words(decision)
    return [*texts, unchecked] if unchecked else texts


def cautions(decision: Decision, say: Speaker, places: Collection[str] | None = None) -> list[str]:
    """What asks for care of readings, places and what is or was in; what the first lines say is not said again.

    Of gaps and places of these names alone, if any are given; an empty one is the whole job.
    """
    cared = (one for one in _cared_for(decision, say) if places is None or one.place in places)
    return [_joined(*key, where) for key, where in _grouped(cared, say).items()]


def brief_cautions(decision: Decision, say: Speaker) -> list[tuple[str, bool]]:
    """The same beside first lines and next steps: without the remedy, and without what is to be found out first.

    Each with whether it asks for no more than a seat, or is in the first lines too: then a screen may leave it out.
    """
    found, springs = told_as_found(decision), read_with_spring(decision).values()
    cared = [
        one
        for one in _cared_for(decision, say)
        if not (isinstance(one.fact, (NotAsPredicted, TorqueRightNotLength)) and one.place in found)
        if one not in springs
    ]
    above = trial_doubted(decision)
    light = {_brief(one, decision, say) for one in cared if one.fact in above.values() or isinstance(one.fact, _LIGHT)}
    grouped = _grouped(cared, say, lambda one: _brief(one, decision, say))
    return [(_joined(*key, where), key[1] in light) for key, where in grouped.items()]


def _brief(finding: Finding, decision: Decision, say: Speaker) -> str:
    """What asks for care, without the remedy that is one of the next steps."""
    fact = finding.fact
    if isinstance(fact, ReadWithPlay):
        return play_clause(fact, say)
    if isinstance(fact, SeatsAsked):
        return f"no seat sizes at {listed(fact.places, 3)}: any piece may be planned there"
    if isinstance(fact, NoPreloadAssumed) and not suspects(decision):
        under_cover = decision.job.gap[finding.place].reading.opens
        return finding_words(finding, say) if under_cover else assumed_clause(fact, say)
    return finding_words(finding, say)


def cared_for(decision: Decision, say: Speaker) -> set[str]:
    """The gaps and places of which there are such cautions."""
    return {finding.place for finding in _cared_for(decision, say)}


def _cared_for(decision: Decision, say: Speaker) -> list[Finding]:
    # of what comes out only that it must not have been in
    fitted, stock = _fitted(decision), decision.job.stock
    was_in = {(p.name, *stock[i].part.known_by) for p in decision.job.places for i in p.installed}
    # a size of the drawer that looks wrong, and that is told nowhere else, keeps its piece out of the plan
    told, matter = sizes_doubted(decision), []
    for finding in decision.findings:
        if isinstance(finding.fact, SizeSuspect) and not finding.fact.offered and finding.part not in told:
            matter.append(finding)
            continue
        counts = finding.grade != "note" or blind_words(decision.job, finding, say) != ""
        known = isinstance(finding.fact, NotChecked) or told_first(finding)
        here = fitted | was_in if finding.grade == "stop" else fitted
        if counts and not known and (not finding.part or (finding.place, *finding.known_by) in here):
            matter.append(finding)
    return matter


def planned_cautions(decision: Decision, say: Speaker, places: Collection[str] | None = None) -> list[str]:
    """What asks for care of the pieces that lie in these places afterwards, all of them if none are named."""
    fitted = _fitted(decision)
    planned = (
        one
        for one in decision.findings
        if (one.place, *one.known_by) in fitted
        and one.grade == "caution"
        and not told_first(one)
        and (places is None or one.place in places)
    )
    return [_joined(*key, where) for key, where in _grouped(planned, say).items()]


def near_misses(decision: Decision, say: Speaker) -> list[str]:
    """Parts of the right thickness that would go on where they must not be fitted: one could reach for them."""
    near = (
        replace(finding, place=reason.about)
        for reason in decision.reasons
        if isinstance(reason, PartsDoNotSuit)
        for finding in reason.findings
        if not isinstance(finding.fact, BoreTooSmall)
    )
    told = _grouped(near, say).items()
    return [f"{part} not on {listed(where, 5)}: right thickness, but {why}." for (part, why), where in told]


def _grouped(
    findings: Iterable[Finding], say: Speaker, words: Callable[[Finding], str] | None = None
) -> dict[tuple[str, str], list[str]]:
    """Where the same is said of the same part, by both; in these `words`, if any are given."""
    told: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    for one in findings:
        said = finding_words(one, say) if words is None else words(one)
        told[(say.known(*one.known_by), said)].append(one.place)
    return told


def unchecked_words(decision: Decision, most: int = len(Lack)) -> str:
    """What could not be checked, for want of dimensions; empty where nothing was, or a question asks for it.

    Parameter: most, how many of them are named.
    """
    bare = [one.place for one in decision.findings if lacks_bore(one.fact, Lack.NO_SEAT)]
    asked = not seats_asked(decision).issuperset(bare)
    return wanting((one.fact for one in decision.findings), seats=asked, most=most)


def _fitted(decision: Decision) -> set[_About]:
    stock = decision.job.stock
    return {(p, *stock[i].part.known_by) for p, stack in decision.stacks.items() for i in stack}


def _tagged(finding: Finding, say: Speaker) -> str:
    return say.tagged(finding.part, finding.piece)


def _joined(subject: str, words: str, where: list[str]) -> str:
    named = [place for place in where if place]
    if not subject:
        return f"{listed(named, 5)}: {words}." if named else f"{words}."
    return f"{subject}{f' on {listed(named, 5)}' if named else ''}: {words}."
