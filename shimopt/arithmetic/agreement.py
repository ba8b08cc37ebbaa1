"""Predicted against found: do they agree, and if not, which explanation is likely.

They agree where the errors of both, each as it is spread, let them lie so far apart one time in twenty or more often.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, replace
from fractions import Fraction
from itertools import combinations

from shimopt.arithmetic.chance_inside import errors_after
from shimopt.arithmetic.clearance import Stack, Verdict, thickness_of, verdict_of
from shimopt.arithmetic.likely_cause import Apart, Cause, Likely, Pieces, likely_cause
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket
from shimopt.probability import Normal, error_of, half_width, scaled
from shimopt.readings.reading import LIKELY_SHARE

# nothing is left to explain
_SETTLED = ("agrees", "machined")
_PIECES_IN_DOUBT = (
    "piece_missing",
    "piece_double",
    "piece_stayed",
    "piece_in",
    "wrong_piece",
    "interchanged",
    "packs_interchanged",
)
# what nothing that was fitted explains
_UNEXPLAINED = (
    "nothing_done",
    "nothing_fitted",
    "not_as_marked",
    "thicker_than_marked",
    "burr_or_seating",
    "clamp_or_seating",
)
# common practice, no source: where more gaps than this are off, no two packs are to blame
_FEW = 20


@dataclass(frozen=True, slots=True)
class Compared:
    """One gap after fitting. `code` says what is likely:

    "agrees"; "machined" (it was put right without a shim, so that the prediction no longer held); "cover_rested" and
    "preload_hidden" (the prediction rested on a reading of nothing, and what that hid has shown),
    "cover_may_have_rested" and "preload_may_be_hidden" (by `high` at most: a reading of nothing may hold too);
    "reading_slipped" (as if `low` had been meant); "closed_up_holds" (from the second reading, taken closed up, it was
    to be `low` to `high`); "record_off" (by the first reading it was to be `low` to `high`, as it is: the record of the
    day `part` says otherwise, before and now); "read_with_play" (the reading before was taken while the gap `part`
    still had as much play);
    "moved_other_way" (away from where the packs at `part` and `other` were to move it); "interchanged" (the gap `other`
    is as much off, the other way); "packs_interchanged" (both are off as if each of the places `part` and `other` held
    the pack of the other); "piece_missing" or "piece_double" (off by the thickness of `part`, of which `count`
    are in), "piece_stayed" (as if one of the `count` that came out were in still), "piece_in" (as if one that lies
    loose were in, beside the `count` that are); "wrong_piece" (off as if `other` were in instead of `part`);
    "half_share" (as if the packs at `part` and `other` held a gear between them, which the job leaves open);
    "effect_computed" (how far the packs that were changed at `part` and `other` move it comes from geometry alone,
    the least known figure here); "clamp_state" (several gaps are off by about as much, the same way);
    "not_as_marked" (unmeasured pieces could be so much off) and "thicker_than_marked" (the same, or dirt and
    burrs); "nothing_fitted" (no piece can be to blame); "nothing_done" (none came out either); "burr_or_seating"
    (as if the stack were thicker), "clamp_or_seating" (as if it were thinner); of several stacks, tighter and
    looser, the other way round where all of them open the gap; "under_cover" (a cover, as if what is under it were
    thicker); "reading_doubted" (the reading before looked like a slip already).
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
    low: Fraction = Fraction(0)
    high: Fraction = Fraction(0)
    count: int = 0

    def explained(self, cause: Cause) -> Compared:
        """The same with what is likely."""
        return replace(
            self,
            code=cause.code,
            part=cause.part,
            other=cause.other,
            low=cause.low,
            high=cause.high,
            count=cause.count,
        )


def compare(
    job: Job,
    stacks: Mapping[str, Stack],
    predicted: Mapping[str, Bracket],
    found: Mapping[str, Bracket],
    *,
    now_loose: Sequence[int] = (),
    machined: Collection[str] = (),
) -> list[Compared]:
    """Every gap that was read, in job order: `stacks` as they were fitted, in lines of the job's stock.

    The job is as it stood before they were; `now_loose` is how many of each line the drawer holds since, where that is
    known; `machined` gaps that were put right otherwise than by shims: what was predicted says nothing of them.
    """
    rows = []
    for gap in job.gaps:
        if gap.name in found:
            before, after = predicted[gap.name], found[gap.name]
            off, plausible = after.best - before.best, _plausible(job, gap, stacks, after)
            code: Likely = "machined" if gap.name in machined else "agrees"
            rows.append(Compared(gap.name, before, after, verdict_of(after, gap.window), off, plausible, code))
    surprises = {row.gap for row in rows if row.code == "agrees" and abs(row.off) > row.plausible}
    if not surprises:
        return rows
    agreed = [job.gap[row.gap] for row in rows if row.gap not in surprises]
    settled = {gap.effects[0][0] for gap in agreed if len(gap.effects) == 1}
    pieces = Pieces(job, stacks, _loose(job, stacks, now_loose), settled)
    causes = {
        row.gap: likely_cause(job.gap[row.gap], Apart(row.predicted, row.found, row.off, row.plausible), pieces)
        for row in rows
        if row.gap in surprises
    }
    rows = [row.explained(causes[row.gap]) if row.gap in surprises else row for row in rows]
    return _together(_packs_interchanged(rows, job, stacks), job)


