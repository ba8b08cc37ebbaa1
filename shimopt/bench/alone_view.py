"""The first answer to a reading: this gap alone, from the sorted stacks of its seat."""

from __future__ import annotations

from typing import Any

from shimopt.arithmetic.clearance import Stack, thickness_of
from shimopt.door.alone import OneGap
from shimopt.lengths import Bracket
from shimopt.words.speaker import Speaker


def alone_data(one: OneGap, reading: Bracket, stack: Stack) -> dict[str, Any]:
    """What goes in, what the gap comes to, and how that lies in its window; of a gap that its stack closes."""
    say, thick, window = Speaker.of(one.job), thickness_of(stack, one.job.stock), one.gap.window
    after = Bracket(reading.low - thick.high, reading.best - thick.best, reading.high - thick.low)
    outside, doubt = window.off(after.best) > 0, window.out(after.low, after.high) > 0
    return {
        "stack": say.stack(stack, one.gap.effects[0][0]),
        "pieces": len(stack),
        "after": say.bracket(after.low, after.high),
        "verdict": "outside" if outside else "unproven" if doubt else "inside",
    }
