"""Reasons of a gap with a place of its own in which pieces were already."""

from __future__ import annotations

from fractions import Fraction

from shimopt.arithmetic import GapOutcome, off_by
from shimopt.arithmetic.clearance import Stack
from shimopt.job import Gap, Place
from shimopt.reasons.reason import Reason

__all__ = ["of_swap"]


def of_swap(gap: Gap, place: Place, stack: Stack, found: GapOutcome) -> Reason:
    """Why what was in stays, or why something else goes in; `nearest` holds what was in."""
    read = gap.reading.bracket.best
    lengths: dict[str, Fraction | int] = {"read": read, "after": found.after.best}
    if stack == place.installed:
        return Reason(gap.name, "stays_outside" if found.off else "stays", {**lengths, "off": found.off}, stack=stack)
    off = off_by(read, gap.window)
    texts = {"side": _side(gap, read)} if off else {}
    return Reason(
        gap.name,
        "swapped" if off else "swapped_inside",
        {**lengths, "off": off},
        stack=stack,
        texts=texts,
        nearest=place.installed,
    )


def _side(gap: Gap, estimate: Fraction) -> str:
    return "over" if gap.window.max is not None and estimate > gap.window.max else "under"