def otherwise_than_predicted(job: Job) -> list[Compared]:
    """The gaps that were found otherwise than was predicted when the job was last recorded."""
    if job.before is None:
        return []
    gaps = job.records[-1].gaps
    found = {name: gap.read for name, gap in gaps.items() if gap.read is not None}
    now = {place.name: place.installed for place in job.places}
    predicted = {name: gap.predicted for name, gap in gaps.items()}
    machined = [name for name, gap in gaps.items() if gap.machined]
    loose = [line.on_hand for line in job.stock]
    rows = compare(job.before, now, predicted, found, now_loose=loose, machined=machined)
    return [row for row in rows if row.code not in _SETTLED]


def held_till_found_out(job: Job) -> Job:
    """The job with places held of which a reading says that their packs went in, or count, the other way round.

    Held too are those whose pieces are in doubt while they move a gap that nobody read since: what is calculated with
    such a pack is calculated with the wrong one.
    """
    held = set()
    for row in otherwise_than_predicted(job):
        places = {place for place, _ in job.gap[row.gap].effects}
        unread = {place for place in places if any(gap.reading.calculated for gap in job.moved_by[place])}
        held |= places if row.code == "moved_other_way" else unread if row.code in _PIECES_IN_DOUBT else set()
    # what turns harder or easier than it should is set by that, whatever it reads in length
    held |= {place for gap in job.gaps if job.turns_wrong(gap.name) for place, _ in gap.effects}
    if not held:
        return job
    return replace(job, places=tuple(replace(p, held=True) if p.name in held else p for p in job.places))


def _loose(job: Job, stacks: Mapping[str, Stack], now: Sequence[int]) -> list[int]:
    """How many of each stock line are in no place, by what was there before, or by what the drawer holds since."""
    used = Counter(i for stack in stacks.values() for i in stack)
    left = [count - used[i] for i, count in enumerate(job.there)]
    return [max(one, other) for one, other in zip(left, now, strict=True)] if now else left


def _plausible(job: Job, gap: Gap, stacks: Mapping[str, Stack], found: Bracket) -> Fraction:
    """How far apart the two best estimates lie at most, 19 times in 20: the errors of both, all of them independent."""
    errors = (*errors_after(job, gap, stacks), *(scaled(error, Fraction(-1)) for error in error_of(found)))
    if gap.reading.repeats is not None:
        # the gauge errs anew
        errors = (*errors, Normal(Fraction(gap.reading.repeats) ** 2))
    return Fraction(half_width(errors, LIKELY_SHARE))


def _doubt(row: Compared) -> Fraction:
    return Apart(row.predicted, row.found, row.off, row.plausible).doubt


def _together(rows: Sequence[Compared], job: Job) -> list[Compared]:
    """Where most gaps are off alike, one cause is likelier than many; where two are as much off either way, one too.

    That is one piece, where they hang on one place and by each of them it is that piece.
    """
    off = [row for row in rows if row.code not in _SETTLED]
    alike = (
        len(off) >= 2
        and 2 * len(off) > len(rows)
        and (all(row.off > 0 for row in off) or all(row.off < 0 for row in off))
        and max(row.off for row in off) - min(row.off for row in off) <= max(map(_doubt, off))
    )
    if alike and _one_piece(off, job):
        return list(rows)
    if alike:
        return [row if row.code in _SETTLED else row.explained(Cause("clamp_state")) for row in rows]
    if len(off) == 2 and _mirrored(*off):
        other = {off[0].gap: off[1].gap, off[1].gap: off[0].gap}
        return [row.explained(Cause("interchanged", other=other[row.gap])) if row.gap in other else row for row in rows]
    return list(rows)


def _one_piece(off: Sequence[Compared], job: Job) -> bool:
    """Whether gaps share a place, and the same piece explains each of them."""
    shared = set.intersection(*({place for place, _ in job.gap[row.gap].effects} for row in off))
    causes = {(row.code, row.part, row.other) for row in off}
    return bool(shared) and len(causes) == 1 and off[0].code in _PIECES_IN_DOUBT


def _mirrored(one: Compared, other: Compared) -> bool:
    """Whether two gaps are as much off, one tighter and one looser, and no piece explains it."""
    as_much = abs(one.off + other.off) <= max(one.plausible, other.plausible)
    return one.off * other.off < 0 and as_much and {one.code, other.code} <= {*_UNEXPLAINED}


def _packs_interchanged(rows: Sequence[Compared], job: Job, stacks: Mapping[str, Stack]) -> list[Compared]:
    """Where two gaps are off as if their packs lay in each other's place, that one cause stands for the two.

    Two single pieces, each told as being in the other's stead, say so already.
    """
    off = [row for row in rows if row.code in (*_UNEXPLAINED, *_PIECES_IN_DOUBT) and len(job.gap[row.gap].effects) == 1]
    found: dict[str, Cause] = {}
    for one, other in combinations(off, 2) if len(off) <= _FEW else ():
        (place, effect), (there, effect_there) = job.gap[one.gap].effects[0], job.gap[other.gap].effects[0]
        both = {place: stacks.get(place, ()), there: stacks.get(there, ())}
        if place == there or {one.gap, other.gap} & {*found} or one.code == other.code == "wrong_piece":
            continue
        thicker = thickness_of(both[there], job.stock).best - thickness_of(both[place], job.stock).best
        by_it = one.off - effect * thicker, other.off + effect_there * thicker
        if abs(by_it[0]) <= one.plausible and abs(by_it[1]) <= other.plausible:
            cause = Cause("packs_interchanged", place, there)
            found |= {one.gap: cause, other.gap: cause}
    return [row.explained(found[row.gap]) if row.gap in found else row for row in rows]
