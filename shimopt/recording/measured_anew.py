"""What was measured where it is: the same piece by another measure, that went neither out nor in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from shimopt.parts import Part
from shimopt.parts.drawer import FittedPiece, matching_line
from shimopt.planner import Decision


def by_new_measure(parts: Sequence[Part], anew: Sequence[tuple[Part, Part]]) -> list[Part]:
    """Pieces of a place, those that were measured where they are by what they are known as now."""
    found = list(parts)
    for was, now in anew:
        if was in found:
            found[found.index(was)] = now
    return found


def measured_anew(decision: Decision, name: str, now: Sequence[Part]) -> list[tuple[Part, Part]]:
    """What was in a place, or came out of it for the reading, and is in it, only measured anew: before, and now.

    So it is where the plan has that piece there, or nothing else of its name can be there: not where the drawer, or
    another place, has the one that was measured.
    """
    job, place = decision.job, decision.job.place[name]
    stock, planned = job.stock, Counter(decision.stacks.get(name, ()))
    out = Counter(i for one in job.places for i in one.came_out)
    free = Counter({i: line.on_hand for i, line in enumerate(stock)}) - out
    elsewhere = {stock[i].part for one in job.places if one is not place for i in one.installed}
    were = [*place.installed, *place.came_out]
    left = Counter(stock[i].part for i in were) - Counter(now)
    found = []
    for part in (Counter(now) - Counter(stock[i].part for i in were)).elements():
        known = next((i for i, line in enumerate(stock) if line.part == part), None)
        if not part.measured or part in elsewhere or (known is not None and free[known] > 0):
            continue
        other = matching_line(FittedPiece.of(part), stock, taken=True)
        for i in were:
            was = stock[i].part
            if (was.name, was.piece) != (part.name, part.piece) or left[was] <= 0:
                continue
            given = other is not None and free[other] > 0 and other != matching_line(FittedPiece.of(was), stock)
            if planned[i] or not given:
                left[was] -= 1
                found.append((was, part))
                break
    return found
