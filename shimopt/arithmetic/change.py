"""What a place gains over what was in it during the reading, and whether it may be opened at all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from shimopt.arithmetic.clearance import Stack, off_by, thickness_of
from shimopt.job import Job, Place
from shimopt.lengths import Bracket
from shimopt.parts import StockLine

__all__ = ["change_of", "opened", "stays", "turnover"]


def change_of(place: Place, stack: Stack, stock: Sequence[StockLine]) -> Bracket:
    """The change of thickness: what goes in less what comes out.

    A piece that goes back into its own place cancels exactly; any other counts its error once.
    """
    if not place.installed:
        return thickness_of(stack, stock)
    into, out = turnover(place.installed, stack)
    gained, lost = thickness_of(into, stock), thickness_of(out, stock)
    return Bracket(gained.low - lost.high, gained.best - lost.best, gained.high - lost.low)


def turnover(before: Stack, stack: Stack) -> tuple[Stack, Stack]:
    """The pieces that go in and those that come out; what goes back in is neither."""
    new, old = Counter(stack), Counter(before)
    return tuple((new - old).elements()), tuple((old - new).elements())


def opened(place: Place, stack: Stack) -> bool:
    """Whether a place with pieces in it gets others."""
    return bool(place.installed) and stack != place.installed


def stays(job: Job, place: Place) -> bool:
    """Whether a place keeps what is in it: every gap that it moves is inside as read, and it does not say otherwise."""
    if not place.installed or not place.keep:
        return False
    for gap in job.moved_by[place.name]:
        best, target = gap.reading.bracket.best, gap.window.target
        if off_by(best, gap.window):
            return False
        if place.keep_within is not None and target is not None and abs(best - target) > place.keep_within:
            return False
    return True
