"""The bench card: which stack to fit at which final reading, so that nobody needs a computer on the day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import Scale
from shimopt.ordering.coverage import Candidate, Coverage, Segment
from shimopt.ordering.preference import Preference

__all__ = ["Band", "BladeRow", "Card", "card_of"]


@dataclass(frozen=True, slots=True)
class Band:
    """Final readings from .. to [nm], both ends included, and the stack for them."""

    start: Fraction
    end: Fraction
    stack: Stack


@dataclass(frozen=True, slots=True)
class BladeRow:
    """Two neighbouring blades [nm], and the stack where the first goes and the second does not; None for a hole.

    `contradicts` where there is none because today's reading, not taken as in service, says something else.
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
        """The pieces of each stock line that every band needs."""
        counts = [Counter(stack) for stack in self.stacks]
        least = counts[0] if counts else Counter[int]()
        for count in counts[1:]:
            least &= count
        return least


def card_of(coverage: Coverage, stacks: Sequence[Candidate], scale: Scale, preference: Preference) -> Card:
    """The card that these stacks make: at every reading the one that a plan would give."""
    bands = tuple(_merged(_bands(coverage, stacks, scale, preference)))
    return Card(bands, tuple(blade_rows(coverage, stacks, scale, preference)))


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


def blade_rows(coverage: Coverage, stacks: Sequence[Candidate], scale: Scale, preference: Preference) -> list[BladeRow]:
    """One row per pair of neighbouring blades, as far apart as today's, that the final reading could show.

    A pair's best estimate is its middle. Below the range by no more than the gap can lie above it, or above by no more
    than below, the end row counts: the gap can then still lie in the range, unless today's reading is in doubt. Under a
    cover the blades say what is read there, which is minus the gap.
    """
    demand = coverage.demand
    if demand.gap.blades is None or demand.step is None or not stacks:
        return []
    go, step, sign = Fraction(demand.gap.blades[0]), demand.step, -1 if demand.gap.reading.opens else 1
    least, most = sorted((sign * (demand.low - demand.above), sign * (demand.high + demand.below)))
    low = go - (go + step / 2 - least) // step * step
    rows = []
    while low + step / 2 <= most:
        read = sign * (low + step / 2)
        middle = min(max(read, demand.low), demand.high)
        contradicts = bool(demand.doubts) and middle != read
        here = [] if contradicts else _serving(stacks, middle, scale)
        if low >= 0:
            stack = preference.best(here, middle).stack if here else None
            rows.append(BladeRow(low, low + step, stack, contradicts))
        low += step
    return rows
