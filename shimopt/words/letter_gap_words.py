"""The letter's block about one gap: what was read, what follows, what was refused, without jargon."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from shimopt.arithmetic import off_by
from shimopt.arithmetic.clearance import thickness_of
from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.lengths import Bracket
from shimopt.planner import Decision
from shimopt.reasons import Reason
from shimopt.reasons.account import Account, Unsuited
from shimopt.seats import Finding
from shimopt.words.assembly_words import heat_words
from shimopt.words.finding_words import finding_words
from shimopt.words.letter_words import common_window
from shimopt.words.limits_words import both_clearance, both_units, limits_both
from shimopt.words.names import chance_text, listed, pieces_text
from shimopt.words.speaker import Speaker

__all__ = ["GapWords", "all_gap_words"]

_LONGEST_NAMES = 60


@dataclass(slots=True)
class GapWords:
    """The sentences about a gap, and the refused part that they describe, None where they describe none."""

    sentences: list[str]
    described: Unsuited | None = None


def all_gap_words(decision: Decision, say: Speaker) -> dict[str, GapWords]:
    """The sentences about every gap. A refused part is described where it first comes up."""
    described: set[str] = set()
    return {gap.name: _gap_words(decision, gap, say, described) for gap in decision.job.gaps}


def _gap_words(decision: Decision, gap: Gap, say: Speaker, described: set[str]) -> GapWords:
    account, found, job = decision.account(gap.name), decision.outcome.gaps[gap.name], decision.job
    first = job.as_first_read.get(gap.name, gap.reading).bracket
    told: Unsuited | None = None
    said = [f"Measured {both_clearance(first.low, first.high, say)}."]
    if common_window(decision) is None:
        said.append(f"Allowed {limits_both(gap.window, say)}.")
    kept = any(job.kept(place) for place, _ in gap.effects)
    if kept:
        said += _was_fitted(decision, gap, first, say)
    elif job.records and gap.name in job.records[-1].gaps:
        said += _measured_again(decision, gap, say)
    said += _fitted(decision, gap, say)
    for reason in decision.reasons:
        if reason.about == gap.name and not (kept and reason.code.startswith("already_inside")):
            said += [words] if (words := _because(reason, say)) else []
    if kept or any(decision.stacks.get(place) for place, _ in gap.effects) or found.verdict == "outside":
        refusals, told = _refused(decision.refused(gap.name), say, described)
        said += refusals
    if found.verdict == "outside" and account.aim is not None and account.aim.least > 0:
        said.append(_wanted(account, say))
    chance = found.chance
    if chance is not None and found.verdict != "outside" and (gap.least_chance or gap.reading.basis != "worst case"):
        said.append(f"The chance that it is inside is {chance_text(chance).replace('>', 'more than ')}.")
    if gap.heat is not None:
        said.append(_begun(heat_words(gap, found.after, say).removeprefix(f"{shown(gap.name)}: ")))
    for finding in decision.findings:
        if finding.place == gap.name and finding.grade == "caution" and not finding.part:
            words = finding_words(finding, say)
            said.append(f"To be cleared up: {f'it {words}' if finding.code.startswith('reading') else words}.")
    return GapWords(said, told)


def _was_fitted(decision: Decision, gap: Gap, first: Bracket, say: Speaker) -> list[str]:
    """What was fitted at an earlier visit, and what it reads since."""
    pieces = [piece for place, _ in gap.effects for piece in decision.job.kept(place)]
    low, high = sum(piece.thickness.low for piece in pieces), sum(piece.thickness.high for piece in pieces)
    shim, was = ("The shim", "was") if len(pieces) == 1 else ("The shims", "were")
    return [
        f"{_off(first, gap, say)}{shim} {pieces_text(pieces)}, {both_units(low, high, say)} thick, {was} fitted.",
        *_measured_again(decision, gap, say),
    ]


def _measured_again(decision: Decision, gap: Gap, say: Speaker) -> list[str]:
    record = decision.job.records[-1]
    now = record.gaps.get(gap.name)
    if now is None:
        return []
    if now.read is None and not any(decision.job.kept(place) for place, _ in gap.effects):
        return []
    if now.read is None:
        now_text = both_clearance(now.predicted.low, now.predicted.high, say)
        return [f"By calculation it is {now_text} now; it was not measured again."]
    first = decision.job.as_first_read.get(gap.name, gap.reading).bracket
    if now.read == first:
        return [f"Measured again on {shown(record.date[:10])}: the same."]
    return [f"Measured again on {shown(record.date[:10])}: {both_clearance(now.read.low, now.read.high, say)}."]


def _fitted(decision: Decision, gap: Gap, say: Speaker) -> list[str]:
    """What goes in now, at every place that moves the gap."""
    job, after = decision.job, decision.outcome.gaps[gap.name].after
    stacks = [(place, decision.stacks.get(place, ())) for place, _ in gap.effects]
    filled = [(place, stack) for place, stack in stacks if stack]
    if not filled:
        return []
    pieces = [i for _, stack in filled for i in stack]
    thick = thickness_of(pieces, job.stock)
    named = [
        say.stack(stack) if place == gap.name else f"{say.stack(stack)} at {shown(place)}" for place, stack in filled
    ]
    shim, verb = ("The shim", "brings") if len(pieces) == 1 else ("The shims", "bring")
    thickness, result = both_units(thick.low, thick.high, say), both_clearance(after.low, after.high, say)
    off = _off(gap.reading.bracket, gap, say)
    return [f"{off}{shim} {listed(named)}, {thickness} thick, {verb} it to {result}."]


def _off(read: Bracket, gap: Gap, say: Speaker) -> str:
    """By how much a reading is outside, as the beginning of a sentence; empty where it is not."""
    over = off_by(read.best, gap.window)
    if not over:
        return ""
    loose = gap.window.max is not None and read.best > gap.window.max
    return f"That is {both_units(over, over, say)} too {'loose' if loose else 'tight'}. "


def _refused(refused: tuple[Unsuited, ...], say: Speaker, described: set[str]) -> tuple[list[str], Unsuited | None]:
    """The shims that are thick enough but don't suit the seat; the first of them that is new is described."""
    said: list[str] = []
    others: list[str] = []
    first: Unsuited | None = None
    for unsuited in refused:
        name, finding = say.part(unsuited.line), unsuited.finding
        mark = f"{name}: {finding_words(finding, say)}"
        if first is not None or mark in described:
            others.append(name)
            continue
        described.add(mark)
        first = unsuited
        said.append(f"{name} would be thick enough, but {_unfit(finding, say)}. It is not used here.")
    if others:
        verb = "do" if len(others) > 1 else "does"
        said.append(f"{listed(others, 3)} {verb} not suit this seat{' either' if said else ''}.")
    return said, first


