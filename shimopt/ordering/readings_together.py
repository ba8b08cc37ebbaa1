"""Places that act together: for every final reading of their gaps at once, what to fit.

What a choice of stacks serves is an interval of each gap's final reading: a box. The range of all readings is a box,
too. A plan for the middle of it gives stacks, these serve a box around it, and what of the range lies outside is looked
at in the same way, until nothing is left. So all of it is served, and every box is checked by plain arithmetic; that no
cheaper pieces would do is not said. Each box then fits what a plan takes in its middle of all that serves the whole of
it. Where blades read every gap, the readings at which no plan is surely inside are left open one by one, and told; with
any other gauge, what is known not to be served; where the boxes get too many, there is no answer.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product
from math import prod
from typing import Any, TypeVar

from shimopt.arithmetic.carried import narrower
from shimopt.arithmetic.clearance import Stack, change_of, times
from shimopt.job import Balance, Cluster, Gap, Job
from shimopt.lengths import Bracket
from shimopt.ordering.demand import Demand
from shimopt.parts import StockLine
from shimopt.planner import Chosen, chosen_stacks
from shimopt.watch import Watch

# more readings than this make a table that nobody reads on the bench
MOST_READINGS = 2
# beyond so many boxes a table is no help on the day
_MOST_BOXES = 30
# beyond so many readings that nothing serves there is no order worth making
_MOST_OPEN = 60

Range = tuple[Fraction, Fraction]
Stacks = Mapping[str, Stack]
_Length = TypeVar("_Length", int, Fraction)
_Box = TypeVar("_Box", bound=tuple[tuple[Any, Any], ...])


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
    """A cluster's gaps as demands, and the job of these gaps alone with what there is and is on offer.

    `beside` are other gaps, as a plan of today leaves them, that balances `across` compare with these.
    """

    number: int
    job: Job
    demands: tuple[Demand, ...]
    beside: tuple[Gap, ...] = ()
    across: tuple[Balance, ...] = ()

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

    def as_today(self, job: Job, today: Chosen) -> Together:
        """The same, its balances with the other gaps of the whole job, as a plan of today's readings leaves them."""
        own = {gap.name for gap in self.job.gaps}
        across = tuple(b for b in job.balances if own & {*b.gaps} and not own.issuperset(b.gaps))
        others = {name for balance in across for name in balance.gaps} - own
        beside = tuple(
            replace(gap, effects=(), reading=replace(gap.reading, bracket=today.outcome.gaps[gap.name].after))
            for gap in job.gaps
            if gap.name in others
        )
        return replace(self, beside=beside, across=across)

    def serving(self, ranges: Sequence[Range], stock: Sequence[StockLine], watch: Watch) -> Box | None:
        """Stacks that are surely inside at all readings from .. to, and all that they serve; None where there are none.

        What a plan takes in the middle, of those that serve all of it. First what stays in where it is inside by its
        best estimate; where that is not sure, everything may come out.
        """
        gaps = tuple(
            replace(gap, reading=replace(gap.reading, bracket=Bracket(low - d.below, (low + high) / 2, high + d.above)))
            for gap, d, (low, high) in zip(self.job.gaps, self.demands, ranges, strict=True)
        )
        stays = any(place.installed and place.keep for place in self.job.places)
        for keep in (True, False) if stays else (True,):
            places = tuple(replace(place, keep=place.keep and keep) for place in self.job.places)
            compared = (*self.job.balances, *self.across)
            asked = replace(self.job, gaps=(*gaps, *self.beside), places=places, balances=compared, stock=tuple(stock))
            stacks = chosen_stacks(asked, buy=True, watch=Watch(watch.left())).stacks
            full = {place.name: stacks.get(place.name, ()) for place in self.job.places}
            served = self.served_by(full)
            if all(start <= low and high <= end for (low, high), (start, end) in zip(ranges, served, strict=True)):
                return Box(served, full)
        return None

    def served_by(self, stacks: Stacks) -> tuple[Range, ...]:
        """The readings of each gap that these stacks serve, from .. to; from above to for none."""
        found = []
        for gap, demand in zip(self.job.gaps, self.demands, strict=True):
            least, most = moved_by(self.job, gap, stacks)
            low, high = self.limits(gap, demand)
            start, end = demand.low if low is None else low - least, demand.high if high is None else high - most
            found.append(demand.where_a_blade_goes(start, end))
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


def table_of(asked: Together, watch: Watch, open_: Sequence[tuple[Range, ...]] = ()) -> Table | None:
    """What to fit at every final reading that can be served; None where that was not found.

    Pieces that one box has to buy are there for the next: one parcel serves them all. Parameter: open_, readings that
    are known not to be served.
    """
    stock, done, never = list(asked.job.stock), list[Box](), list(open_)
    by_blades = all(demand.pairs for demand in asked.demands)
    within = tuple(sorted(i for place in asked.job.places for i in place.installed))
    takes: Counter[int] = Counter()
    left = outside(asked.demands, [tuple((demand.low, demand.high) for demand in asked.demands)], open_)
    while left:
        ranges = left.pop()
        if len(done) + len(left) >= _MOST_BOXES or watch.over():
            return None
        at = [(x, x) for x in (_middle(d, *r) for d, r in zip(asked.demands, ranges, strict=True))]
        box = asked.serving(at, stock, watch)
        if box is None:
            if not by_blades or len(never) >= _MOST_OPEN:
                return None
            never.append(tuple(at))
            left += _rest(asked.demands, ranges, at)
            continue
        core = _common(ranges, box.ranges)
        done.append(Box(core, box.stacks))
        left += _rest(asked.demands, ranges, core)
        takes |= Counter(i for stack in box.stacks.values() for i in stack) - Counter(within)
        stock = [replace(line, on_hand=max(line.on_hand, takes[i])) for i, line in enumerate(stock)]
    return _as_table(asked, done, never)


