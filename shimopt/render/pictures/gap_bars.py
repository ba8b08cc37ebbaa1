"""What a picture shows of a gap: its clearance as found, as measured since, as it will be, and what changes between."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from shimopt.arithmetic.clearance import Stack
from shimopt.job import Job
from shimopt.lengths import Bracket
from shimopt.planner import Decision
from shimopt.words.digits import with_digits
from shimopt.words.picture_words import bare_cover_words, brief_swap_words, picture_key, swap_words
from shimopt.words.speaker import Speaker


@dataclass(frozen=True, slots=True)
class Bar:
    """A clearance to draw, hollow for what was found, solid for what comes of it.

    `shims` are in then; `swap` is what goes out and in to come there from the bar before it, `brief` the same where
    there is little room; a `note` goes with it.
    """

    label: str
    bracket: Bracket
    kind: Literal["found", "after"]
    shims: str = ""
    swap: str = ""
    brief: str = ""
    note: str = ""


def job_bars(
    decision: Decision, unit: str, *, tags: bool = True, unknown: Collection[str] = ()
) -> dict[str, list[Bar]]:
    """What to draw for every gap: as found at first, as measured after the last visit, and as it will be.

    With the digits that papers show in this unit, rounded outward. A cover read without shims was only nipped: that is
    told and not drawn, for it is no preload that was ever there. Without `tags` pieces are named as a customer knows
    them. Of gaps that are `unknown` nobody says yet what becomes of them.
    """
    job = decision.job
    say = with_digits(replace(Speaker.of(job, unit), tags=tags), decision)
    bars = {}
    for gap in job.gaps:
        first = job.first_read(gap).bracket
        after = decision.outcome.gaps[gap.name].after
        read = gap.reading.bracket if gap.reading.after_fitting else None
        places = [place for place, _ in gap.effects]
        changes = gap.name not in unknown and any(decision.changes.at[place].changed for place in places)
        visited = any(decision.visit.at[place].changed for place in places)
        was, now, then = _stacks(decision, places)
        found: list[tuple[str, Bracket, Literal["found", "after"], Mapping[str, Stack]]] = [
            ("found", first, "found", was)
        ]
        if read is not None:
            found.append(("measured", read, "found" if changes else "after", now))
        if changes or (gap.name not in unknown and read is None and (visited or first != after)):
            found.append(("then", after, "after", then))
        if len(found) == 2 and not changes and not visited and _overlap(first, found[1][1]):
            # left alone and read again: one bar behind another tells nothing
            del found[0]
        elif len(found) == 1:
            found = [("left at", first if gap.name in unknown else after, "after", now)]
        befores = [None, *(stacks for *_, stacks in found[:-1])]
        told = _shims_matter(job, places)
        bars[gap.name] = [
            Bar(
                label,
                say.as_after(bracket) if bracket == after else say.as_read(bracket),
                kind,
                _named(stacks, gap.name, then, say) if told else "",
                swap_words(before, stacks, gap.name, say) if before else "",
                brief_swap_words(before, stacks, gap.name, say) if before else "",
            )
            for (label, bracket, kind, stacks), before in zip(found, befores, strict=True)
        ]
        if job.stood_bare(gap):
            read = say.as_read(job.first_read(gap).found)
            note = bare_cover_words(read, say)
            rest = bars[gap.name][1:] or [Bar("left at", say.as_after(after), "after")]
            bars[gap.name] = [replace(rest[0], note=note), *rest[1:]]
    return bars


def _overlap(one: Bracket, other: Bracket) -> bool:
    return one.low <= other.high and other.low <= one.high


def key_of(job: Job, bars: Mapping[str, Sequence[Bar]]) -> str:
    """What the marks mean that are drawn of these bars."""
    drawn = [bar for of_gap in bars.values() for bar in of_gap]
    return picture_key(
        drawn=bool(drawn),
        found=any(bar.kind == "found" for bar in drawn),
        then=any(bar.label == "then" for bar in drawn),
        measured=any(bar.label == "measured" and bar.kind == "found" for bar in drawn),
        target=any(gap.window.target is not None for gap in job.gaps),
        bare_covers=[gap.name for gap in job.gaps if job.stood_bare(gap)],
    )


def _stacks(decision: Decision, places: Sequence[str]) -> tuple[Mapping[str, Stack], ...]:
    """The stacks at these places: at the first reading, now and then."""
    job = decision.job
    now = {place: job.place[place].installed for place in places}
    was = {place: job.read_with.get(place, ()) for place in places} if job.records else now
    return was, now, {place: decision.stacks.get(place, ()) for place in places}


def _shims_matter(job: Job, places: Sequence[str]) -> bool:
    """Whether shims ever were in, so that every clearance has to say with which it is."""
    began = job.began_with if job.records else {place: job.place[place].came_out for place in places}
    return any(job.place[place].installed or job.read_with.get(place) or began.get(place) for place in places)


def _named(stacks: Mapping[str, Stack], gap: str, then: Mapping[str, Stack], say: Speaker) -> str:
    """The stacks by name; what is in at the end too stands in the same order."""
    return ", ".join(
        f"{say.stack(stack, place, then.get(place, ()))}{'' if place == gap else f' at {place}'}"
        for place, stack in stacks.items()
    )
