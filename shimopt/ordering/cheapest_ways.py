"""The cheapest ways to a chance of 90, 95, 99 and 100 %, over all that is on offer (`likely_enough.py`).

Of many stacks only parts of the order, and of that for today's readings, are tried: packs are left out of what both
buy together, every set of them where these are few, else one after the other, by what each saves for the chance that
goes with it. What is short then is missed where it costs the least chance. That nothing is cheaper is not claimed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product
from math import prod

from shimopt.ordering.cheapest_order import Hunt
from shimopt.ordering.likely_enough import LikelyEnough
from shimopt.ordering.market import Market, as_charged, bills_of
from shimopt.ordering.purchase import Purchase
from shimopt.proof.exact_bounds import NO_END
from shimopt.watch import ORDER_STEPS, Few

STEPS = (Fraction(9, 10), Fraction(95, 100), Fraction(99, 100), Fraction(1))
# within a limit of money it is looked for a surer order in these steps
_BELOW = [Fraction(n, 20) for n in range(1, 18)]
# for each way so many times the search steps of other questions, fewer the more stacks a step looks at
_STEPS, _OF_STACKS = 10, 200
# of more sets of packs than this only some are looked at
_MOST_SETS = 512

Packs = tuple[int, ...]
Chance = Fraction | float


@dataclass(frozen=True, slots=True)
class Way:
    """The packs (of each of the market's buys) with which the chance is at least so much; None where none reaches.

    `bound` is what none of all that is on offer costs less than; None where only parts of an order were tried, or where
    none was found and there may be one.
    """

    at_least: Fraction
    packs: Packs | None
    cost: Fraction
    chance: Chance
    bound: Fraction | None = None

    @property
    def proven(self) -> bool:
        """Whether nothing on offer is cheaper."""
        return self.bound is not None and (self.packs is None or self.bound >= self.cost)


class Sharing:
    """Who goes short when packs are left out; `chance` of a gap to be served by its pieces, 1 where it is left out.

    Parameters: stock, pieces there without an order; own, by gap, what it would have with all packs.
    """

    def __init__(
        self,
        market: Market,
        stock: Sequence[int],
        own: Sequence[Mapping[int, int]],
        chance: Callable[[int, Mapping[int, int]], Chance],
    ) -> None:
        self.market, self.stock, self.own, self._chance = market, stock, own, chance
        self._known: dict[tuple[int, tuple[tuple[int, int], ...]], Chance] = {}
        self._first: dict[tuple[int, int], Chance] = {}

    def cost(self, packs: Packs) -> int:
        """What they cost [coins]."""
        return sum(total for _, _, total in bills_of(self.market, packs).values())

    def chance(self, packs: Packs) -> Chance:
        """That these packs are enough, at least."""
        there = Counter(dict(enumerate(self.stock))) + self.market.pieces(packs)
        own = [Counter(pieces) for pieces in self.own]
        total, short = sum(own, Counter[int]()), set[int]()
        for line in sorted(line for line, count in total.items() if count > there[line]):
            for _ in range(total[line] - there[line]):
                takers = [gap for gap, pieces in enumerate(own) if pieces[line]]
                kept = {
                    gap: self._without(gap, own[gap], line) if gap in short else self._less(gap, line) for gap in takers
                }
                loser = max(takers, key=lambda gap: (kept[gap], -gap))
                own[loser][line] -= 1
                short.add(loser)
        return prod((self._of(gap, pieces) for gap, pieces in enumerate(own)), start=Fraction(1))

    def _of(self, gap: int, pieces: Counter[int]) -> Chance:
        key = gap, tuple(sorted((+pieces).items()))
        if key not in self._known:
            self._known[key] = self._chance(gap, dict(key[1]))
        return self._known[key]

    def _less(self, gap: int, line: int) -> Chance:
        """The same of a gap that has all its pieces."""
        if (gap, line) not in self._first:
            self._first[gap, line] = self._without(gap, Counter(self.own[gap]), line)
        return self._first[gap, line]

    def _without(self, gap: int, pieces: Counter[int], line: int) -> Chance:
        """How much of its chance a gap keeps with one piece less."""
        before = self._of(gap, pieces)
        return self._of(gap, pieces - Counter([line])) / before if before else Fraction(1)


def searched_ways(hunt: Hunt, asked: LikelyEnough, sure: Purchase, surely: Chance, most: int | None) -> tuple[Way, ...]:
    """The cheapest purchase for each step, of all on offer; the order, `sure`, where nothing is cheaper.

    Parameters: surely, the chance that the order is enough, by its own cards; most, what may be spent [coins].
    """
    books, found = hunt.books, list[Way]()
    unit, least = books.market.price_unit, 0
    for step in STEPS:
        if asked.most < step and surely < step:
            found.append(Way(step, None, Fraction(0), Fraction(0), Fraction(0)))
            continue
        asked.asks(step)
        order = surely >= step
        if order and least >= books.value_of("cost", sure):
            # what costs no less for a smaller chance costs no less for this one
            best, bound = sure, least
        else:
            best, bound = hunt.cheapest(sure, _steps_of(hunt))
        cost, chance = books.value_of("cost", best), asked.chance(best)
        if order and (chance < step or books.value_of("cost", sure) <= cost):
            best, cost, chance = sure, books.value_of("cost", sure), surely
        least = max(least, min(bound, cost))
        # what is rough may leave out a cheaper one
        told = Fraction(0 if asked.rough else min(bound, cost), unit)
        if chance < step or (most is not None and cost > most):
            # only a bound beyond the limit says that there is none
            none = not asked.rough and bound > (NO_END - 1 if most is None else most)
            found.append(Way(step, None, Fraction(0), Fraction(0), told if none else None))
        else:
            found.append(Way(step, best.packs, Fraction(cost, unit), chance, told))
    return _surest(found)


def _steps_of(hunt: Hunt) -> Few:
    stacks = sum(len(coverage.candidates) for coverage in hunt.books.coverages)
    steps = (hunt.watch.steps or ORDER_STEPS) * _STEPS * _OF_STACKS // max(_OF_STACKS, stacks)
    return Few(steps, hunt.watch)


def _surest(ways: Sequence[Way]) -> tuple[Way, ...]:
    """The same, with what reaches a higher step for no more money in place of what only reaches a lower one."""
    found = list(ways)
    for n in range(len(found) - 2, -1, -1):
        one, more = found[n], found[n + 1]
        if more.packs is not None and (one.packs is None or more.cost <= one.cost):
            found[n] = replace(one, packs=more.packs, cost=more.cost, chance=more.chance)
    return tuple(found)


def proven_with(ways: Sequence[Way], sure: Packs) -> tuple[Way, ...]:
    """The same where the order is proven: of what is sure nothing costs less."""
    last = [replace(way, bound=way.cost) if way.packs == sure and way.bound is not None else way for way in ways[-1:]]
    return *ways[:-1], *last


def cheaper_of(ways: Sequence[Way], others: Sequence[Way]) -> tuple[Way, ...]:
    """For each step the cheaper of two, with what is known of the first."""
    found = list(ways)
    for n, (one, other) in enumerate(zip(ways, others, strict=True)):
        if other.packs is not None and (one.packs is None or other.cost < one.cost):
            found[n] = replace(one, packs=other.packs, cost=other.cost, chance=other.chance)
    return _surest(found)


def surer_way(
    hunt: Callable[[], Hunt], asked: LikelyEnough, sure: tuple[Purchase, Chance], most: int, ways: Sequence[Way]
) -> Way | None:
    """What is surer than an order and costs no more than may be spent; None where nothing was found.

    An order within a limit leaves the least of the readings open, which may be the likelier ones. Parameters: hunt,
    begins a search; sure, the order and its chance; most, what may be spent [coins].
    """
    order, surely = sure
    surer = [way for way in ways if way.packs is not None and way.chance > surely]
    if surer or surely >= STEPS[0]:
        return max(surer, key=lambda way: (way.chance, -way.cost), default=None)
    steps, books = [step for step in _BELOW if surely < step <= asked.most], asked.books
    found, low, high = None, 0, len(steps)
    while low < high:
        step = steps[middle := (low + high) // 2]
        asked.asks(step)
        begun = hunt()
        best, _ = begun.cheapest(order, _steps_of(begun))
        cost, chance = books.value_of("cost", best), asked.chance(best)
        if chance >= step and cost <= most:
            found, low = Way(step, best.packs, Fraction(cost, books.market.price_unit), chance, Fraction(0)), middle + 1
        else:
            high = middle
    return found


def cheapest_parts(
    sharing: Sharing, all_packs: Packs, sure: Packs, surely: Chance, most_suppliers: int | None
) -> tuple[Way, ...]:
    """The cheapest found for each step; `sure` is the order itself, which is taken where nothing is cheaper.

    Parameters: surely, the chance that the order is enough, by its own cards; most_suppliers, how many may send.
    """
    unit = sharing.market.price_unit

    def chance(packs: Packs) -> Chance:
        return surely if packs == sure else sharing.chance(packs)

    # the order first: of what costs the same it is meant
    parts = (as_charged(sharing.market, packs) for packs in _parts(sharing, all_packs))
    some = {one for one in parts if most_suppliers is None or len(bills_of(sharing.market, one)) <= most_suppliers}
    tried = sorted({*some, sure}, key=lambda packs: (sharing.cost(packs), packs != sure, packs))
    found = []
    for step in STEPS:
        packs = next((one for one in tried if chance(one) >= step), None)
        cost = Fraction(0) if packs is None else Fraction(sharing.cost(packs), unit)
        found.append(Way(step, packs, cost, Fraction(0) if packs is None else chance(packs)))
    return _surest(found)


def _parts(sharing: Sharing, all_packs: Packs) -> Iterator[Packs]:
    """The sets of packs that are looked at."""
    if prod(count + 1 for count in all_packs) <= _MOST_SETS:
        yield from product(*(range(count + 1) for count in all_packs))
        return
    packs = all_packs
    while any(packs):
        yield packs
        fewer = [(*packs[:n], count - 1, *packs[n + 1 :]) for n, count in enumerate(packs) if count]
        before, cost = sharing.chance(packs), sharing.cost(packs)

        def lost(one: Packs, before: Chance = before, cost: int = cost) -> tuple[float, Packs]:
            """The chance that goes for each coin that it saves."""
            return float(before - sharing.chance(one)) / max(1, cost - sharing.cost(one)), one

        packs = min(fewer, key=lost)
    yield packs
