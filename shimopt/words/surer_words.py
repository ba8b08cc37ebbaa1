"""How a gap is read so that it tells for certain: what a finer gauge alone would not do comes first."""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.words.read_steps import known_shim
from shimopt.words.speaker import Speaker

__all__ = ["gauged", "otherwise_read"]


def gauged(job: Job, names: Sequence[str]) -> list[str]:
    """Those of these gaps that one instrument reads, and reads as more than nothing: a finer one tells more."""
    return [name for name in names if not _is_blind(job.gap[name]) and not _is_sum(job.gap[name])]


def otherwise_read(job: Job, names: Sequence[str], say: Speaker) -> list[str]:
    """What tells more of the others, an instruction for each: what hides in nothing, what a sum is least known by."""
    said = []
    for gap in (job.gap[name] for name in names):
        if _is_blind(gap) and gap.reading.opens:
            rests = f"see whether the cover of {shown(gap.name)} rests on its case, and read the play if it does"
            less = f"take a shim out of {shown(gap.name)} until a blade goes, and read it like that"
            said.append(rests if job.stands_bare(gap) else less)
        elif _is_blind(gap):
            said.append(f"turn {shown(gap.name)}, or read it {known_shim(job.opened_by_more(gap))}")
        elif _is_sum(gap):
            said.append(_least_known(gap, say))
    return said


def _is_blind(gap: Gap) -> bool:
    return gap.reading.no_preload_assumed


def _is_sum(gap: Gap) -> bool:
    return gap.reading.kind == "built_up"


def _least_known(gap: Gap, say: Speaker) -> str:
    """Which term of a sum leaves most open."""
    terms = [term for term in gap.reading.terms if term.code != "shift"]
    most = max(terms, key=lambda term: term.half)
    what = "what {} is crushed to" if most.code == "crush" else "{}"
    assumed = " is assumed" if most.assumed else ""
    named = what.format(shown(most.name))
    return f"measure {named} for {shown(gap.name)}, which leaves most open (\u00b1{say(most.half)}{assumed})"
