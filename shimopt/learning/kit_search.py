"""Look for the kit that serves most: from simple kits on, one piece more, one less or one for another at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from shimopt.learning.kit_budget import Budget
from shimopt.learning.needs import Need
from shimopt.learning.seasons import Kit, Kits, ManySeasons, OneByOne, Season, used_without_end

_MOST_OF_ONE = 10_000
# a step has to serve so many more jobs of a season, or it is no step
_NOTICED = 1e-9


def judge_of(needs: Sequence[Need], seasons: Sequence[Season], parts: int) -> Callable[[Kit], float]:
    """How many jobs of a season a kit serves, on average over these seasons."""
    if all(len(need.gaps) <= 1 for need in needs):
        return ManySeasons(needs, seasons, parts).served
    weight, one_by_one = sum(season.weight for season in seasons), OneByOne(needs)

    def served(kit: Kit) -> float:
        return sum(season.weight * one_by_one.served(kit, season) for season in seasons) / weight

    return served


def kit_by_use(needs: Sequence[Need], budget: Budget) -> Kit:
    """What was used, in the same proportions: of each part in turn that is furthest behind its share."""
    used = used_without_end(needs, len(budget.on_hand))
    return _dealt(budget, lambda kit: max((u / (1 + kit[p]), -p) for p, u in enumerate(used)), used)


def equal_kit(needs: Sequence[Need], budget: Budget) -> Kit:
    """The same count of every part that serves anything at all."""
    serves = [0] * len(budget.on_hand)
    for need in needs:
        for part in {part for stacks in need.gaps for stack in stacks for part in stack}:
            serves[part] = 1
    return _dealt(budget, lambda kit: max((s / (1 + kit[p]), -p) for p, s in enumerate(serves)), serves)


def _dealt(budget: Budget, most: Callable[[Kit], tuple[float, int]], shares: Sequence[int]) -> Kit:
    kit, open_to = budget.first, [share > 0 for share in shares]
    while any(open_to):
        closed = [0 if free else 1 << 60 for free in open_to]
        share, part = most(tuple(count + shut for count, shut in zip(kit, closed, strict=True)))
        part = -part
        more = _with(kit, part, budget.step(part))
        if share <= 0 or not budget.allows(more):
            open_to[part] = False
            continue
        kit = more
    return kit


def every_kit(budget: Budget, useful: Sequence[int], most: int) -> Kits | None:
    """Every kit to which nothing can be added, a row each; None where more than `most` would have to be looked at."""
    kits, spent = np.array([budget.first], np.int32), np.zeros(1, np.int64)
    costs, seen = {part: _costs(budget, part, most) for part in useful}, 0
    for part in useful:
        fits = spent[:, None] + costs[part] <= budget.whole
        seen += int(fits.sum())
        if seen > most:
            return None
        rows, steps = fits.nonzero()
        if part == useful[-1]:
            # fewer of the last part leave room for more
            rows, steps = np.arange(len(kits)), fits.sum(axis=1) - 1
        kits, spent = kits[rows], spent[rows] + costs[part][steps]
        kits[:, part] += (steps * budget.step(part)).astype(np.int32)
    left = budget.whole - spent
    open_to = np.zeros(len(kits), bool)
    for part in useful:
        more = np.append(np.diff(costs[part]), budget.whole + 1)
        open_to |= more[(kits[:, part] - budget.first[part]) // budget.step(part)] <= left
    return kits[~open_to]


def _costs(budget: Budget, part: int, most: int) -> npt.NDArray[np.int64]:
    """What none, one step, two steps more of a part cost by themselves, as far as the budget goes."""
    kit, found = budget.first, list[int]()
    # what costs nothing could be had without end
    while len(found) <= min(most, _MOST_OF_ONE) and (spent := budget.spent(kit)) is not None and spent <= budget.whole:
        found.append(spent)
        kit = _with(kit, part, budget.step(part))
    return np.array(found, np.int64)


def climbed(kit: Kit, budget: Budget, served: Callable[[Kit], float], useful: Sequence[int], rounds: int = 60) -> Kit:
    """The kit after steps that each serve more: the best piece to add, then one part for another, until none does.

    Parameter: useful, parts that serve anything.
    """
    best = served(kit)
    for _ in range(rounds):
        added = [(served(more), more) for more in _more(kit, budget, useful)]
        if added and max(added)[0] > best + _NOTICED:
            best, kit = max(added)
            continue
        swapped = next(
            ((value, other) for other in _other(kit, budget, useful) if (value := served(other)) > best + _NOTICED),
            None,
        )
        if swapped is None:
            break
        best, kit = swapped
    return kit


def trimmed(kit: Kit, budget: Budget, served: Callable[[Kit], float]) -> Kit:
    """The kit without what serves nothing: money is never spent on that."""
    best, least = served(kit), budget.first
    for part in reversed(range(len(kit))):
        while kit[part] > least[part]:
            fewer = _with(kit, part, -min(budget.step(part), kit[part] - least[part]))
            if served(fewer) < best - _NOTICED:
                break
            kit = fewer
    return kit


def _more(kit: Kit, budget: Budget, useful: Sequence[int]) -> Iterator[Kit]:
    for part in useful:
        if budget.allows(more := _with(kit, part, budget.step(part))):
            yield more


def _other(kit: Kit, budget: Budget, useful: Sequence[int]) -> Iterator[Kit]:
    floor = budget.first
    for less in range(len(kit)):
        step = budget.step(less)
        if kit[less] - step < floor[less]:
            continue
        fewer = _with(kit, less, -step)
        for part in useful:
            if part != less and budget.allows(other := _with(fewer, part, budget.step(part))):
                yield other


def _with(kit: Kit, part: int, more: int) -> Kit:
    return (*kit[:part], kit[part] + more, *kit[part + 1 :])
