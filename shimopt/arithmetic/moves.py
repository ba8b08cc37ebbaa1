"""The order of work at a machine that holds pieces already: what comes out, what goes in where, what is left over."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from shimopt.arithmetic.clearance import Stack
from shimopt.job import Job

__all__ = ["BENCH", "DRAWER", "ORDER", "Move", "moves_of"]

BENCH, DRAWER, ORDER = "bench", "drawer", "order"


@dataclass(frozen=True, slots=True)
class Move:
    """One piece (a stock line's index) from where to where; `out_of` is the place from which it came to the bench."""

    line: int
    source: str
    target: str
    out_of: str | None = None


def moves_of(job: Job, stacks: Mapping[str, Stack]) -> tuple[Move, ...]:
    """Every piece that is moved, one row each; nothing of a place that stays as it is.

    A place that is opened is emptied. Its own pieces go back into it first, then pieces off the bench serve any place,
    then the drawer, places in job order; what neither has is to be ordered. What is left on the bench goes to the
    drawer.
    """
    changed = [place for place in job.places if stacks.get(place.name, ()) != place.installed]
    out = [Move(i, place.name, BENCH) for place in changed for i in place.installed]
    bench: defaultdict[int, list[str]] = defaultdict(list)
    for move in out:
        bench[move.line].append(move.source)
    drawer = Counter({i: line.on_hand for i, line in enumerate(job.stock)})
    into: dict[str, list[Move]] = {place.name: [] for place in changed}
    missing: list[tuple[str, int]] = []
    for place in changed:
        for i in stacks.get(place.name, ()):
            if place.name in bench[i]:
                bench[i].remove(place.name)
                into[place.name].append(Move(i, BENCH, place.name, place.name))
            else:
                missing.append((place.name, i))
    for name, i in missing:
        if bench[i]:
            into[name].append(Move(i, BENCH, name, bench[i].pop(0)))
        elif drawer[i] > 0:
            drawer[i] -= 1
            into[name].append(Move(i, DRAWER, name))
        else:
            into[name].append(Move(i, ORDER, name))
    goes_in = [move for place in changed for move in sorted(into[place.name], key=lambda move: move.line)]
    left_over = [Move(i, BENCH, DRAWER, place) for i in sorted(bench) for place in bench[i]]
    return (*out, *goes_in, *left_over)
