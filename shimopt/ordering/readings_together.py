"""Places that act together: for every final reading of their gaps at once, what to fit.

What a choice of stacks serves is an interval of each gap's final reading: a box. The range of all readings is a box,
too. A plan for the middle of it gives stacks, these serve a box around it, and what of the range lies outside is looked
at in the same way, until nothing is left. So all of it is served, and every box is checked by plain arithmetic; that no
cheaper pieces would do is not said. Where blades read every gap, the readings at which no plan is surely inside are
left open one by one, and told; with any other gauge, or where the boxes get too many, there is no answer.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product
from math import prod

from shimopt.arithmetic.carried import narrower
from shimopt.arithmetic.clearance import Stack, change_of, times
from shimopt.job import Cluster, Gap, Job
from shimopt.lengths import Bracket
from shimopt.ordering.demand import Demand
from shimopt.parts import StockLine
from shimopt.planner import chosen_stacks
from shimopt.watch import Watch

# more readings than this make a table that nobody reads on the bench
MOST_READINGS = 2
# beyond so many boxes a table is no help on the day
_MOST_BOXES = 30
# beyond so many readings that nothing serves there is no order worth making
_MOST_OPEN = 60

Range = tuple[Fraction, Fraction]
Stacks = Mapping[str, Stack]


@dataclass(frozen=True, slots=True)
class Box:
    """Final best estimates from .. to of every gap [nm], and the stack of every place for them."""

    ranges: tuple[Range, ...]
    stacks: Stacks


@dataclass(frozen=True, slots=True)
class Table:
    """The boxes that together hold all final readings of gaps whose places act together; `job` by number.

    `open` are the readings that nothing serves, `within` the stock lines of the pieces that are in, `takes` the most of
    each that any box takes beside them.
    """

    job: int
    demands: tuple[Demand, ...]
    places: tuple[str, ...]
    boxes: tuple[Box, ...]
    within: Stack
    takes: Mapping[int, int]
    open: tuple[tuple[Range, ...], ...] = ()

    @property
    def rowless(self) -> bool:
        """Whether there are more readings than a card has columns for: a plan of them says what to fit."""
        return len(self.demands) > MOST_READINGS

    @property
    def used(self) -> list[Counter[int]]:
        """The pieces of every box, by stock line."""
        return [Counter(line for stack in box.stacks.values() for line in stack) for box in self.boxes]


@dataclass(frozen=True)
class Together:
    """A cluster's gaps as demands, and the job of these gaps alone with what there is and is on offer."""

    number: int
    job: Job
    demands: tuple[Demand, ...]

    @classmethod
    def of(cls, job: Job, cluster: Cluster, demands: Sequence[Demand], stock: Sequence[StockLine]) -> Together:
        """The cluster's part of a job, with this stock: brackets decide, as on every card."""
        gaps = tuple(replace(gap, least_chance=None) for gap in job.gaps if gap.name in cluster.gaps)
        inside = {*cluster.gaps, *cluster.places}
        part = replace(
            job,
            gaps=gaps,
            places=tuple(place for place in job.places if place.name in cluster.places),
            balances=tuple(b for b in job.balances if inside.issuperset((*b.gaps, *b.places))),
            equal=tuple(names for names in job.equal if inside.issuperset(names)),
            stock=tuple(stock),
        )
        return cls(demands[0].job, part, tuple(demands))

    def serving(self, at: Sequence[Fraction], stock: Sequence[StockLine], watch: Watch) -> Box | None:
        """Stacks that are surely inside at these readings, and all that they serve; None where the plan has none.

        First what stays in where it is inside by its best estimate; where that is not sure, everything may come out.
        """
        gaps = tuple(
            replace(gap, reading=replace(gap.reading, bracket=Bracket(x - d.below, x, x + d.above)))
            for gap, d, x in zip(self.job.gaps, self.demands, at, strict=True)
        )
        stays = any(place.installed and place.keep for place in self.job.places)
        for keep in (True, False) if stays else (True,):
            places = tuple(replace(place, keep=place.keep and keep) for place in self.job.places)
            asked = replace(self.job, gaps=gaps, places=places, stock=tuple(stock))
            stacks = chosen_stacks(asked, buy=True, watch=Watch(watch.left())).stacks
            full = {place.name: stacks.get(place.name, ()) for place in self.job.places}
            served = self.served_by(full)
            if all(start <= x <= end for x, (start, end) in zip(at, served, strict=True)):
                return Box(served, full)
        return None

    def served_by(self, stacks: Stacks) -> tuple[Range, ...]:
        """The readings of each gap that these stacks serve, from .. to; from above to for none."""
        found = []
        for gap, demand in zip(self.job.gaps, self.demands, strict=True):
            least, most = moved_by(self.job, gap, stacks)
            low, high = self.limits(gap, demand)
            found.append((demand.low if low is None else low - least, demand.high if high is None else high - most))
        return tuple(found)

    def limits(self, gap: Gap, demand: Demand) -> tuple[Fraction | None, Fraction | None]:
        """Between which best estimates, as they are once all is fitted, a gap is surely inside; None for no limit."""
        low = None if gap.window.min is None else gap.window.min + demand.below
        return low, None if gap.window.max is None else gap.window.max - demand.above