def _unfit(finding: Finding, say: Speaker) -> str:
    """Why a part does not suit, as one would tell it over the counter."""
    lengths = {key: both_units(nm, nm, say) for key, nm in finding.lengths.items()}
    match finding.code:
        case "bore_too_large":
            return (
                f"its hole, {lengths['bore']}, is too wide for the shaft, {lengths['shaft']}: it would hang off centre"
            )
        case "bore_too_small":
            return f"its hole, {lengths['least_bore']}, does not go over the shaft, {lengths['largest_shaft']}"
    return finding_words(finding, say)


def _wanted(account: Account, say: Speaker) -> str:
    span = account.needed or account.aim
    assert span is not None
    if span.most is None:
        return f"What is needed is {both_units(span.least, span.least, say)} of shim or more that suits."
    return f"What is needed is a shim of {both_units(span.least, span.most, say)} that suits."


def _because(reason: Reason, say: Speaker) -> str:
    """A reason without jargon; empty where another sentence says it."""
    stack = say.stack(reason.stack)

    def told(key: str) -> str:
        length = Fraction(reason.lengths.get(key, 0))
        return both_clearance(length, length, say)

    match reason.code:
        case "already_inside" if reason.stack:
            return (
                f"That is right, so nothing is fitted. Even the thinnest shim that suits, {stack}, would only "
                f"take it to {told('after')}, and there is no need."
            )
        case "already_inside":
            return "That is right, so nothing is fitted."
        case "already_inside_and_no_thinner":
            return (
                f"That is right, so nothing is fitted. Even the thinnest shim that suits, {stack}, would leave "
                f"only {told('after')}: too tight."
            )
        case "fitted_to_be_surer":
            return "It was probably right before, but not surely."
        case "fitted_to_match":
            return f"It was right by itself; the shim makes it match the others ({listed(reason.names)})."
        case "unproven_after" | "unproven_as_read":
            return (
                f"It is right by the best estimate. As finely as it could be measured, it may still be "
                f"{told('out')} outside."
            )
        case "shims_not_allowed":
            return f"That is {told('off')} outside, but this place must not be shimmed: {shown(reason.texts['why'])}."
        case "below_window":
            return (
                f"That is {told('off')} too tight. A shim would only make it tighter: its seating has to be looked "
                "at, or metal has to come off."
            )
        case "nothing_suits" | "nothing_on_hand":
            return f"That is {told('off')} too loose, and there is no shim at hand that suits."
        case "not_thick_enough":
            return (
                f"It needs {told('least')} of shim at least; the thickest that can be made is {told('thickest')}. "
                "Nothing is fitted."
            )
        case "too_tight_with_thinnest":
            return (
                f"The thinnest shim that suits, {stack}, would leave only {told('tight')}: too tight. Nothing is "
                "fitted."
            )
        case "no_size_between":
            return (
                f"No shim at hand brings it inside; the nearest, {stack}, would leave {told('after')}, "
                f"{told('off')} outside. Nothing is fitted."
            )
        case "drawer_ran_out":
            got = reason.texts["got"]
            where = f": it is used at {shown(got)}" if 0 < len(got) <= _LONGEST_NAMES else ""
            return (
                f"{stack} would do it, but the drawer has not enough of it{where}. Nothing is fitted until it is "
                "bought."
            )
        case "beyond_parts":
            return "No shim made is that thick: the measurement is probably wrong and has to be repeated."
    return ""


def _begun(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]
