"""What was found after an earlier fitting, outside or otherwise than predicted: it is told first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import assert_never

from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.planner import FOUND_OUT, Decision
from shimopt.reasons.job_facts import NotAsPredicted
from shimopt.seats.finding import Length
from shimopt.words.digits import few_digits, with_digits
from shimopt.words.outside_words import turns_wrongly
from shimopt.words.reading_words import both_clearance, far_in_both
from shimopt.words.speaker import Speaker, listed, loose_or_tight
from shimopt.words.trial_words import state_words

_MOST = 3
# said beside a gap of which what it reads is not called sure
RIGHT_BY_TORQUE = "right by its running torque"
_SLIPPED = "; the measurement before was written down wrongly, in its decimal point or its unit"


def where_to_look(fact: NotAsPredicted, say: Speaker) -> str:
    """The likely explanation and where to look for it, as the end of a sentence."""
    explained, weak = _explained(fact, say), _known_less_well(fact)
    if not weak:
        return explained
    return f": look first at {listed(weak)}; else {explained.lstrip(',: ')}"


def _known_less_well(fact: NotAsPredicted) -> list[str]:
    """What is known less well than any piece."""
    weak = [f"how far {shown(fact.gasket)} is crushed, which was assumed"] if fact.gasket else []
    if fact.trial:
        weak.append(f"how far {shown(fact.trial)} moves it, from two trial readings taken as exact")
    return [*weak, f"how it stood when it was read before ({state_words(fact.state)})"] if fact.state else weak


def _explained(fact: NotAsPredicted, say: Speaker) -> str:
    part, other, many = shown(fact.part), shown(fact.other), fact.count > 1
    one = f"one of the {fact.count} {part}" if many else part
    match fact.likely:
        case "cover_rested":
            return ": the reading before was blind and is disproved, for the cover rested on its case"
        case "preload_hidden":
            return ": the reading before was blind and is disproved, for what read as nothing hid a preload"
        case "cover_may_have_rested":
            return ": the reading before was blind, and the cover may have rested on its case"
        case "preload_may_be_hidden":
            hidden = few_digits(say, fact.explained_high)[0]
            return f": the reading before was blind, and may have hidden up to {hidden} of preload"
        case "reading_slipped":
            meant = say(fact.explained_low)
            return f", as if {meant} had been meant by the reading before: its decimal point, or its unit, had slipped"
        case "closed_up_holds":
            closed_up = say.clearance(fact.explained_low, fact.explained_high)
            return f", as the reading closed up said ({closed_up}): that one holds"
        case "record_off":
            first = say.clearance(fact.explained_low, fact.explained_high)
            day = f"of {part}" if part else "before"
            return f", but just as the first reading foretells ({first}): what the record {day} says is in doubt"
        case "read_with_play":
            return f": the reading before was taken while {part} still had play, which lets it stand so far off"
        case "moved_other_way":
            packs = f"the packs at {part} and {other} went in interchanged" if other else f"{part} got its pack"
            return (
                f": it moved the other way; look first whether {packs}, or `into_mesh` (or a sign in `effects`) stands "
                "on the wrong one"
            )
        case "interchanged":
            return (
                f", as much as {other} is the other way: look whether the two readings, or what is in there, were "
                "interchanged"
            )
        case "packs_interchanged":
            return f", as if the packs at {part} and {other} had gone in interchanged: look there first"
        case "effect_computed":
            packs = f"the packs at {part} and {other} move" if other else f"the pack at {part} moves"
            return (
                f": look first whether {packs} it as far as is computed, the least known figure here (share, teeth, "
                "angle), then for a wrong shim, clamping and seating"
            )
        case "agrees":
            return ""
        case "machined":
            return ": it was worked on otherwise than by shims since"
        case "piece_missing":
            return f", as if {one} were missing: count the pieces"
        case "piece_double":
            said = f"{fact.count + 1} x {part} were in" if many else f"{part} were in twice"
            return f", as if {said}: count the pieces"
        case "piece_stayed":
            return f", as if {one} had stayed in: look whether it came out"
        case "piece_in":
            return f", as if {part} were in{' too' if fact.count else ''}: look whether it is"
        case "wrong_piece":
            return f", as if {other} were in instead of {part}: look which is in, then for burr and dirt"
        case "half_share":
            return (
                f", as if the packs at {part} and {other} held the gear between them: where they do, write "
                "share = 0.5 in each"
            )
        case "clamp_state":
            return ", like most of the others: likely the clamping, the hardware or the gauge differs from the trial"
        case "not_as_marked":
            return ": a piece may not be as marked; measure the pieces with a micrometer"
        case "thicker_than_marked":
            return ": look for dirt or a burr, which make a pack thicker; then measure the pieces with a micrometer"
        case "nothing_fitted":
            return (
                ", and no shim that went in can be to blame: look whether what came out was as marked, then at "
                "clamping, seating and the gauge"
            )
        case "nothing_done":
            return (
                ", and no shim was changed there: if nothing else was done to it, look at clamping, seating and the "
                "gauge, or whether it ran and wore since"
            )
        case "under_cover":
            return (
                ": look for dirt or a burr under the cover, and whether it was nipped too hard when it was read "
                "before; then measure the pieces"
            )
        case "reading_doubted":
            return ": the reading before looked like a slip already, and what was calculated from it with it"
        case "burr_or_seating":
            return ": look for a burr, dirt, a wrong shim, or a seat that is not home"
        case "clamp_or_seating":
            return ": look for a wrong shim, and whether it is clamped and the seat home as in the trial"
    assert_never(fact.likely)


def not_as_predicted_words(fact: NotAsPredicted, say: Speaker) -> str:
    """`0.05 mm looser than predicted (0.0155 mm is plausible), as if ...`."""
    return f"{how_far_off(fact, say)}{where_to_look(fact, say)}"


def how_far_off(fact: NotAsPredicted, say: Speaker) -> str:
    """The same without its explanation."""
    apart, plausible = few_digits(say, _apart(fact), fact.plausible)
    chance = f"{plausible} is plausible" if fact.plausible else "no ± is stated"
    return f"{_otherwise(fact, apart)} ({chance})"


def _otherwise(fact: NotAsPredicted, apart: str) -> str:
    return f"{apart} {'looser' if fact.looser > 0 else 'tighter'} than predicted"


def told_as_found(decision: Decision) -> set[str]:
    """The gaps of which `found_first_words` says that they read otherwise than predicted, and where to look."""
    outside = decision.job.found_outside
    surprises = _surprises(decision)
    inside = [name for name in surprises if name not in outside]
    told = {name for name in (*outside[:_MOST], *inside[:_MOST]) if name in surprises}
    return told | {*_right_by_torque_alone(decision)}


def _so_far(fact: NotAsPredicted, say: Speaker) -> str:
    return few_digits(say, _apart(fact))[0]


def _apart(fact: NotAsPredicted) -> Length:
    return max(fact.looser, -fact.looser)


def _surprises(decision: Decision) -> dict[str, NotAsPredicted]:
    return {one.place: one.fact for one in decision.findings if isinstance(one.fact, NotAsPredicted)}


def done_by_no_shim(decision: Decision) -> set[str]:
    """Gaps that read otherwise than before though no shim was changed: what else was done there, no record says."""
    return {name for name, fact in _surprises(decision).items() if fact.likely == "nothing_done"}


def find_out_first(decision: Decision) -> list[str]:
    """Gaps of which it has to be found out why they read otherwise than predicted, before anything is done for them.

    Where the prediction was blind, that is found out.
    """
    return decision.to_find_out


def looked_at_before_closing(decision: Decision) -> list[str]:
    """Gaps that are inside as read, but not as predicted, where nothing else is found out first: it is looked why.

    Where the reading itself tells why, or it was worked on since, nobody has to look.
    """
    known = (*FOUND_OUT, "machined", "agrees")
    inside = [name for name in _surprises(decision) if name not in decision.job.found_outside]
    return [] if find_out_first(decision) else [n for n in inside if _surprises(decision)[n].likely not in known]


def before_closing_words(decision: Decision) -> list[str]:
    """The same for the customer, beside what is right."""
    names = looked_at_before_closing(decision)
    why = "came out otherwise than was calculated: the workshop looks why before it is closed up."
    return [f"{listed(names, _MOST)} {why}"] if names else []


def found_first_words(decision: Decision, say: Speaker) -> str:
    """`Found outside after fitting (2026-05-03): lower 2 reads 13 to 14 thou, 1.5 thou too loose.`; else empty.

    Where it is otherwise than predicted too, by how much and where to look.
    """
    job, surprises, said = decision.job, _surprises(decision), []
    for name in job.found_outside[:_MOST]:
        gap = job.gap[name]
        about, off = with_digits(say, decision).about(gap), gap.window.off(gap.reading.bracket.best)
        read = about.as_read(gap.reading.bracket)
        reads = f"{shown(name)} reads {about.clearance(read.low, read.high)}"
        reads += _turning(job, gap, surprise=name in surprises) or f", {few_digits(say, off)[0]} {_side(gap)}"
        if fact := surprises.get(name):
            reads += f" and {_otherwise(fact, _so_far(fact, say))}{where_to_look(fact, say)}"
        said.append(reads)
    days = _days(job, job.found_outside)
    words = [f"Found outside after fitting ({days}): {_joined(said, len(job.found_outside))}."] if said else []
    inside = {name: fact for name, fact in surprises.items() if name not in job.found_outside}
    if inside:
        said = [
            f"{shown(name)} {_otherwise(fact, _so_far(fact, say))}{where_to_look(fact, say)}"
            for name, fact in list(inside.items())[:_MOST]
        ]
        words.append(f"Found inside, but not as predicted ({_days(job, inside)}): {_joined(said, len(inside))}.")
    if pair := _exchanged(surprises):
        words.append(f"It is as if what went into {pair[0]} and {pair[1]} had been interchanged: look there first.")
    for name in _right_by_torque_alone(decision)[:_MOST]:
        words.append(
            f"{shown(name)} turns as is stated ({shown(str(job.turned(name)))}), but is not right by calculation."
        )
    if find_out_first(decision):
        words.append("Find that out before anything more is fitted or bought.")
    return " ".join(words)


def _right_by_torque_alone(decision: Decision) -> list[str]:
    """Gaps that turn as is stated and are outside by calculation alone, of those where that is found out first."""
    return [name for name in find_out_first(decision) if decision.job.right_but_by_length(name)]


def _exchanged(surprises: Mapping[str, NotAsPredicted]) -> tuple[str, str] | None:
    """Two gaps that read as if each held the piece of the other."""
    wrong = {(fact.part, fact.other): shown(name) for name, fact in surprises.items() if fact.likely == "wrong_piece"}
    return next(((name, wrong[other, part]) for (part, other), name in wrong.items() if (other, part) in wrong), None)


def found_first_both(decision: Decision, say: Speaker) -> str:
    """The same for the customer, in both systems of units."""
    job, surprises, said = decision.job, _surprises(decision), []
    for name in job.found_outside[:_MOST]:
        gap = job.gap[name]
        about, off = with_digits(say, decision).about(gap), gap.window.off(gap.reading.bracket.best)
        read = about.as_read(gap.reading.bracket)
        reads = both_clearance(read.low, read.high, about)
        words = f"{shown(name)} was {reads}"
        words += _turning(job, gap, surprise=name in surprises) or f", which is {far_in_both(off, say)} {_side(gap)}"
        if fact := surprises.get(name):
            ways = ("looser", "tighter") if read.best < 0 else ("more", "less")
            way = ways[0] if fact.looser > 0 else ways[1]
            # what a slip makes of it is no news of the machine
            slipped = fact.likely == "reading_slipped"
            words += _SLIPPED if slipped else f" and {far_in_both(_apart(fact), say)} {way} than was calculated"
        said.append(words)
    days = _days(job, job.found_outside)
    told = f"Measured after fitting on {days}, {_joined(said, len(job.found_outside))}." if said else ""
    if names := find_out_first(decision):
        turns_right = _right_by_torque_alone(decision)
        names = [name for name in names if name in surprises]
        names += [name for name in surprises if name not in names and surprises[name].likely not in ("machined",)]
        why = [f"{listed(names, _MOST)} came out otherwise"] if names else []
        why += (
            [f"{listed(turns_right, _MOST)} turns as is stated but is not right by calculation"] if turns_right else []
        )
        told += f" Before anything more is fitted, it has to be found out why {' and why '.join(why)}."
    return told.strip()


def not_read_since(decision: Decision) -> list[str]:
    """Gaps that nobody has read since something was fitted: what they read is calculated."""
    return [gap.name for gap in decision.job.gaps if gap.reading.calculated]


def left_as_set(decision: Decision) -> list[str]:
    """Those of them that turn as is stated, and stay as they are: that tells a preload, which no gauge reads."""
    at, job = decision.changes.at, decision.job
    return [g.name for g in job.gaps if job.set_by_torque(g.name) and not any(at[p].changed for p, _ in g.effects)]


def as_read_now(decision: Decision, answer: str) -> str:
    """An answer that holds only once it is found out why a gap reads otherwise than predicted."""
    held = [place.name for place in decision.job.places if place.held]
    turned = [gap for name in held for gap in decision.job.moved_by[name] if decision.job.turns_wrong(gap.name)]
    turning, by_length = bool(turned), any(gap.window.off(gap.reading.bracket.best) for gap in turned)
    if held and turning and not by_length and not find_out_first(decision):
        # what holds it would have to be changed, and no length says by how much
        return (
            f"By how much {listed(held, _MOST)} has to change no length says: change it a little, turn it again, "
            "record both."
        )
    if held and (turning or find_out_first(decision)):
        return f"Until then nothing is changed at {listed(held, _MOST)}: it may make it worse."
    return f"As it reads now: {answer[:1].lower()}{answer[1:]}" if find_out_first(decision) else answer


def found_steps(decision: Decision, say: Speaker, *, whole: bool) -> list[str]:
    """What to do first: find out, gap by gap; then plan again. The `whole` of it says where to look."""
    surprises = _surprises(decision)
    steps = []
    for name in find_out_first(decision)[:_MOST]:
        if name not in surprises:
            steps.append(f"First find out why {shown(name)} turns right but is not by calculation: read it.")
            continue
        where = where_to_look(surprises[name], say) if whole else ""
        steps.append(f"First find out why {shown(name)} reads otherwise than predicted{where}.")
    if names := looked_at_before_closing(decision):
        reads = "reads" if len(names) == 1 else "read"
        return [f"First look why {listed(names, _MOST)} {reads} otherwise than predicted, then record it."]
    return [*steps, "Record what is found, then plan again: nothing is fitted or bought before."] if steps else []


def _joined(said: list[str], count: int) -> str:
    more = count - _MOST
    return f"{'; '.join(said)}{f'; and {more} more' if more > 0 else ''}"


def _days(job: Job, names: Iterable[str]) -> str:
    """When these gaps were read: one day, or all of them."""
    return listed(list(dict.fromkeys(shown(job.read_on(name)) for name in names)))


def _turning(job: Job, gap: Gap, *, surprise: bool) -> str:
    """What its running torque says in place of how far it is outside by its length; empty where it says nothing."""
    way = job.turns_wrong(gap.name)
    return f", though it {turns_wrongly(tight=way == 'tight')}" + "," * bool(surprise) if way else ""


def _side(gap: Gap) -> str:
    return loose_or_tight(gap.window.side(gap.reading.bracket.best))
