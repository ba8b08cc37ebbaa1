"""At most so many suppliers: every choice of them is a market of its own; the best order of all is taken."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import combinations
from math import comb

from shimopt.errors import InputError
from shimopt.ordering.cheapest_order import Step
from shimopt.ordering.large_market_search import Found
from shimopt.ordering.market import Market

_MOST_CHOICES = 60


def sender_sets(market: Market, most: int) -> Sequence[frozenset[int]]:
    """Every choice of so many of the suppliers that offer anything; all where they are no more. Raises InputError."""
    senders = sorted({buy.supplier for buy in market.buys})
    count = min(most, len(senders))
    if comb(len(senders), count) > _MOST_CHOICES:
        raise InputError.at(
            "",
            f"{comb(len(senders), count)} choices of suppliers are too many to compare",
            f"name fewer, or one more or less of the {len(senders)} who offer something",
            where="--suppliers",
            value=str(most),
        )
    return [frozenset(some) for some in combinations(senders, count)]


def best_of(found: Iterable[Found]) -> Found:
    """The order that is best level by level; its levels are proven as far as those of all choices are."""
    every = list(found)
    case, hunt, steps = min(every, key=_values)
    known = [all(step.proven for step in levels) for levels in zip(*(steps for _, _, steps in every), strict=True)]
    told: list[Step] = []
    for number, step in enumerate(steps):
        proven = all(known[: number + 1])
        told.append(step if proven else step._replace(bound=None, proven=False))
    return case, hunt, told


def _values(found: Found) -> tuple[Fraction, ...]:
    """The levels' values, money in the same unit for all."""
    case, _, steps = found
    unit = case.market.price_unit
    return tuple(Fraction(step.value, unit if step.level == "cost" else 1) for step in steps)
