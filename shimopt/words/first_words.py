"""What comes before anything is fitted: what is in and must not be, readings that cannot be relied on.

Plan, sheet and letter say it in their first lines, and the steps to take begin with it.
"""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.planner import Decision
from shimopt.reasons import job_facts as stated
from shimopt.reasons.doubts import SUSPECT
from shimopt.seats import Finding
from shimopt.seats.stack_facts import LiesOtherwise
from shimopt.words.customer_words import to_settle
from shimopt.words.doubt_words import doubted, doubts_told, measured_first, sizes_doubted
from shimopt.words.finding_words import finding_words
from shimopt.words.fit_words import form_words
from shimopt.words.found_words import find_out_first
from shimopt.words.outside_words import spoiled, windows_fighting
from shimopt.words.read_steps import known_shim
from shimopt.words.record_words import running_measured
from shimopt.words.shortfall_words import rubbed, rubbed_steps, springs_fitted
from shimopt.words.speaker import Speaker, begun, listed
from shimopt.words.trial_words import read_with_play, trial_doubted

_MOST = 6
_SETTLED_FIRST = (stated.PreloadWithoutLimit, stated.TorqueOutside, stated.TorqueOtherwise, stated.ClosedUpBefore)
_GAVE = (stated.SpringWasIn, stated.CrushedWasIn)


def first_words(decision: Decision, say: Speaker) -> list[str]:
    """All of it, a sentence each; none where nothing stands before the work."""
    return [*in_and_hidden(decision, say), *suspect_words(decision, say), *measured_first(decision)]


def unsettled(decision: Decision) -> bool:
    """Whether anything has to be settled, or read again, before the work can be relied on."""
    return bool(open_gaps(decision) or in_and_wrong(decision))


_OF_PACKS = (stated.PacksNotAlike, stated.PacksInterchanged)
_IN = (stated.InDoesNotSuit, stated.InWhereNoneGoes, stated.MoreInThanTaken, *_OF_PACKS)


def in_and_wrong(decision: Decision) -> set[str]:
    """The places in which something is that must not be there, or too much: what becomes of it is settled first."""
    found = [one for one in decision.findings if isinstance(one.fact, _IN) or _rubs(one.fact)]
    unlike = {name for one in found if isinstance(one.fact, _OF_PACKS) for name in one.fact.places}
    return {one.place for one in found} | unlike


def _rubs(fact: object) -> bool:
    """Whether pieces were said to lie in a wrong order against what turns."""
    return isinstance(fact, LiesOtherwise) and fact.rubs


def open_gaps(decision: Decision) -> set[str]:
    """The gaps of which something has to be settled, read again or found out before what is planned counts."""
    wrong = in_and_wrong(decision)
    names = {gap.name for gap in decision.job.gaps if gap.may_be_tight or wrong & {place for place, _ in gap.effects}}
    names |= {one.place for one in decision.findings if _counts(one.fact) or to_settle(one)}
    unsure = (*rubbed(decision), *springs_fitted(decision))
    names |= {gap.name for one in unsure for gap in decision.job.moved_by.get(one.place, ())}
    names |= {gap for gap, _ in read_with_play(decision)} | set(read_with_spring(decision))
    names |= {*doubted(decision)} | set(find_out_first(decision)) | set(trial_doubted(decision))
    return names | _hang_on_found_out(decision)


def read_with_spring(decision: Decision) -> dict[str, Finding]:
    """Gaps that were read with a spring in and are outside, or are changed: how thick it was then, nobody knows."""
    found: dict[str, Finding] = {}
    for one in decision.findings:
        if isinstance(one.fact, _GAVE):
            for gap in decision.job.moved_by.get(one.place, ()):
                changed = any(decision.changes.at[place].changed for place, _ in gap.effects)
                if changed or decision.outcome.gaps[gap.name].verdict == "outside":
                    found.setdefault(gap.name, one)
    return found


def read_again(decision: Decision) -> set[str]:
    """Gaps of which the reading itself is in doubt: how far they are outside, and what they need, nobody knows."""
    twice = {one.place for one in decision.findings if _closed_up_counts(one.fact)}
    turned = _places(decision, stated.TorqueOutside)
    return {*doubted(decision), *read_with_spring(decision), *twice, *turned}