def as_planned(asked: Together, table: Table, watch: Watch) -> Table:
    """The same, each row with what a plan takes in its middle of all that serves the whole of it."""
    boxes = list(table.boxes)
    while True:
        better = [(box, None if watch.over() else asked.serving(box.ranges, asked.job.stock, watch)) for box in boxes]
        by_stacks = dict[tuple[tuple[str, Stack], ...], list[tuple[Range, ...]]]()
        for box, found in better:
            by_stacks.setdefault(tuple((found or box).stacks.items()), []).append(box.ranges)
        rows = [Box(row, dict(s)) for s, some in by_stacks.items() for row in joined(asked.demands, some)]
        # rows made one have another middle
        if len(rows) == len(boxes):
            return _as_table(asked, rows, table.open) or table
        boxes = rows


def _as_table(asked: Together, boxes: Sequence[Box], open_: Sequence[tuple[Range, ...]]) -> Table | None:
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
    stock, fits = asked.job.stock, dict[tuple[tuple[str, Stack], ...], list[tuple[Range, ...]]]()
    open_ = list[tuple[Range, ...]]()
    for cell in product(*shown):
        at = tuple((x, x) for x in cell)
        box = None if watch.over() else asked.serving(at, stock, watch)
        if box is None:
            open_.append(at)
        else:
            fits.setdefault(tuple(box.stacks.items()), []).append(at)
    boxes = [Box(ranges, dict(s)) for s, cells in fits.items() for ranges in joined(asked.demands, cells)]
    return _as_table(asked, boxes, open_)


def no_longer(before: Table, now: Table | None) -> list[tuple[Range, ...]]:
    """The readings that one table serves and another of the same gaps does not; all that may come without it."""
    whole = tuple((d.pairs[0], d.pairs[-1]) if d.pairs else (d.low, d.high) for d in before.demands)
    return joined(before.demands, outside(before.demands, [whole] if now is None else now.open, before.open))


def share_open(table: Table) -> Fraction:
    """How much of all its readings a table leaves open, as lengths, and as pairs of blades where these show them."""
    shares = [[_share(d, *ends) for d, ends in zip(table.demands, ranges, strict=True)] for ranges in table.open]
    return sum((prod(some, start=Fraction(1)) for some in shares), Fraction(0))


def _share(demand: Demand, low: Fraction, high: Fraction) -> Fraction:
    if demand.pairs:
        return Fraction(sum(low <= x <= high for x in demand.pairs), len(demand.pairs))
    return (high - low) / demand.width if demand.width else Fraction(1)


def joined(demands: Sequence[Demand], boxes: Sequence[tuple[Range, ...]]) -> list[tuple[Range, ...]]:
    """Readings as few boxes of neighbouring ones: pairs of blades, or lengths that meet."""
    return side_by_side(boxes, [demand.step if demand.pairs and demand.step else Fraction(0) for demand in demands])


def side_by_side(boxes: Iterable[_Box], beside: Sequence[_Length]) -> list[_Box]:
    """The same with boxes that lie side by side made one; parameter: how far the next reading of each gap is."""
    found: list[Any] = list({*boxes})
    for n, step in reversed([*enumerate(beside)]):
        found = _along(found, n, step)
    return sorted(found)


def _along(boxes: Iterable[Any], n: int, step: Any) -> list[Any]:
    """Boxes with those made one that lie side by side along one gap's readings."""
    by_rest = dict[tuple[Any, Any], list[tuple[Any, Any]]]()
    for box in boxes:
        by_rest.setdefault((box[:n], box[n + 1 :]), []).append(box[n])
    return [(*one, run, *two) for (one, two), ends in by_rest.items() for run in _runs(sorted(ends), step)]


def _runs(ends: Sequence[tuple[Any, Any]], step: Any) -> list[tuple[Any, Any]]:
    """From .. to as few as they can be, where what ends a step before another begins goes on in it."""
    runs = list[tuple[Any, Any]]()
    for low, high in ends:
        goes_on = bool(runs) and runs[-1][1] + step == low
        runs[-1:] = [(runs[-1][0], high)] if goes_on else [*runs[-1:], (low, high)]
    return runs


def outside(
    demands: Sequence[Demand], boxes: Iterable[tuple[Range, ...]], taken: Iterable[tuple[Range, ...]]
) -> list[tuple[Range, ...]]:
    """What of some readings lies in none of others."""
    left = list(boxes)
    for one in taken:
        parts = list[tuple[Range, ...]]()
        for box in left:
            core = _common(box, one)
            parts += _rest(demands, box, core) if _holds_any(demands, box, core) else [box]
        left = parts
    return left


def _holds_any(demands: Sequence[Demand], box: Sequence[Range], core: Sequence[Range]) -> bool:
    """Whether a part of some readings holds any of them: of lengths more than an end, unless they are one length."""
    return all(
        any(a <= x <= b for x in d.pairs) if d.pairs else a < b or a == b == low == high
        for d, (low, high), (a, b) in zip(demands, box, core, strict=True)
    )


def _common(one: Sequence[Range], other: Sequence[Range]) -> tuple[Range, ...]:
    """The readings of both."""
    return tuple((max(a, c), min(b, d)) for (a, b), (c, d) in zip(one, other, strict=True))


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
