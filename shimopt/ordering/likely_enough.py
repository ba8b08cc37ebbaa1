"""The cheapest purchase that is likely enough: what it leaves open may be so likely, all gaps together, and no more.

Gaps are independent, so their chances multiply, and the logarithms add up. Of a gap whose readings are served with a
chance `whole` at most, of which a share x is given up, that is -log(1 - x), which is convex: it lies above each of its
tangents. So each tangent is a row that every purchase likely enough keeps to, and bounds that hold for the rows hold
for these. Where the best purchase that keeps to the rows is not likely enough after all, the tangent at what it gives
up is one more row. Factors are rounded down, so that no row asks for too much.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from math import ceil, expm1, log, log1p, prod

from shimopt.ordering.coverage import Candidate, Segment
from shimopt.ordering.order_model import Program
from shimopt.ordering.purchase import Books, Purchase
from shimopt.proof.rows import Row

Chance = Fraction | float
Stretches = Sequence[tuple[int, int]]

# shares are counted in parts
_PARTS = 1 << 20


class LikelyEnough:
    """Whether a purchase is enough with a chance of `at_least` so much (`stretches.Asking`).

    Parameters: gaps, those that count; within, the chance that the final reading of a gap lies in some stretches of its
    range [ticks]; served, the chance that some stacks serve it, beyond its range too; rough, the gaps of which a
    stretch counts as served or not by its middle: then no bound holds, and more is asked where that was not enough.
    """

    def __init__(
        self,
        books: Books,
        gaps: Collection[int],
        within: Callable[[int, Stretches], Chance],
        served: Callable[[int, Sequence[Candidate], Mapping[int, int]], Chance],
        rough: Collection[int] = (),
    ) -> None:
        self.books, self.at_least, self._served, self.rough = books, Fraction(0), served, rough
        self._within = lru_cache(maxsize=None)(within)
        # what lies beyond the range may be served all the same
        hopeless = {
            gap: [self._within(gap, (one,)) for one in books.coverages[gap].hopeless if gap not in rough]
            for gap in gaps
        }
        self._whole = {gap: max(Fraction(0), 1 - sum(chances)) for gap, chances in hopeless.items()}
        self.most = prod(self._whole.values(), start=Fraction(1))
        # how much more is asked by what stretches say roughly
        self._more: Chance = Fraction(0)
        self._known: dict[tuple[int, tuple[tuple[int, int], ...]], Chance] = {}
        self._points: list[dict[int, float]] = []

    def asks(self, at_least: Fraction) -> None:
        """Ask for so much: no more than there can be."""
        self.at_least, self._more = at_least, Fraction(0)
        given_up = float(1 - at_least / self.most)
        # each gap giving up all that may be, and all alike
        alike = -expm1(log1p(-given_up) / max(1, len(self._whole)))
        self._points = [{gap: given_up} for gap in self._whole]
        self._points.append(dict.fromkeys(self._whole, alike))

    def chance(self, purchase: Purchase) -> Chance:
        """That a purchase is enough, every gap with the pieces set aside for it."""
        return prod((self._of(gap, purchase) for gap in self._whole), start=Fraction(1))

    def is_true_of(self, purchase: Purchase) -> bool:
        """Whether a purchase is likely enough."""
        return self.chance(purchase) >= self.at_least

    def rules_out(self, purchase: Purchase) -> bool:
        """Ask for one more row where a purchase is not likely enough; False where it is, or that row is there."""
        given_up = {gap: float(1 - self._of(gap, purchase) / whole) for gap, whole in self._whole.items()}
        if self.rough and not self.is_true_of(purchase) and self.at_least + self._more < self.most:
            self._more += self.at_least - self.chance(purchase)
            return self.at_least + self._more < self.most
        if self.is_true_of(purchase) or max(given_up.values()) >= 1 or given_up in self._points:
            return False
        self._points.append(given_up)
        return True

    def rows(self, program: Program) -> Iterator[Row]:
        """The rows of the tangents over the stretches that a model looks at; what a gap gives up is its last kit."""
        room = log(self.most / (self.at_least + self._more))
        for point in self._points:
            steep = {gap: 1 / (1 - point.get(gap, 0.0)) for gap in self._whole}
            limit = room + sum(log1p(-x) + x / (1 - x) for x in point.values())
            terms = {
                group[-1]: int(self._share(stretch.gap, stretch.segment) * steep[stretch.gap] * _PARTS)
                for stretch, group in zip(program.stretches, program.groups, strict=True)
                if stretch.gap in steep
            }
            yield Row({at: share for at, share in terms.items() if share}, ceil(limit * _PARTS) + 1)

    def _share(self, gap: int, segment: Segment) -> float:
        return float(self._within(gap, (segment,)) / self._whole[gap])

    def _of(self, gap: int, purchase: Purchase) -> Chance:
        pieces = purchase.pieces_for(gap)
        key = gap, tuple(sorted(pieces.items()))
        if key not in self._known:
            self._known[key] = self._served(gap, self.books.coverages[gap].makeable(pieces), pieces)
        return self._known[key]
