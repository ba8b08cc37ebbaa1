"""Predicted against found: do they agree, and if not, which explanation is likely.

They agree where the errors of both, each as it is spread, let them lie so far apart one time in twenty or more often.
The explanations are common practice, no published source: what the brackets of both leave possible decides.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, replace
from fractions import Fraction
from typing import Literal

from shimopt.arithmetic.chance_inside import errors_after
from shimopt.arithmetic.clearance import Stack, Verdict, after_shimming, change_of, verdict_of
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket
from shimopt.probability import error_of, half_width, scaled
from shimopt.readings.reading import LIKELY_SHARE

# a marked thickness can be wrong by so much: 0.125 in has been found at 0.114, 0.50 mm at 0.53
_WRONG_MARK = Fraction(1, 10)


Likely = Literal[
    "agrees",
    "cover_rested",
    "preload_hidden",
    "read_with_play",
    "piece_missing",
    "piece_double",
    "wrong_piece",
    "half_share",
    "effect_computed",
    "clamp_state",
    "not_as_marked",
    "nothing_fitted",
    "nothing_done",
    "burr_or_seating",
    "clamp_or_seating",
]


@dataclass(frozen=True, slots=True)
class Compared:
    """One gap after fitting. `code` says what is likely:

    "agrees"; "cover_rested" and "preload_hidden" (the prediction rested on a reading of nothing, and what that hid has
    shown); "read_with_play" (the reading before was taken while the gap `part` still had as much play); "piece_missing"
    or "piece_double" (off by the thickness of `part`); "wrong_piece" (off as if `other` were in instead of `part`);
    "half_share" (as if the packs at `part` and `other` held a gear between them, which the job leaves open);
    "effect_computed" (how far the packs that were changed at `part` and `other` move it comes from geometry alone, the
    least known figure here); "clamp_state" (several gaps are off by about as much, the same way); "not_as_marked"
    (unmeasured pieces could be so much off); "nothing_fitted" (no piece can be to blame); "nothing_done" (none came out
    either); "burr_or_seating" (as if the stack were thicker), "clamp_or_seating" (as if it were thinner); of several
    stacks, tighter and looser, the other way round where all of them open the gap.
    `off` is found less predicted, by best estimates; `plausible` how far apart they lie at most 19 times in 20 [nm].
    """

    gap: str
    predicted: Bracket
    found: Bracket
    verdict: Verdict
    off: Fraction
    plausible: Fraction
    code: Likely
    _: KW_ONLY
    part: str = ""
    other: str = ""


def compare(
    job: Job, stacks: Mapping[str, Stack], predicted: Mapping[str, Bracket], found: Mapping[str, Bracket]
) -> list[Compared]:
    """Every gap that was read, in job order: `stacks` as they were fitted, in lines of the job's stock.

    The job is as it stood before they were.
    """
    rows = []
    for gap in job.gaps:
        if gap.name in found:
            before, after = predicted[gap.name], found[gap.name]
            off, plausible = after.best - before.best, _plausible(job, gap, stacks, after)
            row = Compared(gap.name, before, after, verdict_of(after, gap.window), off, plausible, "agrees")
            if abs(off) > plausible:
                code, part, other = _likely(job, gap, stacks, row)
                row = replace(row, code=code, part=part, other=other)
            rows.append(row)
    return _together(rows)


def otherwise_than_predicted(job: Job) -> list[Compared]:
    """The gaps that were found otherwise than was predicted when the job was last recorded."""
    if job.before is None:
        return []
    gaps = job.records[-1].gaps
    found = {name: gap.read for name, gap in gaps.items() if gap.read is not None}
    now = {place.name: place.installed for place in job.places}
    rows = compare(job.before, now, {name: gap.predicted for name, gap in gaps.items()}, found)
    return [row for row in rows if row.code != "agrees"]


def _plausible(job: Job, gap: Gap, stacks: Mapping[str, Stack], found: Bracket) -> Fraction:
    """How far apart the two best estimates lie at most, 19 times in 20: the errors of both, all of them independent."""
    errors = (*errors_after(job, gap, stacks), *(scaled(error, Fraction(-1)) for error in error_of(found)))
    return Fraction(half_width(errors, LIKELY_SHARE))


def _doubt(row: Compared) -> Fraction:
    """How far the two can lie apart at worst and still mean the same."""
    return (row.predicted.high - row.predicted.low) / 2 + (row.found.high - row.found.low) / 2


def _likely(job: Job, gap: Gap, stacks: Mapping[str, Stack], row: Compared) -> tuple[Likely, str, str]:
    """The code, and the parts that it is about."""
    # no blade went before, and it was found on the side that this can hide
    if gap.reading.no_preload_assumed and gap.reading.opens == (row.off > 0):
        return ("cover_rested" if gap.reading.opens else "preload_hidden"), "", ""
    # what hangs free between packs on both sides goes as far as the play, by what both of them would move it
    moved = sum((abs(effect) for _, effect in gap.effects), Fraction(0))
    for other in with_play(job, gap):
        if abs(row.off) - row.plausible <= moved * other.reading.bracket.high:
            return "read_with_play", other.name, ""
    if not any(stacks.get(place) for place, _ in gap.effects):
        came_out = any(job.place[place].installed for place, _ in gap.effects)
        return ("nothing_fitted" if came_out else "nothing_done"), "", ""
    if all(sorted(stacks.get(place, ())) == sorted(job.place[place].installed) for place, _ in gap.effects):
        return "nothing_done", "", ""
    if packs := _sharing(job, gap, stacks, row):
        return ("half_share", *packs)
    if computed := _computed(job, gap, stacks):
        return ("effect_computed", *computed)
    if len(gap.effects) != 1:
        # which of several stacks is to blame, one reading cannot tell
        opens = all(effect > 0 for _, effect in gap.effects)
        return ("burr_or_seating" if (row.off > 0) == opens else "clamp_or_seating"), "", ""
    place, effect = gap.effects[0]
    stack = stacks.get(place, ())
    # by how much thicker the stack would have to be than it was taken for
    thicker, doubt = row.off / effect, _doubt(row) / abs(effect)
    # a piece explains it only where what it leaves is plausible
    apart = row.plausible / abs(effect)
    fitted = [job.stock[index].part for index in sorted(set(stack))]
    for part in fitted:
        if abs(-thicker - part.thickness.best) <= apart:
            return "piece_missing", part.name, ""
        if abs(thicker - part.thickness.best) <= apart:
            return "piece_double", part.name, ""
    in_use = {index for stack in stacks.values() for index in stack}
    there = [line.part for i, line in enumerate(job.stock) if job.there[i] or i in in_use]
    swaps = [
        (abs(thicker - (other.thickness.best - part.thickness.best)), part.name, other.name)
        for part in fitted
        for other in there
        if other.thickness.best != part.thickness.best
    ]
    if swaps and (nearest := min(swaps))[0] <= apart:
        return "wrong_piece", nearest[1], nearest[2]
    unmeasured = sum((job.stock[i].part.thickness.best for i in stack if not job.stock[i].part.measured), Fraction(0))
    if unmeasured and abs(thicker) - doubt <= unmeasured * _WRONG_MARK:
        return "not_as_marked", "", ""
    return ("burr_or_seating" if thicker > 0 else "clamp_or_seating"), "", ""


def with_play(job: Job, gap: Gap) -> list[Gap]:
    """The gaps that still had play where preload is wanted when this one was read, which the same packs set.

    Packs on both sides set this one by their difference and those by their sum.
    """
    ways = {place: effect > 0 for place, effect in gap.effects}
    if len({*ways.values()}) < 2:
        return []
    found = []
    # of many thousands of gaps only those that these places move
    for other in {other.name: other for place in ways for other in job.moved_by[place]}.values():
        both = [ways[place] for place, _ in other.effects if place in ways]
        by_their_sum = len({effect > 0 for _, effect in other.effects}) == 1
        all_of = len(both) == len(other.effects) and len({*both}) == 2
        if all_of and by_their_sum and other.window.wants_preload and other.reading.bracket.high > 0:
            found.append(other)
    return found


def _computed(job: Job, gap: Gap, stacks: Mapping[str, Stack]) -> tuple[str, str] | None:
    """The places, two at most, whose packs changed and move it by what geometry alone says."""
    by = {source.place for source in gap.effect_sources if source.kind == "bevel"}
    changed = {place for place in by if sorted(stacks.get(place, ())) != sorted(job.place[place].installed)}
    first, *others = [place for place, _ in gap.effects if place in changed] or [""]
    return (first, others[0] if others else "") if first else None


def _sharing(job: Job, gap: Gap, stacks: Mapping[str, Stack], row: Compared) -> tuple[str, str] | None:
    """The first two of the packs of one gear, where it moved as if they held it between them and nobody said so."""
    open_ = [source.place for source in gap.effect_sources if source.kind == "bevel" and "share" in source.not_stated]
    if len(open_) < 2:
        return None
    halved = replace(
        gap, effects=tuple((place, effect / 2 if place in open_ else effect) for place, effect in gap.effects)
    )
    change = {place: change_of(job.place[place], stacks.get(place, ()), job.stock) for place, _ in gap.effects}
    off = row.found.best - after_shimming(halved, change).best
    return (open_[0], open_[1]) if abs(off) <= row.plausible else None


def _together(rows: Sequence[Compared]) -> list[Compared]:
    """Where most gaps are off alike, one cause is likelier than many."""
    off = [row for row in rows if row.code != "agrees"]
    alike = (
        len(off) >= 2
        and 2 * len(off) > len(rows)
        and (all(row.off > 0 for row in off) or all(row.off < 0 for row in off))
        and max(row.off for row in off) - min(row.off for row in off) <= max(map(_doubt, off))
    )
    if not alike:
        return list(rows)
    return [row if row.code == "agrees" else replace(row, code="clamp_state", part="", other="") for row in rows]
