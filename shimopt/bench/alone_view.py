"""The first answer to a reading: this gap alone, from the sorted stacks of its seat, as data for its card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from shimopt.arithmetic.clearance import Stack, Verdict, thickness_of
from shimopt.door.alone import OneGap
from shimopt.lengths import Bracket
from shimopt.render.pictures.gap_bars import Bar
from shimopt.render.pictures.gap_strip import Strip, strip_svg
from shimopt.words.bench_page_words import SIGNS, VERDICTS
from shimopt.words.speaker import Speaker


def alone_data(one: OneGap, reading: Bracket, stack: Stack) -> dict[str, Any]:
    """What goes in, what the gap comes to, and how that lies in its window; of a gap that its stack closes."""
    gap, thick = one.gap, thickness_of(stack, one.job.stock)
    say = replace(Speaker.of(one.job), ends=None)
    after = Bracket(reading.low - thick.high, reading.best - thick.best, reading.high - thick.low)
    outside, doubt = gap.window.off(after.best) > 0, gap.window.out(after.low, after.high) > 0
    verdict: Verdict = "outside" if outside else "unproven" if doubt else "inside"
    fit = say.stack(stack, gap.effects[0][0]) if stack else ""
    strip = Strip(
        title=gap.name,
        window=gap.window,
        bars=_bars(reading, after, fit),
        moves=fit,
        sign=SIGNS[verdict],
        verdict=verdict,
        key=f"alone-{list(one.job.gap).index(gap.name) + 1}",
    )
    left = "nothing" if outside else "leave"
    return {
        "work": [{"label": "fit", "text": fit}] if fit else [{"label": "fit" if outside else "", "text": left}],
        "stack": say.stack(stack, gap.effects[0][0]),
        "pieces": len(stack),
        "after": say.about(gap).clearance(after.low, after.high),
        "verdict": verdict,
        "sign": SIGNS[verdict],
        "word": VERDICTS[verdict],
        "strip": strip_svg(strip, say.about(gap)),
    }


def _bars(reading: Bracket, after: Bracket, fit: str) -> Sequence[Bar]:
    if not fit:
        return [Bar("left at", after, "after")]
    return [Bar("found", reading, "found"), Bar("then", after, "after")]
