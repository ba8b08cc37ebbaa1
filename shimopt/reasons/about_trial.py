"""What the trial assembly and the last record say against a reading.

Of the trial assembly its state, what came out of it, a second reading closed up; of the record what was found otherwise
than predicted: a wrong piece, dirt or a burr comes before any more shims.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Literal

from shimopt.arithmetic import Outcome, thickness_of, verdict_of
from shimopt.arithmetic.agreement import Compared, otherwise_than_predicted
from shimopt.arithmetic.clearance import Stack, times
from shimopt.arithmetic.play_left import with_play
from shimopt.assembly import turns
from shimopt.job import Gap, Job
from shimopt.lengths import Bracket
from shimopt.readings.reading import Term
from shimopt.reasons import job_facts as facts
from shimopt.seats import Finding
from shimopt.seats.finding import Fact, Length

# how people write that nothing is there, or that it is not the part of service
_NOT_THERE = re.compile(
    r"^\s*(none|no(?!\.?\s*\d)|nil|not|without|out|off|left)\b|\b(no|without|without an?|without the) gasket\b"
    r"|\b(missing|removed|absent|omitted|left (off|out)|not (there|fitted|in)|old|used|wanting|to (come|follow))\b",
    re.IGNORECASE,
)
_AS_IN_SERVICE = re.compile(
    r"\d\s*(n[\s·.*-]*m\b|lbf|lb\b|ft\b|kgf|in[\s·.*-]*lb)|\bfinal|\bservice|\btorque", re.IGNORECASE
)
# ... or that it is not yet, or not wholly, as in service
_NOT_YET = re.compile(
    r"\b(no|not|without|before|until|later|half|third|quarter|partly|minus|less|loose|nipped|snug|finger)\b"
    r"|\b(hand|finger)[\s-]*tight|\bfirst (stage|step|pass)\b|\bpre[\s-]?(torque|tight|load)"
    r"|(m|lbf|lb|ft|in|kgf|%)\s+of\b|\b(every|each) (second|other|third)\b",
    re.IGNORECASE,
)
# a gasket that a nipped cover need not crush
_TAKES_NO_ROOM = re.compile(
    r"(?<!not )\b(crushed|compressed|squeezed|bedded)|\bo[\s-]?rings?\b|\b(sealant|compound|paste)\b",
    re.IGNORECASE,
)
# what else of the state is not as in service, or as a window is meant, which is cold where nothing is said
_OTHERWISE = {
    "hardware": re.compile(r"^old$"),
    "surfaces": re.compile(r"\b(dirty|unclean|not (clean|cleaned)|(with|still) old)\b", re.IGNORECASE),
    "temperature": re.compile(
        r"^(?!.*\b(not|no longer)\b).*\b(hot|warm|heated|oven)\b|(?<!\d)([4-9]\d|1\d\d)\s*(deg\s*|°\s*)?C\b",
        re.IGNORECASE,
    ),
}
_LITTLE = Fraction(1, 10)
# explanations that blame pieces or dirt: what is known less well than they are is looked at first
_OF_PIECES = (
    "piece_missing",
    "piece_double",
    "piece_stayed",
    "wrong_piece",
    "not_as_marked",
    "thicker_than_marked",
    "burr_or_seating",
    "clamp_or_seating",
    "nothing_fitted",
    "nothing_done",
)


class RanOutside(Fact):
    """With what came out for the reading it ran so, outside its window by `off` on that `side`."""

    packs: tuple[tuple[str, Stack], ...]
    low: Length
    high: Length
    off: Length
    side: Literal["over", "under"]


def is_unclean(surfaces: str) -> bool:
    """Whether faces so described are not as they are in service."""
    return bool(_OTHERWISE["surfaces"].search(surfaces))


def about_trial(job: Job, outcome: Outcome) -> list[Finding]:
    """Everything of that kind, gap by gap, then what lies at hand by place."""
    found = [
        finding
        for gap in job.gaps
        for finding in (
            *trial_doubts(job, gap),
            *_ran_outside(job, gap),
            *_planned_closed_up(gap, outcome),
            *preload_without_limit(gap, outcome.gaps[gap.name].after),
        )
    ]
    return found + [
        Finding(place=place.name, grade="note", fact=facts.CameOutAtHand(pack=place.came_out))
        for place in job.places
        if place.came_out
    ]


def trial_doubts(job: Job, gap: Gap) -> Iterator[Finding]:
    """Why a gap's reading may not hold in service, whatever is planned."""
    yield from _packs_too_thick(job, gap)
    state = _not_as_in_service(gap)
    if state and not gap.shift_stated and not gap.reading.recorded:
        yield Finding(place=gap.name, grade="caution", fact=facts.NotAsInService(state=state, nipped=gap.reading.opens))
    if state and gap.shift_stated and gap.reading.shift and not gap.reading.recorded:
        counted = facts.ShiftCountedOn(state=state, shift=gap.reading.shift)
        yield Finding(place=gap.name, grade="note", fact=counted)
    yield from _closed_up_before(job, gap)
    for other in with_play(job, gap):
        since = job.gap[other.name].reading.after_fitting
        fact = facts.ReadWithPlay(other=other.name, play=other.reading.bracket.high, set_since=since)
        yield Finding(place=gap.name, grade="caution", fact=fact)
    if (second := _another_story(gap)) is not None:
        read = gap.reading.bracket
        differs = facts.ClosedUpDiffers(
            read_low=second.low, read_high=second.high, least=read.low - second.high, most=read.high - second.low
        )
        yield Finding(place=gap.name, grade="caution", fact=differs)


