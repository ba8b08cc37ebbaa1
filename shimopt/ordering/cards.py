"""The bench card: which stack to fit at which final reading, so that nobody needs a computer on the day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import Scale
from shimopt.ordering.coverage import Candidate, Coverage

__all__ = ["Band", "BladeRow", "Card", "blade_rows", "card_of"]


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
    def most_of(self) -> Counter[int]:
        """The most pieces of each stock line that any band needs."""
        most: Counter[int] = Counter()
        for band in self.bands:
            most |= Counter(band.stack)
        return most

    @property
    def least_of(self) -> Counter[int]:
        """The pieces of each stock line that every band needs."""
        counts = [Counter(band.stack) for band in self.bands]
        least = counts[0] if counts else Counter[int]()
        for count in counts[1:]:
            least &= count
        return least


def card_of(coverage: Coverage, stacks: Sequence[Candidate], scale: Scale) -> Card:
    """The card that these stacks make: at every reading one with the fewest pieces, changing as seldom as that lets."""
    installed = coverage.demand.place.installed

    def leave(stack: Stack) -> tuple[bool, int]:
        """What is in stays first, then the fewest pieces."""
        return bool(installed) and stack != installed, len(stack)

    bands: list[tuple[int, int, Stack]] = []
    at = coverage.low
    while True:
        here = [c for c in stacks if c.start <= at and (c.end > at or at == coverage.high == c.end)]
        if not here:
            later = [c.start for c in stacks if c.start > at]
            if not later:
                break
            at = min(later)
            continue
        best = min(here, key=lambda c: (*leave(c.stack), -c.end, c.stack))
        fewer = [c.start for c in stacks if leave(c.stack) < leave(best.stack) and at < c.start < best.end]
        end = min([best.end, *fewer])
        bands.append((at, end, best.stack))
        if end >= coverage.high:
            break
        at = end
    told = tuple(Band(scale.length(start), scale.length(end), stack) for start, end, stack in bands)
    return Card(told, tuple(blade_rows(coverage, told)))


def blade_rows(coverage: Coverage, bands: Sequence[Band]) -> list[BladeRow]:
    """One row per pair of neighbouring blades, as far apart as today's, that the final reading could show.

    A pair's best estimate is its middle. Below the range by no more than the gap can lie above it, or above by no more
    than below, the end row counts: the gap can then still lie in the range, unless today's reading is in doubt. Under a
    cover the blades say what is read there, which is minus the gap.
    """
    demand = coverage.demand
    if demand.gap.blades is None or demand.step is None or not bands:
        return []
    go, step, sign = Fraction(demand.gap.blades[0]), demand.step, -1 if demand.gap.reading.opens else 1
    least, most = sorted((sign * (demand.low - demand.above), sign * (demand.high + demand.below)))
    low = go - (go + step / 2 - least) // step * step
    rows = []
    while low + step / 2 <= most:
        read = sign * (low + step / 2)
        middle = min(max(read, demand.low), demand.high)
        contradicts = bool(demand.doubts) and middle != read
        stack = next((band.stack for band in bands if band.start <= middle <= band.end and not contradicts), None)
        if low >= 0:
            rows.append(BladeRow(low, low + step, stack, contradicts))
        low += step
    return rows
