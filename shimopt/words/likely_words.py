"""How many gaps come right in the letter's first sentence, and how likely those are that may not."""

from __future__ import annotations

from collections.abc import Sequence

from shimopt.planner import Decision
from shimopt.words.found_words import not_read_since
from shimopt.words.speaker import chance_text, listed, number_word, probably

_MOST_NAMED = 3


def by_chance_words(decision: Decision) -> str:
    """How likely the gaps are to be right that are so by a stated chance only; empty where there are none."""
    gaps = decision.outcome.gaps
    names = [
        gap.name
        for gap in decision.job.gaps
        if gaps[gap.name].verdict == "inside" and gap.window.out(gaps[gap.name].after.low, gaps[gap.name].after.high)
    ]
    if not names:
        return ""
    least = chance_text(min(gaps[name].chance for name in names)).replace(">", "more than ")
    which = f"{listed(names, _MOST_NAMED)} " if len(gaps) > 1 else ""
    return f"{which}with a chance of {least}{' or more each' if len(names) > 1 else ''}"


def perhaps_words(decision: Decision, total: int, unsure: Sequence[str], *, read: bool = False) -> str:
    """How many come right, and which may not; how many are, once they were `read` after fitting."""
    one, many = ("is", "are") if read else ("comes", "come")
    known = "it cannot be told for certain"
    for names, why in (
        (decision.remedies.finer, "the gauge cannot tell for certain"),
        (decision.remedies.final, "it may still move until the final assembly"),
        (list(decision.remedies.more), "a size is wanting that would make it sure"),
        (decision.remedies.measured, "the shims are not known well enough to tell"),
        (not_read_since(decision), "nobody has read it since it was fitted"),
    ):
        if set(unsure) <= {*names}:
            known = why
            break
    likely = {name: probably(decision.outcome.gaps[name].chance) for name in unsure}
    kinds = {how: [name for name in unsure if likely[name] == how] for how in sorted({*likely.values()})}
    if total == len(unsure) and len(kinds) == 1:
        which, verb = ("it", one) if total == 1 else (all_of(decision), many)
        how = f"{verb} {likely[unsure[0]]}" if read else f"{likely[unsure[0]]} {verb}"
        return f"{which} {how} inside, but {known}"
    named = " and ".join(f"{listed(names, _MOST_NAMED)} {how}" for how, names in kinds.items())
    if total == len(unsure):
        return f"{named} {many} inside, but {known}"
    named = f"{named}, for {known}"
    right = total - len(unsure)
    return f"{number_word(right)} of {number_word(total)} clearances {one if right == 1 else many} inside; {named}"


def called(decision: Decision) -> str:
    """`Both clearances`, `Clearance and preload`, `All three preloads`; `clearance` or `preload` where there is one."""
    total = len(decision.job.gaps)
    loaded = sum(gap.window.wants_preload for gap in decision.job.gaps)
    kind = "preload" if loaded == total else "clearance"
    if total == 1:
        return kind
    if 0 < loaded < total:
        return "Clearance and preload" if total == 2 else f"All {number_word(total)} clearances and preloads"
    return f"{'Both' if total == 2 else f'All {number_word(total)}'} {kind}s"


def all_of(decision: Decision) -> str:
    """The same within a sentence."""
    which = called(decision)
    return f"{which[:1].lower()}{which[1:]}"
