"""Predicted against found: do they agree, and if not, which explanation is likely.

All of it common practice, no published source; the uncertainties of prediction and reading decide.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from shimopt.arithmetic import verdict_of
from shimopt.arithmetic.clearance import Stack, Verdict
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket

__all__ = ["Compared", "compare"]

# a marked thickness can be wrong by so much: 0.125 in has been found at 0.114, 0.50 mm at 0.53
_WRONG_MARK = Fraction(1, 10)


@dataclass(frozen=True, slots=True)
class Compared:
    """One gap after fitting. `code` says what is likely:

    "agrees"; "piece_missing" or "piece_double" (off by the thickness of `part`); "clamp_state" (several gaps are off by
    about as much, the same way); "not_as_marked" (unmeasured pieces could be so much off); "nothing_fitted" (no piece
    can be to blame); "burr_or_seating" (tighter than predicted), "clamp_or_seating" (looser).
    `off` is found less predicted, by best estimates [nm].
    """

    gap: str
    predicted: Bracket
    found: Bracket
    verdict: Verdict
    off: Fraction
    code: str
    part: str = ""


def compare(
    job: Job, stacks: Mapping[str, Stack], predicted: Mapping[str, Bracket], found: Mapping[str, Bracket]
) -> list[Compared]:
    """Every gap that was read, in job order."""
    rows = []
    for gap in job.gaps:
        if gap.name in found:
            before, after = predicted[gap.name], found[gap.name]
            code, part = _likely(job, gap, stacks, before, after)
            off = after.best - before.best
            rows.append(Compared(gap.name, before, after, verdict_of(after, gap.window), off, code, part))
    return _together(rows)


def _agree(predicted: Bracket, found: Bracket) -> bool:
    return predicted.low <= found.high and found.low <= predicted.high


def _doubt(predicted: Bracket, found: Bracket) -> Fraction:
    """How far the two can lie apart and still mean the same."""
    return (predicted.high - predicted.low) / 2 + (found.high - found.low) / 2


def _likely(job: Job, gap: Gap, stacks: Mapping[str, Stack], predicted: Bracket, found: Bracket) -> tuple[str, str]:
    if _agree(predicted, found):
        return "agrees", ""
    if not any(stacks.get(place) for place, _ in gap.effects):
        return "nothing_fitted", ""
    by_the_face = "burr_or_seating" if found.best < predicted.best else "clamp_or_seating"
    if len(gap.effects) != 1:
        # which of several stacks is to blame, one reading cannot tell
        return by_the_face, ""
    place, effect = gap.effects[0]
    stack = stacks.get(place, ())
    # by how much thicker the stack would have to be than it was taken for
    thicker = (found.best - predicted.best) / effect
    doubt = _doubt(predicted, found) / abs(effect)
    for index in sorted(set(stack)):
        part = job.stock[index].part
        if abs(-thicker - part.thickness.best) <= doubt:
            return "piece_missing", part.name
        if abs(thicker - part.thickness.best) <= doubt:
            return "piece_double", part.name
    unmeasured = sum((job.stock[i].part.thickness.best for i in stack if not job.stock[i].part.measured), Fraction(0))
    if abs(thicker) - doubt <= unmeasured * _WRONG_MARK:
        return "not_as_marked", ""
    return by_the_face, ""


def _together(rows: Sequence[Compared]) -> list[Compared]:
    """Where most gaps are off alike, one cause is likelier than many."""
    off = [row for row in rows if row.code != "agrees"]
    alike = (
        len(off) >= 2
        and 2 * len(off) > len(rows)
        and (all(row.off > 0 for row in off) or all(row.off < 0 for row in off))
        and max(row.off for row in off) - min(row.off for row in off)
        <= max(_doubt(row.predicted, row.found) for row in off)
    )
    if not alike:
        return list(rows)
    return [
        Compared(r.gap, r.predicted, r.found, r.verdict, r.off, "clamp_state") if r.code != "agrees" else r
        for r in rows
    ]
