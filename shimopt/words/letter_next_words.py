"""What happens next, for the letter: who does what where a gap is not right yet, or not surely."""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.job import Job
from shimopt.planner import Decision
from shimopt.reasons.gap_reasons import AboveWindow, BelowWindow
from shimopt.reasons.remedies import ShimsNotAllowed
from shimopt.reasons.shared_reasons import NoPlaceMoves
from shimopt.words.first_words import looked_at_first, read_again, unsettled
from shimopt.words.read_steps import otherwise_read
from shimopt.words.speaker import Speaker, listed

_NO_SHIM = (ShimsNotAllowed, BelowWindow, AboveWindow, NoPlaceMoves)
_MOST_NAMED = 4


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
    # where nothing could be read nobody knows what is wanted
    blind = [name for name in outside if decision.job.gap[name].reading.no_preload_assumed]
    no_shim -= {*blind}
    steps = [_third(step) for step in otherwise_read(decision.job, blind, Speaker(decision.job.unit))]
    if wanting := [name for name in outside if name not in no_shim and name not in blind]:
        steps.append(f"gets what is wanted for {listed(wanting, _MOST_NAMED)}, fits it and measures again")
    if others := [name for name in outside if name in no_shim]:
        steps.append(f"sees what keeps {listed(others, _MOST_NAMED)} from being right, before any metal comes off")
    return _next(" and ".join(steps))


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


def _third(step: str) -> str:
    """What somebody is told to do, as what the workshop does: `turns a, or reads it with a known shim less`."""
    first, _, rest = step.partition(" ")
    said = f"{first}s {rest}"
    for told in (", or read ", ", and read "):
        said = said.replace(told, told.replace("read", "reads"))
    return f"{said}, before anything is done there"


def _next(what: str) -> str:
    return f"Next the workshop {what}; a new letter then says how it stands."
