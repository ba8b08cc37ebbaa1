"""What is kept back and would have served: pieces in places that are inside, and pieces that others were promised.

A place with pieces in stays as it is while its gaps are inside, unless it says `keep = false`; what is promised lies in
the drawer and is not there to be used. What that costs a job is told only after it was planned without it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

from shimopt.arithmetic.clearance import Stack, stays
from shimopt.job import Gap, Job
from shimopt.parts import Part
from shimopt.parts.drawer import Held
from shimopt.reasons.alternatives import Chosen
from shimopt.reasons.gap_reasons import Length, Reason
from shimopt.reasons.remedies import better

# a job of more places is not planned again to try it
_MOST_PLACES = 24
_SURER = {"outside": 0, "unproven": 1, "inside": 2}


class OpenedToo(Reason):
    """It would come inside, surely where `sure`, if the places that `names` names did not keep what is in them.

    Only by its best estimate where `unproven`; `stacks` are what places would get then that is not as planned; `right`
    whether every gap that those places move is surely inside as it is, `less_sure` those of them that then are not.
    """

    stacks: tuple[tuple[str, Stack], ...]
    sure: bool
    unproven: bool
    right: bool
    less_sure: tuple[str, ...]


class EvenIfOpened(Reason):
    """A balance would be even to `spread`, as is asked, if the places that `names` names did not keep what is in them.

    `stacks`, `right` and `less_sure` as of `OpenedToo`.
    """

    stacks: tuple[tuple[str, Stack], ...]
    spread: Length
    right: bool
    less_sure: tuple[str, ...]


def opened_too(chosen: Chosen, again: Callable[[Job, bool], Chosen]) -> list[Reason]:
    """For every gap and balance that would be better for it, which places would have to be opened too: as planned.

    Parameter: again, plans a changed job, with what can be bought or without.
    """
    job, outcome = chosen.job, chosen.outcome
    kept = {place.name for place in job.places if stays(job, place)}
    wanting = [name for name, found in outcome.gaps.items() if found.verdict != "inside"]
    uneven = [balance.name for balance in job.balances if outcome.balances[balance.name].met is False]
    if not kept or not (wanting or uneven) or len(job.places) > _MOST_PLACES:
        return []
    free = replace(job, places=tuple(replace(place, keep=False) for place in job.places))
    tried = again(free, chosen.buy)
    if not better(tried.outcome, outcome):
        return []
    stacks = {name: tried.stacks.get(name, ()) for name in job.place}
    opened = tuple(name for name in job.place if name in kept and stacks[name] != job.place[name].installed)
    changed = tuple((name, stack) for name, stack in stacks.items() if stack != chosen.stacks.get(name, ()))
    served = [name for name in wanting if _SURER[tried.outcome.gaps[name].verdict] > _SURER[outcome.gaps[name].verdict]]
    moved = [gap.name for name in opened for gap in job.moved_by[name]]
    inside = [name for name in dict.fromkeys(moved) if outcome.gaps[name].verdict == "inside"]
    right = len(inside) == len({*moved})
    less_sure = tuple(name for name in inside if tried.outcome.gaps[name].verdict != "inside")

    def opened_for(gap: Gap) -> OpenedToo:
        proven = tried.outcome.gaps[gap.name].verdict == "inside"
        sure = proven and gap.least_chance is None and gap.reading.basis == "worst case"
        return OpenedToo(
            about=gap.name,
            names=opened,
            stacks=changed,
            sure=sure,
            unproven=not proven,
            right=right,
            less_sure=less_sure,
        )

    if not opened:
        return []
    evened = [
        EvenIfOpened(
            about=name,
            names=opened,
            stacks=changed,
            spread=tried.outcome.balances[name].spread_after,
            right=right,
            less_sure=less_sure,
        )
        for name in uneven
        if tried.outcome.balances[name].met
    ]
    return [*(opened_for(job.gap[name]) for name in served), *evened]


# a job of more places is not planned again for it
_MOST_HELD_PLACES = 40


def held_that_serves(chosen: Chosen, again: Callable[[Job, bool], Chosen]) -> tuple[Held, ...]:
    """What is promised to other jobs, as far as a better plan takes of it."""
    job = chosen.job
    if not job.held or chosen.outcome.doable or len(job.places) > _MOST_HELD_PLACES:
        return ()
    at = {_called(line.part): i for i, line in enumerate(job.stock)}
    lying = Counter[int]()
    for one in job.held:
        lying[at[_called(one.part)]] += one.pieces
    stock = (replace(line, on_hand=line.on_hand + lying[i]) for i, line in enumerate(job.stock))
    found = again(replace(job, stock=tuple(stock)), chosen.buy)
    if not better(found.outcome, chosen.outcome):
        return ()
    wanted = Counter(i for stack in found.stacks.values() for i in stack)
    lacking = {i for i, count in wanted.items() if count > job.there[i]}
    return tuple(one for one in job.held if at[_called(one.part)] in lacking)


def _called(part: Part) -> object:
    """A piece as drawers tell it from others, whatever its micrometer leaves open."""
    return part.name, part.piece, part.thickness.best