def moved_by(job: Job, gap: Gap, stacks: Stacks) -> Range:
    """How much these stacks move a gap, least and most [nm]."""
    low = high = Fraction(0)
    for name, effect in gap.effects:
        moved = times(effect, change_of(job.place[name], stacks[name], job.stock), gap.reach(name))
        low, high = low + moved.low, high + moved.high
    less = narrower(job, gap, stacks)
    return low + less, high - less


def table_of(asked: Together, watch: Watch) -> Table | None:
    """What to fit at every final reading that can be served; None where that was not found.

    Pieces that one box has to buy are there for the next: one parcel serves them all.
    """
    stock, done, open_ = list(asked.job.stock), list[Box](), list[tuple[int, ...]]()
    by_blades = all(demand.pairs for demand in asked.demands)
    within = tuple(sorted(i for place in asked.job.places for i in place.installed))
    takes: Counter[int] = Counter()
    left = [tuple((demand.low, demand.high) for demand in asked.demands)]
    while left:
        ranges = left.pop()
        if len(done) + len(left) >= _MOST_BOXES or watch.over():
            return None
        at = [_middle(d, *r) for d, r in zip(asked.demands, ranges, strict=True)]
        box = asked.serving(at, stock, watch)
        if box is None:
            if not by_blades or len(open_) >= _MOST_OPEN:
                return None
            open_.append(tuple(d.pairs.index(x) for d, x in zip(asked.demands, at, strict=True)))
            left += _rest(asked.demands, ranges, [(x, x) for x in at])
            continue
        core = tuple((max(a, c), min(b, d)) for (a, b), (c, d) in zip(ranges, box.ranges, strict=True))
        done.append(Box(core, box.stacks))
        left += _rest(asked.demands, ranges, core)
        takes |= Counter(i for stack in box.stacks.values() for i in stack) - Counter(within)
        stock = [replace(line, on_hand=max(line.on_hand, takes[i])) for i, line in enumerate(stock)]
    return _as_table(asked, done, open_)


def _as_table(asked: Together, boxes: Sequence[Box], open_: Sequence[tuple[int, ...]]) -> Table | None:
    """The boxes in order, and what is left open; None where no reading is served."""
    within = tuple(sorted(i for place in asked.job.places for i in place.installed))
    takes: Counter[int] = Counter()
    for box in boxes:
        takes |= Counter(i for stack in box.stacks.values() for i in stack) - Counter(within)
    order, places = tuple(sorted(boxes, key=lambda box: box.ranges)), tuple(p.name for p in asked.job.places)
    left = tuple(joined(asked.demands, open_))
    return Table(asked.number, asked.demands, places, order, within, takes, left) if boxes else None


