"""What stands in pictures beside their figures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from shimopt.arithmetic.clearance import Stack
from shimopt.errors import shown
from shimopt.lengths import Bracket
from shimopt.words.reading_words import stands_off
from shimopt.words.speaker import Speaker

__all__ = ["bare_cover_words", "picture_key", "swap_words"]


def picture_key(*, found: bool) -> str:
    """What the marks of a picture mean; `found`: whether a gap is drawn as it was before the work, too."""
    bars = "Hollow bar: as found. Solid bar: afterwards." if found else "Bar: as it is."
    return f"Grey: allowed. {bars} Its length: how far it is uncertain. Small tick: target."


def bare_cover_words(read: Bracket, say: Speaker) -> str:
    """How a cover stood that was nipped without shims, so that nobody takes it for a preload."""
    return f"without shims the {stands_off(read, say)}"


def swap_words(was: Mapping[str, Stack], then: Mapping[str, Stack], gap: str, say: Speaker) -> str:
    """What goes in between two states of a gap's places, for the arrow: `R-07`, `S-10 for S-30`, `S-20 out`."""
    told = []
    for place, stack in then.items():
        out, into = Counter(was.get(place, ())) - Counter(stack), Counter(stack) - Counter(was.get(place, ()))
        gone, come = (say.stack(tuple(pieces.elements()), place) for pieces in (out, into))
        if out or into:
            words = f"{gone} out" if not into else f"{come} for {gone}" if out else come
            told.append(words if place == gap else f"{shown(place)}: {words}")
    return "; ".join(told)
