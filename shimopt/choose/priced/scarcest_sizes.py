"""What holds a large job back: the sizes of which a few more would serve the most gaps, tried out one by one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from shimopt.choose.chosen import Scarce
from shimopt.choose.priced.priced_descent import PricedDescent

# a job is held back by gaps that are outside, then by those that are not surely inside
_HELD_BACK = ("outside", "unproven")
_MOST_TRIED = 3
_FEWEST_MORE = 10
_GAPS_TO_ONE_MORE = 1_000


def what_is_scarce(descent: PricedDescent, held: Mapping[str, int]) -> tuple[Scarce, ...]:
    """The few stock lines that hold the job back most, with what a few more of each bring.

    Prices say which lines are worth a trial; what is told is what a plan with so many more of that line comes to. Each
    trial solves anew up to the level that is told, with the levels above it at the values of `held` at most.
    """
    fleet = descent.fleet
    more = max(_FEWEST_MORE, len(fleet.kind) // _GAPS_TO_ONE_MORE)
    for level in _HELD_BACK:
        worth = descent.worth.get(level, np.zeros(len(fleet.lines)))
        # a price is what the first piece more saves; where it is next to nothing ten more save next to nothing
        order = [int(at) for at in np.lexsort((np.arange(len(worth)), -worth)) if worth[at] * more > 0.5][:_MOST_TRIED]
        if not held.get(level) or not order:
            continue
        names = list(held)
        above = {name: held[name] for name in names[: names.index(level)]}
        found = []
        for at in order:
            supply = fleet.supply.copy()
            supply[at] += more
            value = descent.tried(replace(fleet, supply=supply), level, above)
            found.append(Scarce(int(fleet.lines[at]), more, level, held[level] - value))
        return tuple(sorted((one for one in found if one.fewer > 0), key=lambda one: (-one.fewer, one.line)))
    return ()
