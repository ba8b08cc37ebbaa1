"""What a gap was first measured at, what is done at its places or was done at the last visit, and what it reads since.

All of it as the letter says it.
"""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.arithmetic import off_by
from shimopt.arithmetic.changes import PlaceChange
from shimopt.arithmetic.clearance import thickness_of, times
from shimopt.errors import shown
from shimopt.job import Gap
from shimopt.lengths import Bracket
from shimopt.planner import Decision
from shimopt.readings import Reading
from shimopt.reasons.job_facts import TorqueOutside
from shimopt.words.first_words import in_and_wrong
from shimopt.words.reading_words import basis_text, both_clearance, both_units, far_in_both
from shimopt.words.speaker import Speaker, begun, listed, loose_or_tight, sized


def measured_words(decision: Decision, gap: Gap, say: Speaker) -> str:
    """`Measured 17 to 18 thou (0.432 to 0.457 mm) with W-08 in.`; of a cover, how far it stands off."""
    job, read = decision.job, decision.job.first_read(gap)
    found, moving = say.as_read(read.found), _moving(read, say)
    likely = "" if read.basis == "worst case" or found.exact else " (19 times in 20)"
    if read.opens:
        shims = "Without shims" if job.stood_bare(gap) else "With the shims in"
        return f"{shims} the cover stands {both_units(-found.high, -found.low, say)} off{likely}{moving}."
    measured = both_clearance(found.low, found.high, say.about(gap))
    return f"Measured {measured}{_as_it_stood(decision, gap, say)}{likely}{moving}."


def _moving(read: Reading, say: Speaker) -> str:
    """By how much it may move until the final assembly, where anybody said so."""
    shift = next((term.half for term in read.terms if term.code == "shift"), None)
    return "" if shift is None else f"; until the final assembly it may move by {both_units(shift, shift, say)}"


def _as_it_stood(decision: Decision, gap: Gap, say: Speaker) -> str:
    """What was in the gap's own place while it was first read; nothing, where what was in had come out for that."""
    if len(gap.effects) != 1:
        return ""
    job, place = decision.job, decision.job.place[gap.effects[0][0]]
    was_in = job.read_with[place.name] if job.records else place.installed
    bare = not was_in and bool(job.began_with[place.name] if job.records else place.came_out)
    return f" with {say.stack(was_in, place.name)} in" if was_in or bare else ""


def visited_here(decision: Decision, gap: Gap) -> list[PlaceChange]:
    """What was changed up to the last record at the places that move a gap."""
    return [change for place, _ in gap.effects if (change := decision.visit.at[place]).changed]


def was_done(decision: Decision, gap: Gap, first: Bracket, changed: Sequence[PlaceChange], say: Speaker) -> list[str]:
    """What was changed at an earlier visit, and what it reads since."""
    off = "" if decision.job.stood_bare(gap) else _off(first, gap, say)
    if any(change.held or change.back or change.stays_out for change in changed):
        done = f"{begun('; '.join(_step(change, gap, say, over=True) for change in changed))}."
    else:
        named, thickness, count = _pieces_in(changed, gap, say)
        shim, was = ("The shim", "was") if count == 1 else ("The shims", "were")
        done = f"{shim} {_thick(named, thickness)} {was} fitted."
    return [f"{off}{_ran_before(decision, gap, first, say)}{done}", *measured_again(decision, gap, say)]


def _ran_before(decision: Decision, gap: Gap, first: Bracket, say: Speaker) -> str:
    """How it ran before, where what was in came out for the first reading and made it outside; ends in a space.

    Not where a preload may hide in that reading, or where the pack is thicker than what was read without it.
    """
    job, names = decision.job, [place for place, _ in gap.effects]
    read = job.first_read(gap)
    if len(names) != 1 or not job.began_with.get(names[0]) or job.read_with.get(names[0]) or read.no_preload_assumed:
        return ""
    pack = job.began_with[names[0]]
    moved = times(gap.effects[0][1], thickness_of(pack, job.stock), gap.reach(names[0]))
    low, best, high = first.low + moved.low, first.best + moved.best, first.high + moved.high
    if high < 0 or not gap.window.off(best):
        return ""
    had = both_clearance(low, high, say.about(gap))
    how = f"{far_in_both(gap.window.off(best), say)} {loose_or_tight(gap.window.side(best))}"
    return f"With {say.stack(pack, names[0])} in, as it came apart, it had {had}, {how}. "


def _pieces_in(changed: Sequence[PlaceChange], gap: Gap, say: Speaker) -> tuple[str, str, int]:
    """What goes into places that were empty: its names, how thick it is, how many pieces."""
    pieces = [piece.line for change in changed for piece in change.into]
    thick = thickness_of(pieces, say.stock)
    named = [
        say.stack(tuple(piece.line for piece in change.into), change.place)
        + ("" if change.place == gap.name else f" at {shown(change.place)}")
        for change in changed
    ]
    return listed(named), both_units(thick.low, thick.high, say), len(pieces)


