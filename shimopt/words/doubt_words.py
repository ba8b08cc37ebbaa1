"""Readings and sizes that look like a slip, and which gaps hang on them: they are measured first."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from shimopt.errors import shown
from shimopt.planner import Decision
from shimopt.reasons import job_facts as stated
from shimopt.reasons import slip_facts as slips
from shimopt.reasons.doubts import places_of_doubted, suspected
from shimopt.seats import Finding
from shimopt.words.finding_words import finding_words, suspect_said
from shimopt.words.speaker import Speaker, listed

# what the letter says of a gap, by what its answer hangs on
TOLD_OF_DOUBT = {
    "by this reading": "The measurement itself looks wrong and has to be repeated before anything is done.",
    "by this size": "The size of a shim there looks wrong: it has to be measured before anything is done.",
    "by that reading": "It hangs on shims that move another clearance too, and the measurement of that one looks "
    "wrong: what is done here can be said once that is repeated.",
}


def suspects(decision: Decision) -> list[str]:
    """The gaps whose readings look wrong, by name."""
    return suspected(decision.findings)


def sizes_doubted(decision: Decision) -> Mapping[str, Collection[str]]:
    """By part whose size looks wrong the places in which it is, or goes by the plan; none that is in no place."""
    return places_of_doubted(decision.findings, decision.job, decision.stacks)


def doubted(decision: Decision) -> dict[str, str]:
    """By gap what its answer hangs on, where that has to be measured again: `by this reading`, `by this size`.

    Of gaps that share places with one that is read again, and are changed there: `by that reading`.
    """
    return {name: f"by {on}" for name, on in decision.doubted.items()}


def measured_first(decision: Decision) -> list[str]:
    """`Measure roller 3 again before anything is fitted.`; nothing where all looks right."""
    again, sizes = suspects(decision), [shown(part) for part in sizes_doubted(decision)]
    said = [f"{listed(again, 3)} again"] if again else []
    said += [f"{', '.join(sizes[:3])}{' and more' if sizes[3:] else ''} itself"] if sizes else []
    return [f"Measure {' and '.join(said)} before anything is fitted."] if said else []


def measured_steps(decision: Decision, *, named: bool) -> list[str]:
    """The same as a step, `named` which: what is written then, and that it is planned anew."""
    again, sizes, said = suspects(decision), [shown(part) for part in sizes_doubted(decision)], []
    if again:
        which = f"Measure {listed(again, 4)} again: write" if named else "Write"
        said.append(f"{which} what it reads then, or checked = true where it is so.")
    if sizes:
        said.append(f"Measure {listed(sizes, 4)}: write the thickness in, as measured where it is so.")
    return [f"{' '.join(said)} Then plan again."] if said else []


def doubts_told(findings: Sequence[Finding], say: Speaker, sizes: Collection[str] = ()) -> list[str]:
    """What looks wrong, a sentence each, what is the same of several once; of `sizes` those of these parts."""
    said: dict[str, list[str]] = {}
    for one in findings:
        if isinstance(one.fact, stated.SpotsTilted):
            said.setdefault(f": {finding_words(one, say)}.", []).append(one.place)
        elif isinstance(one.fact, (slips.ReadingSuspect, slips.ReadingFarOff)):
            said.setdefault(f" {suspect_said(one.fact, say)}", []).append(one.place)
        elif isinstance(one.fact, slips.SizeSuspect) and one.part in sizes:
            said.setdefault(f" {finding_words(one, say)}.", []).append(one.part)
    return [
        f"{listed(of, 4)}{': each' if of[1:] and words.startswith(' ') else ''}{words}" for words, of in said.items()
    ]
