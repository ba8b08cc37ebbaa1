"""The least spread of a job's only balance, range by range.

Where all gaps of a balance are to be inside, a spread of so much means that all of them come out within a range that is
no wider. Options outside a range are left aside, and then the balance ties nothing any more: whether a plan as good
lies within it is a question about the drawer alone, which rows answer soon. As the range's lower end rises, the upper
end of the least range that holds a plan never falls, so that each end is gone through once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import chain
from typing import NamedTuple

from shimopt.choose.whole_model import Model
from shimopt.proof.proven import Proof

# of fewer gaps rows tell the spread as soon
MANY_GAPS = 20

# the columns that are left -> a choice of them as good as the one in hand, or how sure it is that there is none
Fits = Callable[[Sequence[Sequence[int]]], tuple[tuple[int, ...] | None, Proof]]


class LeastSpread(NamedTuple):
    """The spread and how far it is proven, a choice that has it, and what is left.

    `alone` says whether all that is left lies within one range: then no choice of it comes to more.
    """

    value: int
    proof: Proof
    picked: tuple[int, ...]
    alive: list[list[int]]
    alone: bool


def values_of(model: Model, alive: Sequence[Sequence[int]]) -> dict[int, dict[int, int]] | None:
    """What the columns left of each group that the job's only balance ties come to, less its offset [ticks].

    None where it is not the only one, ties few gaps, or may be set aside.
    """
    tied = [*chain.from_iterable(model.balances_from.values())]
    if len(tied) != 1 or len(tied[0].balance.gaps) < MANY_GAPS or model.linked:
        return None
    group_of = {name: group for group, name in enumerate(model.places)}
    found = {}
    for name in tied[0].balance.gaps:
        group = group_of[name]
        if any(model.columns[c].outside for c in alive[group]):
            return None
        found[group] = {c: model.columns[c].best - tied[0].offset[name] for c in alive[group]}
    return found


def least_spread(
    model: Model, alive: Sequence[Sequence[int]], now: tuple[tuple[int, ...], int, int], fits: Fits
) -> LeastSpread | None:
    """The least spread of a balance of many gaps; None where there is no such balance, or a range was not settled.

    Parameters: now, the choice in hand, its spread, and what none is below.
    """
    if (of := values_of(model, alive)) is None:
        return None
    (picked, best, bound), proof, to = now, Proof.EXACT, 0
    ends, kept = sorted({value for values in of.values() for value in values.values()}), list[tuple[int, int]]()
    for low in ends:
        while to < len(ends) and ends[to] - low < bound:
            to += 1
        while to < len(ends) and ends[to] - low <= best:
            within = _within(alive, of, low, ends[to])
            found, sure = fits(within) if all(within) else (None, Proof.EXACT)
            if found is not None:
                spread = model.value_of("spread", found)
                if spread < best:
                    picked, best = found, spread
                kept.append((low, ends[to]))
                break
            if not sure.proven:
                return None
            proof = sure if sure is Proof.TWO_SOLVERS else proof
            to += 1
    ranges = [(low, high) for low, high in kept if high - low == best]
    if not ranges:
        return None
    left = [_within(alive, of, low, high) for low, high in ranges]
    both = [sorted({*chain.from_iterable(columns)}) for columns in zip(*left, strict=True)]
    return LeastSpread(best, proof, picked, both, len(ranges) == 1)


def _within(alive: Sequence[Sequence[int]], of: dict[int, dict[int, int]], low: int, high: int) -> list[list[int]]:
    """The columns left within a range."""
    return [
        [c for c in columns if group not in of or low <= of[group][c] <= high] for group, columns in enumerate(alive)
    ]
