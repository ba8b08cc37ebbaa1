"""The slow obvious answer to a small job: every stack for every place, every combination, judged by the written levels.

It shares no code with `shimopt.choose`, `stacks`, `check` or `fit`, and works in whole half nanometres.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import combinations_with_replacement, product
from typing import TypeVar

from shimopt.job import Gap, Job, Place
from shimopt.parts import Offer
from tests.exact_chance import chance_between

__all__ = [
    "Answer",
    "Stack",
    "all_stacks",
    "best_plan",
    "exact_chance",
    "grade",
    "in_reach",
    "price_of_packs",
    "serving_stacks",
]

Stack = tuple[int, ...]
T = TypeVar("T")
_LENGTHS = ("miss", "doubt", "excess", "spread", "target")


@dataclass(frozen=True)
class Answer:
    """The best plan: a stack per place, and the levels' values [nm, pieces or money]."""

    stacks: dict[str, Stack]
    levels: dict[str, Fraction]


@dataclass(frozen=True)
class _Filled:
    """A place with a stack in it, and what that does to its gap [half nm]."""

    stack: Stack
    best: int
    outside: bool
    shares: dict[str, int]


def _halves(length: Fraction | int) -> int:
    doubled = Fraction(length) * 2
    assert doubled.denominator == 1
    return doubled.numerator


def grade(job: Job, place: Place, line: int) -> str:
    """ "stop", "caution" or "" for a part on a seat: its bore is under the shaft, or over it by more than the play."""
    seat, bore = place.seat, job.stock[line].part.inner
    if seat is None:
        return ""
    if not seat.shims_allowed:
        return "stop"
    if seat.shaft is None or bore is None:
        return ""
    # common practice, no source: 0.4 mm up to a shaft of 50 mm, the only shafts used in these tests
    assert seat.shaft.high <= 50_000_000
    play = 400_000 if seat.bore_play is None else seat.bore_play
    if bore.low < seat.shaft.high or bore.low - seat.shaft.high > play:
        return "stop"
    return "caution" if bore.high - seat.shaft.low > play else ""


def all_stacks(job: Job, place: Place, buy: bool) -> Iterator[Stack]:
    """Every stack that the place could take and that could be had if no other place wanted anything."""
    suits = [i for i in range(len(job.stock)) if grade(job, place, i) != "stop"]
    there = [line.on_hand + sum(p.installed.count(i) for p in job.places) for i, line in enumerate(job.stock)]
    for pieces in range(place.most_pieces + 1):
        for stack in combinations_with_replacement(suits, pieces):
            if all(n <= there[i] or (buy and job.stock[i].offers) for i, n in Counter(stack).items()):
                yield stack


def _filled(job: Job, place: Place, gap: Gap, stack: Stack) -> _Filled:
    pieces = [job.stock[i].part.thickness for i in stack]
    reading, window = gap.reading.bracket, gap.window
    # a shim under a cover opens the gap
    way = 1 if gap.effects[0][1] > 0 else -1
    low = _halves(reading.low) + way * sum(_halves(piece.low if way > 0 else piece.high) for piece in pieces)
    best = _halves(reading.best) + way * sum(_halves(piece.best) for piece in pieces)
    high = _halves(reading.high) + way * sum(_halves(piece.high if way > 0 else piece.low) for piece in pieces)
    least = -(10**30) if window.min is None else _halves(window.min)
    most = 10**30 if window.max is None else _halves(window.max)
    outside = not least <= best <= most
    sure = least <= low and high <= most
    enough = sure if gap.least_chance is None else exact_chance(job, gap, stack) >= gap.least_chance
    unproven = not outside and not enough
    target = None
    if window.stated_target is not None:
        target = _halves(window.stated_target)
    elif window.min is not None and window.max is not None and not window.ended:
        target = window.min + window.max  # the middle, in half nanometres
    shares = {
        "outside": int(outside),
        "miss": max(least - best, best - most, 0),
        "unproven": int(unproven),
        "doubt": max(0, least - low) + max(0, high - most) if unproven else 0,
        "pieces": len(stack),
        "cautions": sum(grade(job, place, i) == "caution" for i in stack),
        "target": 0 if target is None else abs(best - target),
    }
    return _Filled(stack, best, outside, shares)


def exact_chance(job: Job, gap: Gap, stack: Stack) -> Fraction:
    """The probability of being inside: reading and pieces spread evenly, those of one micrometer as one."""
    way, read = (1 if gap.effects[0][1] > 0 else -1), gap.reading.bracket
    boxes, shared = [], Fraction(0)
    for part in (job.stock[i].part for i in stack):
        half = (part.thickness.high - part.thickness.low) / 2
        common = half if job.micrometer and part.measured else Fraction(0)
        if common and job.micrometer and job.micrometer.error is not None:
            common = min(common, Fraction(job.micrometer.error))
        shared += common
        middle = way * part.thickness.best
        boxes.append((middle - (half - common), middle + (half - common)))
    boxes.append((-shared, shared))
    # best off the middle: half the probability on each side of it
    sides = [(read.low, read.best), (read.best, read.high)]
    return (
        sum(
            (chance_between([side, *boxes], _fraction(gap.window.min), _fraction(gap.window.max)) for side in sides),
            Fraction(0),
        )
        / 2
    )


