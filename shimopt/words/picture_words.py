"""What stands in pictures beside their figures."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence

from shimopt.arithmetic.clearance import Stack, turnover
from shimopt.errors import shown
from shimopt.lengths import Bracket
from shimopt.words.reading_words import stands_off
from shimopt.words.speaker import Speaker, listed

_MEASURED = re.compile(r" \((?:not )?measured[^()]*\)")
DOTS = "Dot: best estimate."


def picture_key(
    *,
    drawn: bool = True,
    found: bool,
    then: bool,
    target: bool,
    measured: bool = False,
    bare_covers: Sequence[str] = (),
) -> str:
    """What the marks of a picture mean, of those that are drawn.

    `drawn`: any bar, `found`: a gap as it was before the work, `then`: as it is after it, `target`: where it is wanted,
    `measured`: as it was between two visits; `bare_covers` are gaps of covers that were read without shims.
    """
    since = ", and as measured since" if measured else ""
    last = "then" if then else "as it is"
    bars = f"Hollow bar: as found{since}. Solid bar: {last}." if found else f"Bar: as it is{' then' if then else ''}."
    bars = f" {bars} Its length: how far it is uncertain." if drawn else ""
    tick = " Small tick: target." if target else ""
    read = "their covers were" if bare_covers[1:] else "its cover was"
    covers = f" {listed(bare_covers)}: {read} read without shims, no clearance to show." if bare_covers else ""
    return f"Grey: allowed.{bars}{tick}{covers}"


BROKEN = "Behind a // stands what is further out than the axis goes."
BROKEN_BESIDE_A_TABLE = f"{BROKEN[:-1]}; the table has its figures."


def bare_cover_words(read: Bracket, say: Speaker) -> str:
    """How a cover stood that was nipped without shims, so that nobody takes it for a preload."""
    return f"without shims the {stands_off(read, say)}"


def swap_words(was: Mapping[str, Stack], then: Mapping[str, Stack], gap: str, say: Speaker) -> str:
    """What goes in between two states of a gap's places, for the arrow: `R-07`, `S-10 for S-30`, `S-20 out`."""
    told = []
    for place, stack in then.items():
        come, gone = turnover(was.get(place, ()), stack)
        if gone or come:
            words = exchange_words(say.stack(gone, place) if gone else "", say.stack(come, place) if come else "")
            told.append(words if place == gap else f"{shown(place)}: {words}")
    return "; ".join(told)


def exchange_words(gone: str, come: str) -> str:
    """`B for A`, `A out`, `B`."""
    if not come:
        return f"{gone} out"
    return f"{come} for {gone}" if gone else come


def brief_swap_words(was: Mapping[str, Stack], then: Mapping[str, Stack], gap: str, say: Speaker) -> str:
    """The same where there is little room: of several places in a word or two, `new packs`, `S 0.10 moved`; of one by
    names alone, `AR-20 + AR-20`, empty where that says all.
    """
    turned = [turnover(was.get(place, ()), stack) for place, stack in then.items()]
    come, gone = (Counter(line for pair in turned for line in pair[end]) for end in (0, 1))
    if sum(any(pair) for pair in turned) < 2:
        whole = swap_words(was, then, gap, say)
        bare = _MEASURED.sub("", whole)
        return bare if bare != whole else ""
    if come - gone:
        return "new packs"
    return f"{say.stack(tuple(come.elements()))} moved" if len(come) == 1 and come == gone else "shims moved"