def _hang_on_found_out(decision: Decision) -> set[str]:
    """Gaps into whose places pieces go from where it has to be found out which are in."""
    job = decision.job
    doubted = {place for name in find_out_first(decision) for place, _ in job.gap[name].effects}
    into = [change.place for change in decision.changes if doubted & {piece.other for piece in change.into}]
    return {gap.name for place in into for gap in job.moved_by[place]}


def unanswered(decision: Decision) -> set[str]:
    """The gaps that share places with one of which the job leaves a question open: what is possible hangs on it."""
    asked = {one.place for one in decision.findings if to_settle(one)}
    return {name for cluster in decision.job.clusters if asked & {*cluster.gaps} for name in cluster.gaps}


def fighting(decision: Decision) -> list[tuple[str, ...]]:
    """Gaps that cannot all be right, whatever goes in, each with all of them; none of which a question is open."""
    open_question = unanswered(decision)
    fights = dict.fromkeys(windows_fighting(decision).values())
    return [fight for fight in fights if not open_question & {*fight}]


def made_worse(decision: Decision) -> list[str]:
    """Gaps that what is planned leaves further out than as found, though they do not fight."""
    settled = {*unanswered(decision), *read_again(decision), *(name for fight in fighting(decision) for name in fight)}
    return [name for name in spoiled(decision) if name not in settled]


def looked_at_first(decision: Decision) -> set[str]:
    """Gaps of which windows and readings are looked at before anything is fitted."""
    return {name for fight in fighting(decision) for name in fight} | {*made_worse(decision)}


def waiting_to_be_fitted(decision: Decision) -> list[str]:
    """The gaps that hang on places where nothing is fitted yet, though something is planned there."""
    names = looked_at_first(decision)
    clusters = [one for one in decision.job.clusters if names & {*one.gaps}]
    changed = [one for one in clusters if any(decision.changes.at[place].changed for place in one.places)]
    return [name for cluster in changed for name in cluster.gaps]


def nothing_yet_words(decision: Decision) -> tuple[str, bool]:
    """`Fit nothing yet`, or at which places, where that would make gaps worse, or they cannot all be right.

    And whether that is all that is planned. Their windows and readings are looked at first.
    """
    names = looked_at_first(decision)
    waiting = [p for cluster in decision.job.clusters if names & {*cluster.gaps} for p in cluster.places]
    changed = [change.place for change in decision.changes if change.changed]
    at = [place for place in changed if place in waiting]
    if not at:
        return "", False
    return f"Fit nothing yet{'' if len(at) == len(changed) else f' at {listed(at, 4)}'}", len(at) == len(changed)


def in_and_hidden(decision: Decision, say: Speaker) -> list[str]:
    """What is in and must not be there; what may be tight already; readings closed up that say otherwise."""
    said = [_in_words(one, say) for one in decision.findings if isinstance(one.fact, _IN) or _rubs(one.fact)]
    turned = _places(decision, stated.TorqueOutside)
    said += [_tight(gap, decision.job) for gap in decision.job.gaps if gap.may_be_tight and gap.name not in turned]
    said += [_spring(name, one, say) for name, one in read_with_spring(decision).items()]
    said += [_closed_up(one, decision, say) for one in decision.findings if _closed_up_counts(one.fact)]
    said += [_in_words(one, say) for one in decision.findings if isinstance(one.fact, _SETTLED_FIRST)]
    # what is the same of several is said once
    told: dict[str, list[str]] = {}
    for words in said:
        name, _, of = words.partition(": ")
        told.setdefault(of, []).append(name)
    return _first_of([f"{listed(names, 4)}: {of}" if of else names[0] for of, names in told.items()])


def told_first(finding: Finding) -> bool:
    """Whether a finding is one of these, or is told by `suspect_words`."""
    return isinstance(finding.fact, (*_IN, *SUSPECT)) or _counts(finding.fact) or _rubs(finding.fact)


def suspect_words(decision: Decision, say: Speaker) -> list[str]:
    """Readings and sizes that look like a slip, and faces that are tilted; that they are measured again, besides."""
    return _first_of(doubts_told([*decision.findings], say, sizes_doubted(decision)))