def measured_again(decision: Decision, gap: Gap, say: Speaker) -> list[str]:
    """What it reads after a fitting, or by calculation; nothing where nothing was done and nobody read it again."""
    if not gap.reading.recorded:
        return []
    now = gap.reading.bracket
    seen = say.as_read(now)
    reads = f"{both_clearance(seen.low, seen.high, say.about(gap))}{basis_text(gap, plain=True)}"
    if gap.reading.calculated:
        return [f"By calculation it is {reads} now; it was not measured again."]
    if done := decision.job.machined(gap.name):
        day = shown(decision.job.read_on(gap.name))
        return [f"Done there: {shown(done, 200)}. Measured again on {day}: {reads}."]
    same = now == decision.job.first_read(gap).bracket
    return [f"Measured again on {shown(decision.job.read_on(gap.name))}: {'the same' if same else reads}."]


def done_here(decision: Decision, gap: Gap, say: Speaker, *, known: bool = True) -> list[str]:
    """What comes out and goes in, at every place that moves the gap, and what that makes of it; or what stays in.

    Where it is not `known` yet what has to be done, only that it is not right.
    """
    job, after = decision.job, decision.outcome.gaps[gap.name].after
    movers = [decision.changes.at[place] for place, _ in gap.effects]
    changed = [change for change in movers if change.changed]
    # a cover without shims is not meant to be right
    off = "" if job.stands_bare(gap) or job.right_but_by_length(gap.name) else _off(gap.reading.bracket, gap, say)
    if changed and not known:
        return [off.rstrip()] if off else []
    there = say.as_after(after)
    result = f"{both_clearance(there.low, there.high, say.about(gap))}{basis_text(gap, plain=True)}"
    # what goes in at one place may cancel what comes out at another
    unchanged = after == gap.reading.bracket
    if not changed:
        held = [change for change in movers if change.stays]
        told = bool(visited_here(decision, gap))
        return [words] if (held or told) and (words := _stays(decision, gap, held, say, told=told)) else []
    moves = {effect > 0 for place, effect in gap.effects if decision.changes.at[place].changed}
    # packs that pull against each other have no sum
    apart = len(changed) > 1 and len(moves) > 1
    if apart or any(change.held or change.back or change.stays_out for change in changed):
        steps = "; ".join(_step(change, gap, say) for change in changed)
        then = "With that it stays at" if unchanged else "That brings it to"
        return [f"{off}{begun(steps)}. {then} {result}."]
    named, thickness, count = _pieces_in(changed, gap, say)
    shim, s = ("The shim", "s") if count == 1 else ("The shims", "")
    it = shown(gap.name) if job.stands_bare(gap) else "it"
    brings = f"leave{s} {it} at" if unchanged else f"bring{s} {it} to"
    return [f"{off}{shim} {_thick(named, thickness)} {brings} {result}."]


def _thick(named: str, thickness: str) -> str:
    """Shims with their thickness, which one that is called by it says already."""
    return named if named == thickness else f"{named}, {thickness} thick,"


def _joined(said: list[str]) -> str:
    return f"{', '.join(said[:-1])} and {said[-1]}" if len(said) > 1 else said[0]


def _stays(decision: Decision, gap: Gap, held: list[PlaceChange], say: Speaker, *, told: bool) -> str:
    """That what is in stays in; its name, unless that was `told`."""
    unsuited = in_and_wrong(decision)
    wrong = any(one.place == gap.name and isinstance(one.fact, TorqueOutside) for one in decision.findings)
    inside = decision.outcome.gaps[gap.name].verdict == "inside" and not wrong
    right = inside and not unsuited & {place for place, _ in gap.effects}
    if told:
        return ("By that it is right." if gap.reading.calculated else "That is right.") if right else ""
    if unsuited & {change.place for change in held}:
        return "What becomes of what is in has to be settled first."
    named = listed(
        [
            say.stack(change.stays, change.place) + ("" if change.place == gap.name else f" at {shown(change.place)}")
            for change in held
        ]
    )
    verb = "stays" if sum(len(change.stays) for change in held) == 1 else "stay"
    return f"That is right: {named} {verb} in." if right else f"{named} {verb} in."


_COMES, _CAME = ("comes out", "come out"), ("came out", "came out")
_GOES, _WENT = ("goes in", "go in"), ("went in", "went in")
_GOES_BACK, _WENT_BACK = ("goes back in", "go back in"), ("went back in", "went back in")


def _step(change: PlaceChange, gap: Gap, say: Speaker, *, over: bool = False) -> str:
    """What comes out of a place and what goes into it, with its thickness; where that is `over`, what stayed too.

    What had come out for the reading goes back in, or stays out.
    """
    said = []
    for lines, verbs in (
        (tuple(piece.line for piece in change.out), _CAME if over else _COMES),
        (change.back, _WENT_BACK if over else _GOES_BACK),
        (change.new, _WENT if over else _GOES),
    ):
        if lines:
            said.append(f"{sized(say.stack(lines, change.place), say.thick(lines))} {verbs[len(lines) > 1]}")
    if over and change.stays:
        said.append(f"{say.stack(change.stays, change.place)} stayed in")
    if change.stays_out:
        stays = "stayed" if over else "stays" if len(change.stays_out) == 1 else "stay"
        said.append(f"{say.stack(change.stays_out, change.place)}, out for the reading, {stays} out")
    return f"{'' if change.place == gap.name else f'at {shown(change.place)} '}{_joined(said)}"


def _off(read: Bracket, gap: Gap, say: Speaker) -> str:
    """By how much a reading is outside, as the beginning of a sentence; empty where it is not."""
    over = off_by(read.best, gap.window)
    if not over:
        return ""
    return f"That is {far_in_both(over, say)} {loose_or_tight(gap.window.side(read.best))}. "