def cell_by_cell(asked: Together, watch: Watch) -> Table | None:
    """What a plan fits at each reading that blades can show, with what is there; None where these are too many.

    Nor where a plan serves none of them.
    """
    shown = [demand.pairs for demand in asked.demands]
    if not all(shown) or prod(map(len, shown)) > _MOST_OPEN:
        return None
    stock, fits = asked.job.stock, dict[tuple[tuple[str, Stack], ...], list[tuple[int, ...]]]()
    open_ = list[tuple[int, ...]]()
    for cell in product(*(range(len(pairs)) for pairs in shown)):
        at = [pairs[n] for pairs, n in zip(shown, cell, strict=True)]
        box = None if watch.over() else asked.serving(at, stock, watch)
        if box is None:
            open_.append(cell)
        else:
            fits.setdefault(tuple(box.stacks.items()), []).append(cell)
    boxes = [Box(ranges, dict(s)) for s, cells in fits.items() for ranges in joined(asked.demands, cells)]
    return _as_table(asked, boxes, open_)


def no_longer(before: Table, now: Table | None) -> list[tuple[Range, ...]]:
    """The readings that one table serves and another of the same gaps does not; all that blades can show without it."""
    demands = before.demands
    every = set(product(*(range(len(demand.pairs)) for demand in demands)))
    left = every if now is None else every & open_cells(now)
    return list(joined(demands, sorted(left - open_cells(before))))


def open_cells(table: Table) -> set[tuple[int, ...]]:
    """The readings that a table leaves open, each by the numbers of its pairs of blades."""
    return {
        cell
        for box in table.open
        for cell in product(
            *(
                [n for n, x in enumerate(demand.pairs) if low <= x <= high]
                for demand, (low, high) in zip(table.demands, box, strict=True)
            )
        )
    }


def joined(demands: Sequence[Demand], cells: Sequence[tuple[int, ...]]) -> Iterator[tuple[Range, ...]]:
    """Readings that pairs of blades show, each by the numbers of its pairs, as few boxes of neighbouring ones."""
    boxes = {tuple((n, n) for n in cell) for cell in cells}
    for axis in reversed(range(len(demands))):
        runs: list[tuple[tuple[int, int], ...]] = []
        for box in sorted(boxes, key=lambda box: (box[:axis], box[axis + 1 :], box[axis])):
            last = runs[-1] if runs else None
            beside = last is not None and (last[:axis], last[axis + 1 :]) == (box[:axis], box[axis + 1 :])
            if last is not None and beside and last[axis][1] + 1 == box[axis][0]:
                runs[-1] = (*last[:axis], (last[axis][0], box[axis][1]), *last[axis + 1 :])
            else:
                runs.append(box)
        boxes = {*runs}
    for box in sorted(boxes):
        yield tuple((d.pairs[first], d.pairs[last]) for d, (first, last) in zip(demands, box, strict=True))


def _middle(demand: Demand, low: Fraction, high: Fraction) -> Fraction:
    """A reading in the middle of a range: one that blades can show where they read it."""
    pairs = [at for at in demand.pairs if low <= at <= high]
    return pairs[len(pairs) // 2] if pairs else (low + high) / 2


def _rest(demands: Sequence[Demand], ranges: Sequence[Range], core: Sequence[Range]) -> Iterator[tuple[Range, ...]]:
    """What of a box lies outside its core, gap after gap; of a gap read by blades only what a pair can show."""
    for n, demand in enumerate(demands):
        (low, high), (start, end) = ranges[n], core[n]
        for a, b in ((low, start), (end, high)):
            pairs = [at for at in demand.pairs if a <= at <= b and not start <= at <= end]
            if a < b and (pairs or not demand.pairs):
                yield (*core[:n], (pairs[0], pairs[-1]) if pairs else (a, b), *ranges[n + 1 :])