def _fraction(limit: int | None) -> Fraction | None:
    return None if limit is None else Fraction(limit)


def serving_stacks(job: Job, place: Place, buy: bool) -> list[_Filled]:
    """What may stand in a place: nothing, or a stack that brings the best estimate of its gap inside."""
    gap = next(gap for gap in job.gaps if [name for name, _ in gap.effects] == [place.name])
    filled = [_filled(job, place, gap, stack) for stack in all_stacks(job, place, buy)]
    return [found for found in filled if not found.stack or not found.outside]


def in_reach(job: Job, buy: bool, choices: Sequence[Sequence[T]], stack_of: Callable[[T], Stack]) -> Iterator[list[T]]:
    """Every way to choose one per place for which the pieces stretch, in the order of `product`.

    Whatever follows a beginning that takes too many is passed over: more places only take more.
    """
    there = [line.on_hand + sum(p.installed.count(i) for p in job.places) for i, line in enumerate(job.stock)]
    endless = {i for i, line in enumerate(job.stock) if buy and line.offers}

    def onward(chosen: list[T]) -> Iterator[list[T]]:
        if len(chosen) == len(choices):
            yield chosen
            return
        for one in choices[len(chosen)]:
            for i in stack_of(one):
                there[i] -= 1
            if all(there[i] >= 0 or i in endless for i in stack_of(one)):
                yield from onward([*chosen, one])
            for i in stack_of(one):
                there[i] += 1

    return onward([])


@lru_cache(maxsize=10_000)
def price_of_packs(offers: tuple[Offer, ...], pieces: int) -> Fraction | None:
    """The least price of whole packs for so many pieces, all ways to mix the offers tried; None without a price."""
    priced = [offer for offer in offers if offer.price is not None]
    counts = [range(-(-pieces // offer.pack) + 1) for offer in priced]
    sums = [
        sum((Fraction(offer.price or 0) * n for offer, n in zip(priced, packs, strict=True)), Fraction(0))
        for packs in product(*counts)
        if sum(offer.pack * n for offer, n in zip(priced, packs, strict=True)) >= pieces
    ]
    return min(sums, default=None)


def _value(job: Job, plan: Sequence[_Filled]) -> dict[str, int | Fraction]:
    """The levels of a plan in half nanometres, pieces or money."""
    used = Counter(i for found in plan for i in found.stack)
    to_buy = {i: n - job.stock[i].on_hand for i, n in used.items() if n > job.stock[i].on_hand}
    levels: dict[str, int | Fraction] = {name: sum(found.shares[name] for found in plan) for name in plan[0].shares}
    levels |= {"excess": 0, "spread": 0, "opened": 0}
    at = {gap.name: found for gap, found in zip(job.gaps, plan, strict=True)}
    for balance in job.balances:
        if any(at[name].outside for name in balance.gaps):
            continue
        even = [at[name].best - 2 * balance.offset.get(name, 0) for name in balance.gaps]
        levels["spread"] += max(even) - min(even)
        if balance.within is not None:
            levels["excess"] += max(0, max(even) - min(even) - 2 * balance.within)
    prices = {i: price_of_packs(job.stock[i].offers, n) for i, n in to_buy.items()}
    levels["bought"] = sum(to_buy.values())
    # pieces of unknown price are not free: fewer of them come first, then the price of the others
    levels["unpriced"] = sum(n for i, n in to_buy.items() if prices[i] is None)
    levels["cost"] = sum(price for price in prices.values() if price is not None)
    return levels


def best_plan(
    job: Job, buy: bool = False, *, levels_in: Sequence[str] | None = None, most: int | None = None
) -> Answer:
    """Best by the levels in the job's order; among equals, place by place, the first parts in natural order.

    `levels_in` is another order of levels, `most` a limit to the pieces of all places together.
    """
    order = [
        name for level in levels_in or job.levels for name in (("unpriced", "cost") if level == "cost" else (level,))
    ]
    best: tuple[list[int | Fraction], tuple[Stack, ...]] | None = None
    found: dict[str, int | Fraction] = {}
    serving = [serving_stacks(job, place, buy) for place in job.places]
    for plan in in_reach(job, buy, serving, lambda filled: filled.stack):
        levels = _value(job, plan)
        if most is not None and levels["pieces"] > most:
            continue
        judged = ([levels[name] for name in order], tuple(filled.stack for filled in plan))
        if best is None or judged < best:
            best, found = judged, levels
    assert best is not None
    exact = {name: Fraction(found[name]) / (2 if name in _LENGTHS else 1) for name in job.levels}
    return Answer({place.name: stack for place, stack in zip(job.places, best[1], strict=True)}, exact)
