"""The bench card: which stack to fit at which final reading, so that nobody needs a computer on the day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import Scale
from shimopt.ordering.coverage import Candidate, Coverage, Segment, Sizes
from shimopt.ordering.demand import Demand
from shimopt.ordering.row_stack import Preference


@dataclass(frozen=True, slots=True)
class Band:
    """Final readings from .. to [nm], both ends included, and the stack for them."""

    start: Fraction
    end: Fraction
    stack: Stack


@dataclass(frozen=True, slots=True)
class BladeRow:
    """Two neighbouring blades [nm], and the stack where the first goes and the second does not; None for a hole.

    `contradicts` where there is none because today's reading says something else.
    """

    go: Fraction
    no_go: Fraction
    stack: Stack | None
    contradicts: bool = False


@dataclass(frozen=True, slots=True)
class Card:
    """One gap's bands in rising order, and its rows by pairs of blades where it is read by them."""

    bands: tuple[Band, ...]
    rows: tuple[BladeRow, ...] = ()

    @property
    def stacks(self) -> list[Stack]:
        """What its rows and bands fit."""
        return [band.stack for band in self.bands] + [row.stack for row in self.rows if row.stack is not None]

    @property
    def most_of(self) -> Counter[int]:
        """The most pieces of each stock line that any band needs."""
        most: Counter[int] = Counter()
        for stack in self.stacks:
            most |= Counter(stack)
        return most

    @property
    def least_of(self) -> Counter[int]:
        """The pieces of each stock line that every row needs; every band where it has no rows."""
        rows = [Counter(row.stack) for row in self.rows if row.stack is not None]
        counts = rows or [Counter(band.stack) for band in self.bands]
        least = counts[0] if counts else Counter[int]()
        for count in counts[1:]:
            least &= count
        return least


def card_of(
    coverage: Coverage,
    stacks: Sequence[Candidate],
    scale: Scale,
    preference: Preference,
    further: Sequence[Candidate] = (),
) -> Card:
    """The card that these stacks make, and `further` ones beyond its range: at every reading the one of a plan."""
    bands = tuple(_merged(_bands(coverage, stacks, scale, preference)))
    return Card(bands, tuple(blade_rows(coverage, stacks, scale, preference, further)))


def _bands(
    coverage: Coverage, stacks: Sequence[Candidate], scale: Scale, preference: Preference
) -> list[tuple[Fraction, Fraction, Candidate]]:
    """Readings from .. to [nm] and what to fit there, rising; where nothing serves there is none."""
    demand, length = coverage.demand, scale.length
    if demand.by_blades:
        shown = [(middle, _serving(stacks, middle, scale), demand.as_read(middle, middle)) for middle in demand.pairs]
        return [(*range_, preference.best(here, middle)) for middle, here, range_ in shown if here and range_]
    if coverage.low == coverage.high:
        here = _serving(stacks, demand.low, scale)
        return [(demand.low, demand.high, preference.best(here, demand.low))] if here else []
    found: list[tuple[Fraction, Fraction, Candidate]] = []
    open_ = [Segment(coverage.low, coverage.high)]
    ranks = {c: preference.rank(c.stack) for c in stacks}
    # what ranks higher takes its readings whole, so that of many stacks few have to be weighed against each other
    for _, alike in groupby(sorted(stacks, key=ranks.__getitem__), key=ranks.__getitem__):
        same, still = list(alike), list[Segment]()
        for segment in open_:
            reach = [c for c in same if c.start < segment.end and c.end > segment.start]
            cuts = {*segment} | {at for c in reach for at in (c.start, c.end) if segment.start < at < segment.end}
            for start, end in pairwise(sorted(cuts)):
                here = [c for c in reach if c.start <= start and end <= c.end]
                if here:
                    found += preference.stretches(here, length(start), length(end))
                else:
                    still.append(Segment(start, end))
        open_ = still
    return sorted(found, key=lambda band: band[:2])


def _serving(stacks: Sequence[Candidate], reading: Fraction, scale: Scale) -> list[Candidate]:
    return [c for c in stacks if scale.length(c.start) <= reading <= scale.length(c.end)]


def _merged(bands: Sequence[tuple[Fraction, Fraction, Candidate]]) -> Iterator[Band]:
    """Bands that touch and fit the same are one."""
    last: Band | None = None
    for start, end, candidate in bands:
        if last is not None and (last.end, last.stack) == (start, candidate.stack):
            last = Band(last.start, end, last.stack)
            continue
        if last is not None:
            yield last
        last = Band(start, end, candidate.stack)
    if last is not None:
        yield last


def blade_rows(
    coverage: Coverage,
    stacks: Sequence[Candidate],
    scale: Scale,
    preference: Preference,
    further: Sequence[Candidate] = (),
) -> list[BladeRow]:
    """One row per pair of neighbouring blades, as far apart as today's, that the final reading could show.

    A pair's best estimate is its middle. A pair beyond the range counts by itself, where a stack serves it; else with
    today's reading, as long as the two can both be true: the gap then lies where they meet. Under a cover the blades
    say what is read there, which is minus the gap.
    """
    demand, gap = coverage.demand, coverage.demand.gap
    if demand.blind:
        here = _serving(stacks, demand.pairs[0], scale)
        stack = preference.best(here, demand.pairs[0]).stack if here else None
        return [BladeRow(Fraction(0), Fraction(gap.reading.no_blade or 0), stack)]
    if gap.blades is None or demand.step is None or not [*stacks, *further]:
        return []
    beyond = _Beyond(demand, [*stacks, *further], scale, preference)
    go, step, sign = Fraction(gap.blades[0]), demand.step, gap.reading.sign
    least, most = sorted((sign * (demand.low - demand.above), sign * (demand.high + demand.below)))
    low = go - (go + step / 2 - least) // step * step
    rows = []
    while low + step / 2 <= most:
        read = sign * (low + step / 2)
        if low >= 0:
            inside = demand.low <= read <= demand.high
            here = _serving(stacks, read, scale) if inside else beyond.serving(read)
            if not low:
                # where no blade goes, the gap may be closed up and more: no pair of blades says that it is not
                here = []
            contradicts = not inside and not here and not beyond.meets(read)
            rows.append(BladeRow(low, low + step, preference.best(here, read).stack if here else None, contradicts))
        low += step
    return rows


class _Beyond:
    """What serves a pair of blades beyond the range of readings."""

    def __init__(self, demand: Demand, stacks: Sequence[Candidate], scale: Scale, preference: Preference) -> None:
        self.demand, self.stacks, self.scale = demand, stacks, scale
        sizes = Sizes(demand, preference.job.stock, scale)
        self.alone = {c: tuple(scale.length(end) for end in sizes.served_by(c.stack)) for c in stacks}

    def meets(self, read: Fraction) -> bool:
        """Whether the gap can lie both in this reading and in today's."""
        demand = self.demand
        return not demand.doubts and read + demand.above > demand.low and read - demand.below < demand.high

    def serving(self, read: Fraction) -> list[Candidate]:
        """What is inside wherever the gap lies by this reading; where nothing is, by both readings, if they meet."""
        demand = self.demand
        if demand.doubts:
            return []
        sure = [c for c, (start, end) in self.alone.items() if start <= read <= end]
        if sure or not self.meets(read):
            return sure
        low, high = max(read - demand.below, demand.low), min(read + demand.above, demand.high)
        return [
            c for c, (start, end) in self.alone.items() if start - demand.below <= low and high <= end + demand.above
        ]