def first_of_gap(gap: Gap, job: Job, findings: Sequence[Finding], say: Speaker) -> list[str]:
    """The same of one gap and its place alone, for a card; `findings` are theirs."""
    said = [_in_words(one, say) for one in findings if isinstance(one.fact, (*_IN, stated.PreloadWithoutLimit))]
    said += [f"{shown(one.place)}: find out {question}." for one in findings if (question := to_settle(one))]
    said += [_spring(gap.name, one, say) for one in findings if isinstance(one.fact, _GAVE)]
    suspect = [f"{words} Measure it again before anything is fitted." for words in doubts_told(findings, say)]
    return [*said, *([_tight(gap, job)] if gap.may_be_tight else []), *suspect]


def blind_words(job: Job, finding: Finding, say: Speaker) -> str:
    """What no blade could tell of a gap, where the first lines do not say it; empty for other findings."""
    tells = isinstance(finding.fact, stated.BLIND) and not job.gap[finding.place].may_be_tight
    return finding_words(finding, say) if tells else ""


def blind_buts(decision: Decision) -> list[str]:
    """As far as what does an answer hold, where a reading begins at nothing: for `with_buts` in the first line."""
    said = []
    for kind in (stated.NoPreloadAssumed, stated.CoverFreeAssumed):
        if names := blind_gaps(decision, kind):
            said.append(f"this holds only if {hidden_words(names, cover=kind is stated.CoverFreeAssumed)}.")
    return said


def hidden_words(names: Sequence[str], *, cover: bool) -> str:
    """What a reading of nothing may hide and must not, if an answer is to hold."""
    if not cover:
        return f"{listed(names, 3)}, where nothing could be read, {'hide' if names[1:] else 'hides'} no preload"
    covers, rests = ("covers", "their cases") if names[1:] else ("cover", "its case")
    were = "were" if names[1:] else "was"
    return f"the {covers} did not rest on {rests} yet when {listed(names, 3)} {were} read as nothing"


def blind_gaps(decision: Decision, *kinds: type[object]) -> list[str]:
    """Gaps that are inside only if their readings of nothing hide nothing: all, or those of these kinds."""
    hidden = open_gaps(decision)
    known = [one.place for one in decision.findings if isinstance(one.fact, kinds or stated.BLIND)]
    return [name for name in known if name not in hidden and decision.outcome.gaps[name].verdict != "outside"]


def with_buts(answer: str, buts: Sequence[str]) -> str:
    """An answer and what speaks against it, sentences that begin small or with a name; `But` is said once."""
    if not buts:
        return answer
    first, *others = buts
    first = f"{'And' if ' but ' in answer else 'But'} {first}"
    return " ".join(filter(None, (answer, first, *(f"And {one}" for one in others))))


def _tight(gap: Gap, job: Job) -> str:
    if turned := running_measured(job, gap):
        # it has been turned since: that tells what no blade does
        return f"{shown(gap.name)}: it may be tight already, and only its running torque tells. {turned}"
    nothing = "no blade goes" if gap.reading.kind == "feeler" else "it reads as nothing"
    return (
        f"{shown(gap.name)}: {nothing}, it may be tight already: turn it (running torque), or read it "
        f"{known_shim(job.opened_by_more(gap))}, before anything goes in or comes out."
    )


def _spring(name: str, finding: Finding, say: Speaker) -> str:
    """Read with what gives way in."""
    fact, part = finding.fact, say.known(*finding.known_by)
    what, then = "", "Read it again without it"
    if isinstance(fact, stated.SpringWasIn):
        what = f"which is {form_words(shown(fact.form))}: it gives, and how thick it was then nobody knows"
    elif isinstance(fact, stated.CrushedWasIn):
        what = f"of {shown(fact.material)}: crushed it is thinner than {say(fact.thickness)}, as which it is counted"
        then = "Measure what comes out and state that, or read it again without it,"
    where = "" if finding.place == name else f" at {shown(finding.place)}"
    return f"{shown(name)}: read with {part}{where} in, {what}. {then} before anything is fitted or bought."


def _first_of(said: list[str]) -> list[str]:
    more = len(said) - _MOST
    return [*said[:_MOST], *([f"So it is with {more} more: see the plan."] if more > 0 else [])]


def _in_words(finding: Finding, say: Speaker) -> str:
    fact, place = finding.fact, shown(finding.place)
    if isinstance(fact, stated.PacksInterchanged):
        return f"{begun(finding_words(finding, say))}."
    if isinstance(fact, stated.PacksNotAlike):
        return f"{finding_words(finding, say)}."
    if isinstance(fact, stated.InDoesNotSuit):
        return f"{place}: {say.known(*finding.known_by)} {finding_words(finding, say)}."
    return f"{place}: {finding_words(finding, say)}."


