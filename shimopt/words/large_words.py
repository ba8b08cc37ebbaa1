"""Words for large jobs: which way was taken, and which sizes hold the job back."""

from __future__ import annotations

from shimopt.choose import Scarce
from shimopt.planner import Decision
from shimopt.words.speaker import Speaker, plural

__all__ = ["scarce_words", "way_words"]


def way_words(decision: Decision) -> str:
    """Which way a large job was planned; empty for a job that was solved whole."""
    if decision.way == "whole":
        return ""
    return (
        f"Planned by prices, for {plural(len(decision.job.places), 'place')} share one drawer: values are what the "
        "plan comes to, and no plan can be below a bound, given the levels above it as they are."
    )


def scarce_words(one: Scarce, say: Speaker) -> str:
    """What a few more of one size would bring."""
    what = say.part(one.line)
    if one.level == "outside":
        brought = f"bring {plural(one.fewer, 'more gap')} inside"
    else:
        brought = f"make {plural(one.fewer, 'more gap')} sure to be inside"
    above = "" if one.level == "outside" else ", with no more gaps outside"
    return f"{one.more} more of {what} would {brought} (tried out by a plan up to this level{above})."
