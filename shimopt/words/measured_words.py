"""What a gap was first measured at, as the letter says it: with what was in, and by how much it may still move."""

from __future__ import annotations

from shimopt.job import Gap
from shimopt.planner import Decision
from shimopt.readings import Reading
from shimopt.words.reading_words import both_clearance, both_units
from shimopt.words.speaker import Speaker


def measured_words(decision: Decision, gap: Gap, say: Speaker) -> str:
    """`Measured 17 to 18 thou (0.432 to 0.457 mm) with W-08 in.`; of a cover, how far it stands off."""
    job, read = decision.job, decision.job.first_read(gap)
    found, moving = say.as_read(read.found), _moving(read, say)
    likely = "" if read.basis == "worst case" or found.exact else ", 19 times in 20"
    if read.opens:
        shims = "Without shims" if job.stood_bare(gap) else "With the shims in"
        return f"{shims} the cover stands {both_units(-found.high, -found.low, say)} off{likely}{moving}."
    measured = both_clearance(found.low, found.high, say.about(gap))
    return f"Measured {measured}{likely}{_as_it_stood(decision, gap, say)}{moving}."


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
