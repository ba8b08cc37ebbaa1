"""What one could do next, most telling first."""

from __future__ import annotations

from shimopt.arithmetic.needed import aimed, needed
from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.planner import Decision
from shimopt.words.names import listed
from shimopt.words.speaker import Speaker

__all__ = ["next_steps"]

_NEEDS_A_SIZE = {
    "not_thick_enough",
    "no_size_between",
    "too_tight_with_thinnest",
    "nothing_suits",
    "nothing_on_hand",
    "drawer_ran_out",
}
_MOST_SIZES = 4
_MOST_AGAIN = 4
_SUSPECT = ("reading_suspect", "reading_far_off")


def next_steps(decision: Decision, say: Speaker) -> list[str]:
    """Sentences that say what would change the answer or finish the job."""
    again = [finding.place for finding in decision.findings if finding.code in (*_SUSPECT, "spots_tilted")]
    again = list(dict.fromkeys(again))
    steps = [f"Measure {shown(name)} again before you fit or buy anything." for name in again[:_MOST_AGAIN]]
    if len(again) > _MOST_AGAIN:
        steps.append(f"{len(again) - _MOST_AGAIN} more gaps want measuring again too: see above.")
    job = decision.job
    doubted = {finding.place for finding in decision.findings if finding.code in _SUSPECT}
    doubted |= {r.about for r in decision.reasons if r.code == "beyond_parts" and r.texts["searched"]}
    short = [r.about for r in decision.reasons if r.code in _NEEDS_A_SIZE and r.about not in doubted]
    steps += [_size_wanted(job, job.gap[name], say) for name in short[:_MOST_SIZES]]
    if len(short) > _MOST_SIZES:
        steps.append(f"{len(short) - _MOST_SIZES} more gaps lack a size: see what they need above.")
    unproven = [name for name, found in decision.outcome.gaps.items() if found.verdict == "unproven"]
    unmet = [r.about for r in decision.reasons if r.code in ("not_within", "not_within_found")]
    unmet = [b.name for b in job.balances if b.name in unmet and any(_takes_shims(job.gap[g]) for g in b.gaps)]
    if (short or unproven or unmet) and not decision.buy and any(line.offers for line in job.stock):
        steps.append("See whether the catalogues close the hole: shimopt plan JOB --buy")
    if unproven:
        pieces = any(decision.stacks.get(place) for name in unproven for place, _ in job.gap[name].effects)
        micrometer = ", or measure the pieces with a micrometer" if pieces else ""
        steps.append(f"Read {listed(unproven, 4)} with a finer gauge{micrometer}.")
    if unmet:
        steps.append(f"More pieces, or a finer set of sizes, may bring {listed(unmet, 4)} within.")
    if decision.screening.bores_unchecked:
        steps.append("Measure the bores and shafts that were not checked, and write them down.")
    if decision.outcome.doable:
        fit = "Fit the stacks as listed, then" if any(decision.stacks.values()) else "Leave it as it is;"
        steps.append(f"{fit} measure again in the final assembly. The machine maker's data come first.")
    return list(dict.fromkeys(steps))


def _takes_shims(gap: Gap) -> bool:
    return gap.seat is None or gap.seat.shims_allowed


def _size_wanted(job: Job, gap: Gap, say: Speaker) -> str:
    span, sure = needed(job, gap), True
    if span is None or span.most == 0:
        span, sure = aimed(job, gap), False
    assert span is not None
    end = " to be sure" if sure else ""
    if span.most is None:
        return f"{shown(gap.name)} needs {say(span.least)} of shim or more that suits{end}."
    return f"{shown(gap.name)} needs {say.bracket(span.least, span.most)} of shim that suits{end}."
