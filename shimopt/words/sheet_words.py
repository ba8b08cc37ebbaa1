"""What to do at the bench, in the order in which it is done; and the cautions that stand on every paper."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Sequence

from shimopt.arithmetic.changes import DRAWER
from shimopt.arithmetic.changes import Piece as ChangedPiece
from shimopt.arithmetic.clearance import out_at_ends
from shimopt.errors import shown
from shimopt.job import Gap, Place
from shimopt.lengths import Bracket
from shimopt.planner import Decision
from shimopt.reasons.about_trial import is_unclean
from shimopt.reasons.job_facts import ClosedUpPlanned
from shimopt.seats import fitting_order
from shimopt.words.change_words import came_from, counted, goes_to, job_words, place_words, stays_out_words
from shimopt.words.first_words import fighting, nothing_yet_words, read_with_spring, unanswered
from shimopt.words.found_words import find_out_first, left_as_set
from shimopt.words.last_steps import bevel_packs
from shimopt.words.outside_words import cannot_words, nearer, spoiled, why_outside
from shimopt.words.read_steps import TORQUE, with_balance
from shimopt.words.reading_words import basis_text, both_units
from shimopt.words.speaker import Speaker, begun, listed, not_all_right, plural, sized

LICENSED = (
    "On aircraft, pressure equipment, lifting gear and road vehicles a licensed person decides and signs; "
    "these figures only prepare that decision."
)
LETTER_CAUTIONS = (
    "The machine maker's service data come first.",
    "Switch the machine off, lock it and secure it before anyone reaches into it. Shims have sharp edges.",
    "This letter is about the clearances listed here. It does not say that the machine is safe to run.",
)
BENCH_CAUTIONS = (
    "Isolate and lock the machine before you reach into it.",
    "Shims cut. Springs, circlips and heavy parts: restrain and support them.",
    "Blowing dry: under 2 bar (30 psi), guard and eye protection, never at people; never spin a bearing with air.",
    "Solvents burn: ventilate.",
    "The machine maker's service data come first.",
)


Piece = dict[str, str]
_OIL = "dry or oiled, as the maker says"
_OILED = re.compile(r"\b(oil|grease|lubricat|dry\b|wet|paste|compound)", re.IGNORECASE)

_WITHOUT_OIL = re.compile(r"\b(without oil|no oil|dry|unoiled)\b", re.IGNORECASE)

# of more gaps their number is told
_MOST_NAMED = 4

# common practice, no source: a pack behind a bevel gear moves the contact too, and the pinion's its mounting distance
MARKED = (
    "Tooth contact looked at with marking paste, both flanks, after work at {}: it lies as the maker shows. If not, "
    "stop: backlash alone does not tell that it is right."
)
_NO_PLACE = "nothing goes in here: the job names no place for it"
AFTERWARDS = (
    "Every reading is as predicted. If not, stop: look for a burr, dirt, a piece not as marked, a clamp not tight.",
    "Every reading is inside what is allowed. If not, take it apart again and do not run it.",
    "The readings are written into the job: shimopt record JOB",
)
# a plan is for today's readings; after a rebuild with new parts the gap is read again, and the card decides
OPEN_STILL = "only once it is settled: see the top"
READ_AND_FIT = "Read the final gap, fit what its row says"
READ_THEN_PLAN = "Read all the gaps; a plan of these readings then says what to fit"
CARD_HEADING = "Bench card: what goes in, by the final reading"
BY_ORDER = "Once the order has come: read again on the day, then fit by the card at the end."
BY_CARD_ALONE = "Read again on the day, then fit by the card at the end: by it what the plan keeps in may come out too."
NO_ROW = "the card has no row for it and may need its pieces elsewhere: read it, then plan again"
CARD_STOPS = "the card has no row that fits anything: read it, then plan again"
FITTED_BY_CARD = "by the card at the end, for what step 3 reads; fitted: ____________________"


def by_card_words(without_row: Collection[str]) -> str:
    """That the card decides on the day, and what becomes of places that it may take pieces from."""
    said = "That is for today's readings: on the day read again, then fit by the card at the end."
    return f"{said} {listed(sorted(without_row), _MOST_NAMED)}: read, then plan again." if without_row else said


def card_stops_words(decision: Decision, without_row: Collection[str]) -> str:
    """In place of what is planned, where the card leaves none of it: at the bench only the card counts."""
    if any(change.changed and change.place not in without_row for change in decision.changes):
        return ""
    again = f"read {listed(sorted(without_row), _MOST_NAMED)} again, then plan again."
    return f"Nothing is fitted from this sheet, for no row of its card fits anything: {again}"


def once_settled(decision: Decision, answer: str) -> str:
    """The answer where something comes before it; by what was read with a spring in, or as nothing, it may not hold."""
    then = f"{answer[:1].lower()}{answer[1:]}"
    if waits := waiting(decision):
        return f"Then plan again: nothing goes in at {listed(list(waits), _MOST_NAMED)} before."
    hidden = [gap.name for gap in decision.job.gaps if gap.may_be_tight]
    # what is right only if it is tight already waits for nothing else
    tight = [n for n in hidden if not decision.job.untold(n) or decision.outcome.gaps[n].verdict != "outside"]
    if hidden and not tight and decision.changes.nothing:
        return "Nothing is changed before that is known; then plan again."
    if tight:
        are = "is" if len(tight) == 1 else "are"
        when = f"If {listed(tight, _MOST_NAMED)} {are} not tight already"
    else:
        # what settles it may be another figure, and then these pieces are wrong
        when = "Once that is settled, if today's figures stand"
    return f"{when}: {then} Else plan again: nothing of this goes in."


def waiting(decision: Decision) -> dict[str, str]:
    """The places whose pieces nobody knows before a gap was read again without what gave way in it, with what to do."""
    gaps = [decision.job.gap[name] for name in read_with_spring(decision)]
    found = {
        place: f"read {shown(gap.name)} without what gave way in it, then plan again: no piece goes in before"
        for gap in reversed(gaps)
        for place, _ in gap.effects
    }
    for change in decision.changes:
        # what would come out there waits with it
        if given := [piece.other for piece in change.into if piece.other in found]:
            found.setdefault(change.place, found[given[0]])
    return found


def taken_out_first(decision: Decision, say: Speaker) -> list[str]:
    """What comes out before a gap is read again."""
    return [
        f"{shown(name)}: take {say.known(*one.known_by)} out of {shown(one.place)} before it is read"
        for name, one in read_with_spring(decision).items()
    ]


def torque_words(decision: Decision, gap: Gap) -> str:
    """What is written down beside a preload; empty for other gaps."""
    loaded = gap.window.wants_preload and decision.outcome.gaps[gap.name].after.best < 0
    stated = TORQUE if gap.running is None else f"{shown(str(gap.running))} is stated"
    turned = (loaded and gap.name not in left_as_set(decision)) or decision.job.turns_wrong(gap.name)
    return f"running torque, {stated}: ________" if turned else ""


def contact_words(decision: Decision) -> list[str]:
    """That the tooth contact is looked at, where packs behind a bevel gear are changed or were at the last visit."""
    packs = bevel_packs(decision)
    return [MARKED.format(listed(packs, _MOST_NAMED))] if packs else []


def turned_words(decision: Decision) -> list[str]:
    """How it is told that a preload is right after fitting: neither blade nor dial reads one."""
    loaded = [
        gap
        for gap in decision.job.gaps
        if gap.window.wants_preload and decision.outcome.gaps[gap.name].after.best < 0 and not gap.reading.opens
        if gap.name not in left_as_set(decision)
    ]
    if not loaded:
        return []
    names, has = listed([gap.name for gap in loaded], _MOST_NAMED), "has" if len(loaded) == 1 else "have"
    return [f"{names} then {has} a preload, which neither blade nor dial reads: turn {with_balance(loaded)}."]


def prepare_words(decision: Decision, *, by_card: bool = False) -> list[str]:
    """What is made ready before anything is read; common practice, no published source. `by_card` pieces go in too."""
    oil = shown(dict(decision.job.state).get("surfaces", _OIL))
    # what the trial was like is not how it is built where that is no state of service
    # nor where it says something else of them than how they are oiled
    oil = oil if _OILED.search(oil) and not is_unclean(oil) else _OIL
    said = ["Machine isolated and locked", f"Seats, shoulders and shims clean; then {oil}"]
    if decision.changes.going_in() or by_card:
        said.append("Shims and spacer faces deburred, flat, checked on a plate")
        said.append("Every shim measured with a micrometer, its tag kept with it")
    # a torque that is stated dry says nothing of oiled bearings
    unoiled = [g.name for g in decision.job.gaps if g.running is not None and _WITHOUT_OIL.search(g.running.how)]
    if unoiled and not _WITHOUT_OIL.search(oil):
        its = "its running torque is" if len(unoiled) == 1 else "their running torques are"
        said.append(f"{listed(unoiled, _MOST_NAMED)}: no oil before {its} taken, as stated")
    return said


def sheet_answer(decision: Decision, say: Speaker) -> str:
    """What there is to do, in one line."""
    changes = decision.changes
    outside = [name for name, found in decision.outcome.gaps.items() if found.verdict == "outside"]
    if changes.nothing:
        said = "Nothing to change: what is in stays in." if changes.left else "Nothing to fit."
    elif changes.opened or changes.left:
        said = f"{begun(job_words(decision, say))}."
    else:
        shims, places = plural(len(changes.going_in()), "shim"), plural(len(changes.at), "place")
        said = f"Fit {shims} in {len(changes.filled)} of {places}; leave the others as they are."
        if not changes.empty:
            said = f"Fit {shims}." if len(changes.at) == 1 else f"Fit {shims}, in every place."
    taken_out = spoiled(decision)
    closer = [name for name in outside if nearer(decision, name)]
    was_right = [name for name, reason in taken_out.items() if not reason.off]
    further = [name for name in taken_out if name not in was_right]
    left = [name for name in outside if name not in taken_out and name not in closer]
    told = (
        (was_right, f"{'was' if len(was_right) == 1 else 'were'} right as found and will be outside"),
        (further, "will be further outside than as found"),
        (closer, f"{'comes' if len(closer) == 1 else 'come'} nearer, but not right"),
    )
    # by name: places may be called 1 and 2
    said_of = [f"{listed(names, _MOST_NAMED)} {what}" for names, what in told if names]
    below = "; ".join([*said_of, *cannot_words(decision, left, say, _MOST_NAMED)])
    wait, all_of_it = nothing_yet_words(decision)
    if wait:
        why = [not_all_right(fight) for fight in fighting(decision)]
        why += ["that makes it worse"] if not why else []
        wait = f"{wait}: {'; '.join(why)}. Look at windows and readings first."
    below = f"See below: {below}." if below else ""
    return " ".join(filter(None, (wait, "" if all_of_it else said, below)))


def not_yet_words(decision: Decision) -> str:
    """What stands over the fitting where windows and readings are looked at before it; else empty."""
    wait, _ = nothing_yet_words(decision)
    if not wait and (names := find_out_first(decision)) and not decision.changes.nothing:
        return (
            f"Fit nothing before what stands at the top is found out ({listed(names, _MOST_NAMED)}); then plan again."
        )
    return f"{wait}: only once what stands at the top is settled." if wait else ""


def out_words(decision: Decision, place: str, say: Speaker) -> list[str]:
    """What comes out of a place before anything goes in, and where each piece goes."""
    return [
        f"{sized(name, say.thick((piece.line,)))}, {goes_to(piece, say)}"
        for name, piece in counted(decision.changes.at[place].out, say, place)
    ]


def out_blank(decision: Decision, place: str) -> str:
    """Room for the measure of each piece that comes out as marked: what it is replaced by rests on that as much."""
    marked = sum(not decision.job.stock[piece.line].part.measured for piece in decision.changes.at[place].out)
    return " ".join(["________"] * marked)


def beside_out_words(decision: Decision, say: Speaker, by_card: Collection[str] = ()) -> list[str]:
    """What has to be minded of the pieces that are out; of places that go `by_card` their card says it."""
    said = stays_out_words(decision, say, by_card)
    if decision.changes.between_places:
        said.append("Every piece that comes out tagged with its place: some go into other places")
    return said


def pieces_of(decision: Decision, place: str, say: Speaker) -> list[Piece]:
    """The pieces of a changed place in order from the fixed face: name, thickness, how it is known, where it is now."""
    job, change, found = decision.job, decision.changes.at[place], []
    stays, into = Counter(change.stays), list(change.into)
    if not change.changed:
        return []
    for index in fitting_order(decision.stacks.get(place, ()), job.stock, job.place[place].seat):
        part = job.stock[index].part
        thick = both_units(part.thickness.low, part.thickness.high, say)
        known, at = "measured before" if part.measured else "as marked", "stays in"
        if stays[index]:
            stays[index] -= 1
            known = ""
        else:
            piece = next(piece for piece in into if piece.line == index)
            into.remove(piece)
            at = _lies(piece, say, place)
        name = say.named(index)
        # a piece without a name is called by its thickness
        found.append({"name": name, "thickness": thick.removeprefix(f"{name} "), "known": known, "at": at})
    return found


def _lies(piece: ChangedPiece, say: Speaker, place: str) -> str:
    """Where a piece is now that goes in."""
    at = say.stock[piece.line].part.at
    if piece.other == DRAWER:
        return shown(at) or "the drawer"
    return came_from(piece, say, place)


def expected_text(decision: Decision, gap: Gap, say: Speaker) -> str:
    """What should be read after fitting."""
    after = say.as_after(decision.outcome.gaps[gap.name].after)
    return f"{say.about(gap).clearance(after.low, after.high)}{basis_text(gap)}"


def without_place_words(gap: Gap) -> str:
    """What goes in for a gap that no place moves: no shim, where its seat takes none, by which it is set otherwise."""
    takes_none = gap.seat is not None and not gap.seat.shims_allowed
    return f"no shim goes here: {shown(gap.seat.why)}" if takes_none and gap.seat is not None else _NO_PLACE


def closed_up_text(decision: Decision, gap: Gap, say: Speaker) -> str:
    """What should be read closed up, where it was read so too and that says otherwise; else empty."""
    for one in decision.findings:
        if one.place == gap.name and isinstance(one.fact, ClosedUpPlanned):
            there = say.as_after(Bracket.between(one.fact.after_low, one.fact.after_high))
            return f"closed up {say.about(gap).clearance(there.low, there.high)}"
    return ""


def may_be_out(decision: Decision, gap: Gap, say: Speaker) -> str:
    """By how much a gap that is inside by its chance may still be out; empty where it is surely inside."""
    after = decision.outcome.gaps[gap.name].after
    out = max(out_at_ends(after, gap.window))
    return f"may be out by {say(out)}" if out else ""


def not_fitted_words(decision: Decision, place: Place, gaps: Sequence[Gap], say: Speaker) -> str:
    """What a place gets into which nothing goes, in a few words."""
    change, said = decision.changes.at[place.name], place_words(decision, place.name, say)
    if change.changed:
        return said
    for gap in gaps:
        if decision.outcome.gaps[gap.name].verdict == "outside" and gap.name in unanswered(decision):
            return "nothing before the question is answered: see the top"
        if decision.outcome.gaps[gap.name].verdict == "outside":
            leave = f"{said}; " if change.held or len(gap.effects) > 1 else ""
            return f"{leave}{why_outside(decision, place, gap, say)}"
    return said if change.held else "nothing: leave it as it is"


def missing_signs_words(signs: Sequence[str]) -> str:
    """Which signs no font at hand can show; their numbers stand in their places."""
    more = f" and {len(signs) - 8} more" if len(signs) > 8 else ""
    return f"no font has {', '.join(f'U+{ord(sign):04X}' for sign in signs[:8])}{more}: written by number"