def preload_without_limit(gap: Gap, after: Bracket) -> Iterator[Finding]:
    """What comes to a preload where the window has no end on its tight side: no window that anybody builds to."""
    if gap.window.preload_unlimited and after.best < 0:
        fact = facts.PreloadWithoutLimit(after_low=after.low, after_high=after.high)
        yield Finding(place=gap.name, grade="caution", fact=fact)


def little_to_spare(after: Bracket, gap: Gap) -> bool:
    """Whether less than a tenth of the window is left between the gap as planned and the nearer limit."""
    low, high = gap.window.min, gap.window.max
    if low is None or high is None:
        return gap.window.out(after.low, after.high) > 0
    return min(after.low - low, high - after.high) < _LITTLE * (high - low)


def _another_story(gap: Gap) -> Bracket | None:
    """The second reading, taken closed up, where it does not agree with the first."""
    second, read = gap.closed_up, gap.reading.bracket
    if second is None or gap.reading.recorded or (second.low <= read.high and read.low <= second.high):
        return None
    return second


def _closed_up_before(job: Job, gap: Gap) -> Iterator[Finding]:
    """Two readings told two stories before the fitting; the one after it bears out the open one: was it open too?"""
    second, first = gap.closed_up, job.first_read(gap).bracket
    if second is None or not gap.reading.after_fitting or (second.low <= first.high and first.low <= second.high):
        return
    found = job.records[-1].gaps.get(gap.name)
    if found is None or found.read is None:
        return
    by, read = second.best - first.best, found.read
    if found.predicted.low + by > read.high or read.low > found.predicted.high + by:
        fact = facts.ClosedUpBefore(read_low=second.low, read_high=second.high)
        yield Finding(place=gap.name, grade="caution", fact=fact)


def _planned_closed_up(gap: Gap, outcome: Outcome) -> Iterator[Finding]:
    """What the plan comes to by the second reading."""
    if (second := _another_story(gap)) is None:
        return
    read, after = gap.reading.bracket, outcome.gaps[gap.name].after
    low, high = after.low - read.low + second.low, after.high - read.high + second.high
    best = after.best - read.best + second.best
    inside = verdict_of(Bracket(low, best, high), gap.window) == "inside"
    settle = not inside or outcome.gaps[gap.name].verdict == "outside"
    fact = facts.ClosedUpPlanned(after_low=low, after_high=high, inside=inside, settle=settle)
    yield Finding(place=gap.name, grade="caution", fact=fact)


def _packs_too_thick(job: Job, gap: Gap) -> Iterator[Finding]:
    """A pack that closes the gap came out of it, and the gap as read is narrower than the pack, or than all of them.

    What came out at other places may have opened the gap while this pack was in. A window that lets it be preloaded,
    one without a smallest clearance too, says nothing against a pack. Nor does a reading that is a preload: bearings
    and housing gave way, and with the pack in they gave way so much more.
    """
    preloaded = gap.reading.bracket.high < 0 or gap.window.preload_unlimited or (gap.window.min or 0) < 0
    if gap.reading.recorded or preloaded:
        return
    packs = {place: thickness_of(job.place[place].came_out, job.stock) for place, _ in gap.effects}
    most = {place: times(effect, packs[place], gap.reach(place)).high for place, effect in gap.effects}
    opened = sum((more for more in most.values() if more > 0), Fraction(0))
    closing = {place: -more for place, more in most.items() if more < 0}
    room, reading = opened + gap.reading.bracket.high, gap.reading.bracket.high
    alone = {place: closed for place, closed in closing.items() if closed > room}
    for place, closed in alone.items():
        fact = facts.PackWasTooThick(
            place=place,
            pack=job.place[place].came_out,
            thickness=packs[place].best,
            reading=reading,
            under=closed - room,
        )
        yield Finding(place=gap.name, grade="caution", fact=fact)
    together = sum(closing.values(), Fraction(0))
    if len(closing) > 1 and together > room and not alone:
        out = tuple((place, job.place[place].came_out) for place in closing)
        all_of = facts.PacksWereTooThick(packs=out, closed=together, reading=reading, under=together - room)
        yield Finding(place=gap.name, grade="caution", fact=all_of)


