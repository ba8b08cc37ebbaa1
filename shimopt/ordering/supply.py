"""What each gap could have: pieces on hand and on offer, and all stacks that they make."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import zip_longest

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import Scale, TooManyError, stacks_between
from shimopt.job import Place
from shimopt.ordering.coverage import Candidate, Coverage, Sizes, parts_of
from shimopt.ordering.demand import Demand
from shimopt.parts import StockLine

# beyond so many stacks of one gap they are tried with fewer pieces, and the order says that it is not proven
_MOST_STACKS, _MOST_WEIGHED = 60_000, 4_000


def pieces_there(demands: Sequence[Demand], stock: Sequence[StockLine]) -> list[int]:
    """How many pieces there are of each stock line: on hand, and in the places that have a card."""
    within = Counter(line for demand in demands for line in demand.place.installed)
    return [line.on_hand + within[i] for i, line in enumerate(stock)]


class Supply:
    """The stock lines, how many pieces of each are `there`, and the lines `sold`; `most`, stacks of a gap.

    `together` counts the pieces that places that act together could take of each.
    """

    def __init__(
        self,
        stock: Sequence[StockLine],
        there: Sequence[int],
        sold: frozenset[int],
        scale: Scale,
        most: int = _MOST_STACKS,
        together: Mapping[int, int] | None = None,
    ) -> None:
        self.stock, self.there, self.sold, self.scale, self.most = stock, there, sold, scale, most
        self.together = together or {}

    def having(self, there: Mapping[int, int]) -> Supply:
        """The same with these pieces there, and none of them for places that act together."""
        return Supply(self.stock, [there.get(i, 0) for i in range(len(self.stock))], self.sold, self.scale, self.most)

    def with_no_more(self, there: Mapping[int, int]) -> Supply:
        """The same with these pieces and nothing on offer, and of each gap no more stacks than can be weighed."""
        return Supply(self.stock, self.having(there).there, frozenset(), self.scale, _MOST_WEIGHED)

    def coverages(
        self, demands: Sequence[Demand], stacks: Sequence[Sequence[Stack] | None] = ()
    ) -> tuple[list[Coverage], bool]:
        """Every demand's stacks, of these by demand where some are given, and whether none was left out."""
        ever = Counter(self.together)
        for demand in demands:
            most = max(demand.place.most_pieces, len(demand.place.installed))
            ever.update(dict.fromkeys({*demand.usable, *demand.place.installed}, most))
        plentiful = frozenset(i for i, n in ever.items() if self.there[i] >= n)
        found, complete = [], True
        for demand, offered in zip_longest(demands, stacks):
            most = demand.place.most_pieces
            while True:
                try:
                    found.append(self._coverage(demand, plentiful, most, offered))
                    break
                except TooManyError:
                    if most == 1:
                        raise
                    most, complete = most - 1, False
        return found, complete

    def known_exactly(self, demand: Demand) -> Coverage | None:
        """What would serve if the final reading were exact, some way beyond the range; None where that is too much."""
        low, high = demand.low - demand.below, demand.high + demand.above
        # all that would serve, also where what is in would stay
        place = replace(demand.place, keep=False)
        exact = replace(demand, place=place, low=low, high=high, below=Fraction(0), above=Fraction(0), by_blades=False)
        try:
            return self._coverage(exact, (), place.most_pieces)
        except TooManyError:
            return None

    def _coverage(
        self, demand: Demand, plentiful: Collection[int], most: int, offered: Sequence[Stack] | None = None
    ) -> Coverage:
        """The stacks of up to so many pieces that serve a demand, of those offered if any. Raises TooManyError."""
        low, high = self.scale.ticks(demand.low), self.scale.ticks(demand.high)
        found: dict[Stack, tuple[int, int]] = {}
        sizes, as_read = Sizes(demand, self.stock, self.scale), self._as_read(demand)
        listed = self._in_reach(demand, most) if offered is None else offered
        for stack in (*self._as_it_is(demand.place), *listed):
            start, end = as_read(*sizes.served_by(stack))
            start, end = max(start, low), min(end, high)
            # one reading alone matters only where it is the whole range
            if start < end or (start == end and low == high):
                found[stack] = (start, end)
        kept, more = list[Candidate](), list[Candidate]()
        for stack, (start, end) in _less_what_stays(found, demand, self.scale):
            # what is in may stay even where a part of it would do
            beaten = stack != demand.place.installed and any(
                _holds(found[part], start, end) for part in parts_of(stack) if part in found
            )
            if not beaten or demand.compared:
                one = Candidate(stack, start, end, tuple(i for i in stack if i not in plentiful))
                (more if beaten else kept).append(one)
        stays = tuple(i for i in demand.place.installed if i not in plentiful)
        kept.sort(key=_by_pieces)
        more.sort(key=_by_pieces)
        return Coverage(demand, low, high, tuple(kept), tuple(more), stays)

    def _as_it_is(self, place: Place) -> list[Stack]:
        """What is in, unless a spring is, and nothing, where that is allowed: it may have to hold some pieces."""
        stays = [] if any(self.stock[i].part.is_spring for i in place.installed) else [place.installed]
        return list(dict.fromkeys(stays if place.fewest_pieces else [*stays, ()]))

    def _as_read(self, demand: Demand) -> Callable[[int, int], tuple[int, int]]:
        """Makes of what a stack serves that by pairs of blades where they count; from above to for none [ticks]."""
        if not demand.by_blades:
            return lambda start, end: (start, end)
        ticks, pairs = self.scale.ticks, demand.pairs
        pairs = [middle for middle in pairs if demand.told(middle, middle)]
        middles = [ticks(middle) for middle in pairs]
        shown = [demand.as_read(middle, middle) or (middle, middle) for middle in pairs]

        def as_read(start: int, end: int) -> tuple[int, int]:
            first, last = bisect_left(middles, start), bisect_right(middles, end) - 1
            return (ticks(shown[first][0]), ticks(shown[last][1])) if first <= last else (1, 0)

        return as_read

    def _in_reach(self, demand: Demand, most: int) -> list[Stack]:
        """Stacks whose thickness could serve some reading of the range, and perhaps a few more."""
        ticks, window, (weakest, strongest) = self.scale.ticks, demand.gap.window, demand.moves
        # readings less the window for a shim that closes, the window less readings for one that opens
        over = None if window.max is None else ticks(demand.low + demand.above - window.max)
        under = None if window.min is None else ticks(demand.high - demand.below - window.min)
        least, thickest = over, under
        if demand.effect > 0:
            least = None if window.min is None else ticks(window.min + demand.below - demand.high)
            thickest = None if window.max is None else ticks(window.max - demand.above - demand.low)
        # beside what is in, which comes out
        out = demand.place.installed
        if least is not None:
            least += sum(ticks(weakest * self.stock[i].part.thickness.low) for i in out)
        if thickest is not None:
            thickest += sum(ticks(strongest * self.stock[i].part.thickness.high) for i in out)
        supply = {i: self.there[i] + (demand.place.most_pieces if i in self.sold else 0) for i in demand.usable}
        usable = [i for i, count in supply.items() if count > 0]
        sizes = [ticks(strongest * self.stock[i].part.thickness.high) for i in usable]
        counts, fewest = [supply[i] for i in usable], max(1, demand.place.fewest_pieces)
        found = stacks_between(sizes, counts, most, least, thickest, self.most, fewest=fewest)
        return [tuple(usable[k] for k in stack) for stack in found]


def _less_what_stays(
    found: Mapping[Stack, tuple[int, int]], demand: Demand, scale: Scale
) -> Iterator[tuple[Stack, tuple[int, int]]]:
    """The stacks with what they serve, but where what is in serves, it stays: others only serve the rest."""
    place = demand.place
    stays = found.get(place.installed) if place.installed and place.keep else None
    target = demand.gap.window.target
    if stays is not None and place.keep_within is not None and target is not None:
        near = (scale.ticks(target - place.keep_within), scale.ticks(target + place.keep_within))
        stays = (max(stays[0], near[0]), min(stays[1], near[1]))
    for stack, (start, end) in found.items():
        if stays is None or stays[0] > stays[1] or stack == place.installed:
            yield stack, (start, end)
            continue
        if start < min(end, stays[0]):
            yield stack, (start, min(end, stays[0]))
        if max(start, stays[1]) < end:
            yield stack, (max(start, stays[1]), end)


def _by_pieces(one: Candidate) -> tuple[int, Stack]:
    return len(one.stack), one.stack


def _holds(interval: tuple[int, int], start: int, end: int) -> bool:
    return interval[0] <= start and end <= interval[1]
