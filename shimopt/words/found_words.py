"""What was found outside after an earlier fitting: the first thing that anybody is told, on screen and paper."""

from __future__ import annotations

from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.words.reading_words import both_clearance, both_units
from shimopt.words.speaker import Speaker

__all__ = ["found_outside_both", "found_outside_words"]

_MOST = 3


def found_outside_words(job: Job, say: Speaker) -> str:
    """`Found outside after fitting (2026-05-03): lower 2 reads 13 to 14 thou, 1.5 thou too loose.`; else empty."""
    said = []
    for name in job.found_outside[:_MOST]:
        gap = job.gap[name]
        read, off = gap.reading.bracket, gap.window.off(gap.reading.bracket.best)
        reads = say.about(gap).clearance(read.low, read.high)
        said.append(f"{shown(name)} reads {reads}, {say(off)} too {_side(gap)}{_unlike(job, name, say)}")
    return f"Found outside after fitting ({_day(job)}): {_joined(job, said)}." if said else ""


def found_outside_both(job: Job, say: Speaker) -> str:
    """The same for the customer, in both systems of units."""
    said = []
    for name in job.found_outside[:_MOST]:
        gap = job.gap[name]
        read, off = gap.reading.bracket, gap.window.off(gap.reading.bracket.best)
        reads = both_clearance(read.low, read.high, say.about(gap))
        said.append(f"{shown(name)} was {reads}, which is {both_units(off, off, say)} too {_side(gap)}")
    return f"Measured after fitting on {_day(job)}, {_joined(job, said)}." if said else ""


def _unlike(job: Job, name: str, say: Speaker) -> str:
    """Whether it cannot be what was predicted with what was fitted: then more shim is no answer yet."""
    found = job.records[-1].gaps[name]
    if found.read is None or (found.predicted.low <= found.read.high and found.read.low <= found.predicted.high):
        return ""
    off = found.read.best - found.predicted.best
    way = "looser" if off > 0 else "tighter"
    return f" and {say(abs(off))} {way} than predicted: find out why before more is fitted"


def _joined(job: Job, said: list[str]) -> str:
    more = len(job.found_outside) - _MOST
    return f"{'; '.join(said)}{f'; and {more} more' if more > 0 else ''}"


def _day(job: Job) -> str:
    return shown(job.records[-1].date[:10])


def _side(gap: Gap) -> str:
    over = gap.window.max is not None and gap.reading.bracket.best > gap.window.max
    return "loose" if over else "tight"