def _ran_outside(job: Job, gap: Gap) -> Iterator[Finding]:
    """What came out of all its places says how it ran before; not where it cannot have been in."""
    places = [job.place[name] for name, _ in gap.effects]
    known = places and all(place.came_out for place in places) and not any(place.installed for place in places)
    if not known or gap.reading.recorded or gap.reading.no_preload_assumed or any(_packs_too_thick(job, gap)):
        return
    read, packs = gap.reading.bracket, [thickness_of(place.came_out, job.stock) for place in places]
    moved = [times(by, pack, gap.reach(at)) for pack, (at, by) in zip(packs, gap.effects, strict=True)]
    low, best, high = (
        sum(ends, Fraction(0)) for ends in zip(*((one.low, one.best, one.high) for one in (read, *moved)), strict=True)
    )
    if off := gap.window.off(best):
        came_out = tuple((place.name, place.came_out) for place in places)
        fact = RanOutside(packs=came_out, low=low, high=high, off=off, side=gap.window.side(best))
        yield Finding(place=gap.name, grade="caution", fact=fact)


def _not_as_in_service(gap: Gap) -> tuple[tuple[str, str], ...]:
    """What of the state it was read in is not as in service; a cover is nipped to be read, and not tightened."""
    told, found = dict(gap.state), []
    if clamped := told.get("clamped"):
        final = _AS_IN_SERVICE.search(clamped) and not _NOT_YET.search(clamped)
        if bool(final) is gap.reading.opens:
            found.append(("tightened cover" if final else "clamped", clamped))
    gasket = told.get("gasket", "")
    if gap.reading.opens and gasket and not _NOT_THERE.search(gasket) and not _TAKES_NO_ROOM.search(gasket):
        found.append(("uncrushed gasket", gasket))
    # a crushed gasket in the sum stands for the one that was not there
    if _NOT_THERE.search(gasket):
        crushed = any(term.code == "gasket" for term in gap.reading.terms)
        found.append(("crushed gasket" if crushed else "gasket", gasket))
    for key, other in _OTHERWISE.items():
        if other.search(told.get(key, "")):
            found.append((key, told[key]))
    return tuple(found)


def about_record(job: Job) -> Iterator[Finding]:
    """A caution for every gap that was found otherwise than predicted, or turns harder or easier than is stated."""
    for row in otherwise_than_predicted(job):
        # what turns too hard or too easily is told by that: its length explains nothing
        if job.turns_wrong(row.gap):
            continue
        before = (job.before or job).gap[row.gap]
        yield Finding(place=row.gap, grade="caution", fact=otherwise(row, before))
    for gap in job.gaps:
        measured = job.turned(gap.name)
        if measured is not None and turns(measured, gap.running) == "otherwise":
            other = facts.TorqueOtherwise(measured=str(measured), stated=str(gap.running))
            yield Finding(place=gap.name, grade="caution", fact=other)
        if measured is not None and job.right_but_by_length(gap.name):
            against = facts.TorqueRightNotLength(measured=str(measured))
            yield Finding(place=gap.name, grade="caution", fact=against)
        if measured is not None and (way := job.turns_wrong(gap.name)):
            places = tuple(place for place, _ in gap.effects if job.place[place].takes_shims)
            fact = facts.TorqueOutside(
                measured=str(measured),
                stated=str(gap.running),
                tight=way == "tight",
                opens=gap.opened_by_more,
                places=places,
            )
            yield Finding(place=gap.name, grade="caution", fact=fact)


def otherwise(row: Compared, before: Gap) -> facts.NotAsPredicted:
    """How a gap was found that does not agree; `before` as it was read until then."""
    fact = facts.NotAsPredicted(
        looser=row.off,
        plausible=row.plausible,
        likely=row.code,
        part=row.part,
        other=row.other,
        explained_low=row.low,
        explained_high=row.high,
        count=row.count,
    )
    if before.reading.recorded or row.code not in _OF_PIECES:
        return fact
    assumed = {term.name for term in before.reading.terms if term.code == "crush" and term.assumed}
    may = (one.name for one in before.reading.terms if one.name in assumed and _crush_may_be(one, row))
    gasket = next(may, "")
    bare = (one.place for one in before.effect_sources if one.kind == "trial" and one.low == one.high)
    # what was not under a cover and is now only adds to its pack
    only = _ONLY_MAKES | ({"gasket": True} if before.reading.opens else {})
    state = tuple(one for one in _not_as_in_service(before) if only.get(one[0], row.off > 0) is (row.off > 0))
    return replace(fact, gasket=gasket, trial=next(bare, ""), state=state)


# a cover that was tightened to be read stands off less than it does nipped, so that its pack comes out too thin and the
# gap tighter; over a gasket that was not crushed it stands off more, and the gap comes out looser
_ONLY_MAKES = {"tightened cover": False, "uncrushed gasket": True}


def _crush_may_be(gasket: Term, row: Compared) -> bool:
    """Whether a gasket not crushed at all, or twice as far, moves a gap so much (common practice, no source)."""
    if gasket.code != "gasket" or gasket.count is None:
        return False
    crushed = abs(gasket.amount) * gasket.count / (100 - gasket.count)
    return abs(row.off) <= crushed + row.plausible