def _counts(fact: object) -> bool:
    """Whether nothing is built on the plan before this is settled."""
    return isinstance(fact, _SETTLED_FIRST) or _closed_up_counts(fact)


def _closed_up_counts(fact: object) -> bool:
    return isinstance(fact, stated.ClosedUpPlanned) and fact.settle


def _closed_up(finding: Finding, decision: Decision, say: Speaker) -> str:
    """Of two readings of one gap the plan goes by the first, and by the second it is not inside."""
    gap, fact = decision.job.gap[finding.place], finding.fact
    read = gap.closed_up
    if not isinstance(fact, stated.ClosedUpPlanned) or read is None:
        return ""
    say = say.about(gap)
    window = gap.window
    way = "too tight" if window.min is not None and fact.after_low < window.min else "too loose"
    then = say.clearance(fact.after_low, fact.after_high)
    planned = any(decision.changes.at[place].changed for place, _ in gap.effects)
    comes = f", with what is planned it comes to {then}" if planned else ""
    comes = f"{comes}, {'inside' if fact.inside else way}"
    if planned and not gap.window.out(read.low, read.high):
        comes = f", inside with nothing changed{comes.replace(', with', '; with', 1)}"
    return (
        f"{shown(gap.name)}: closed up it reads {say.clearance(read.low, read.high)}{comes}. One of its two readings "
        "is not as in service: find out which before anything is fitted."
    )


def first_steps(decision: Decision) -> list[str]:
    """The same as the first of what is to be done next."""
    untold = [g.name for g in decision.job.gaps if g.may_be_tight and decision.job.turned(g.name) is None]
    kinds = {
        "Put right first what is in at {}: with keep = false at a place the plan looks for what suits.": _places(
            decision, stated.InDoesNotSuit, stated.MoreInThanTaken
        ),
        "Lay the pieces at {} round first, as the first lines say, and record them so.": [
            one.place for one in decision.findings if _rubs(one.fact)
        ],
        "Find out first why shims are in at {}, where none goes.": _places(decision, stated.InWhereNoneGoes),
        "Make the packs at {} alike first, piece for piece, then read and plan again.": [
            name for one in decision.findings if isinstance(one.fact, stated.PacksNotAlike) for name in one.fact.places
        ],
        "Exchange the packs at {} first, then read and plan again.": [
            name
            for one in decision.findings
            if isinstance(one.fact, stated.PacksInterchanged)
            for name in one.fact.places
        ],
        "Turn {} first (running torque), or open it by a known shim and read it again, before anything goes in or "
        "comes out.": [name for name in untold if decision.job.gap[name].effects and decision.job.takes_shims(name)],
        "Turn {} first (running torque), before anything goes in or comes out.": [
            name for name in untold if not decision.job.gap[name].effects or not decision.job.takes_shims(name)
        ],
        "Read {} again first, without what gave way in it.": list(read_with_spring(decision)),
        "Find out first which of its two readings holds: {}.": [
            one.place for one in decision.findings if _closed_up_counts(one.fact)
        ],
        "State how much preload {} may have, as the `min` of its window (0 where it is to have play); plan again.": (
            _places(decision, stated.PreloadWithoutLimit)
        ),
        "Set {} right first by its running torque: what it reads in length does not say it as surely.": _places(
            decision, stated.TorqueOutside
        ),
        "Turn {} again as its running torque is stated, and record that.": _places(decision, stated.TorqueOtherwise),
        "Look first at what came out of {}: with it in there was a preload, or the reading is wrong.": _places(
            decision, stated.PackWasTooThick, stated.PacksWereTooThick
        ),
    }
    said = [words.format(listed(list(dict.fromkeys(names)), 4)) for words, names in kinds.items() if names]
    springs = [one.place for one in springs_fitted(decision)]
    flat = [f"See that the spring at {listed(springs, 4)} lies pressed flat: else its thickness counts for nothing."]
    return [*said, *(flat if springs else []), *rubbed_steps(rubbed(decision))]


def _places(decision: Decision, *kinds: type[object]) -> list[str]:
    return [one.place for one in decision.findings if isinstance(one.fact, kinds)]
