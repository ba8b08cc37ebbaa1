"""Of purchases that are equal at every level, one whose rows come further from the limits of their windows.

Packs are exchanged for others, one of an offer at a time, as long as no level gets worse and every card still serves
the same readings: then by the least room that the rows of each gap leave, the tightest gap first, by how far the rows
are from their targets, by how many sizes are bought, and by the room of every row, the tightest first. What is left
equal goes by name. One exchange at a time is tried, from the best purchase of each set of suppliers that has one as
good: that no two exchanges together would be better is not proven, and not claimed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cache

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import Scale
from shimopt.ordering.cards import card_of
from shimopt.ordering.coverage import Sizes
from shimopt.ordering.market import as_charged
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.row_stack import Preference
from shimopt.parts import StockLine
from shimopt.watch import Watch

# exchanges tried at most: counted, so that the same job gives the same order
_MOST_TRIED = 2_000
# the levels that an exchange of as many pieces can change, where the same readings are served
_MONEY = ("unpriced", "cost", "arrival")


def further_from_limits(
    books: Books,
    starts: Sequence[Purchase],
    preferences: Sequence[Preference],
    stock: Sequence[StockLine],
    scale: Scale,
    watch: Watch,
) -> Purchase:
    """Of purchases as good at every level, and those exchanges lead to, the one that leaves most room to the limits."""
    room = _Room(books, preferences, stock, scale)
    return min((_exchanged_for_room(books, start, room, watch) for start in starts), key=room.worth)


def _exchanged_for_room(books: Books, purchase: Purchase, room: _Room, watch: Watch) -> Purchase:
    worth, tried, better = room.worth(purchase), 0, True
    while better:
        better = False
        for other in _exchanges(books, purchase):
            tried += 1
            if tried > _MOST_TRIED or watch.over():
                return purchase
            found = room.worth(other)
            if found < worth:
                purchase, worth, better = other, found, True
                break
    return purchase


class _Room:
    """What a purchase is worth beyond its levels, by the cards that its set pieces make."""

    def __init__(
        self, books: Books, preferences: Sequence[Preference], stock: Sequence[StockLine], scale: Scale
    ) -> None:
        self.books, self.preferences, self.scale = books, preferences, scale
        self.sizes = [Sizes(coverage.demand, stock, scale) for coverage in books.coverages]
        self._of_gap = cache(self._room_of)

    def worth(self, purchase: Purchase) -> tuple[list[Fraction], Fraction, int, list[Fraction], int]:
        """Lower is better: least room by gap, distances from targets, sizes bought, room by row, names.

        Where the tightest row is as tight whatever is bought, the others tell purchases apart: names come last.
        """
        gaps = range(len(self.books.coverages))
        both = [self._of_gap(gap, tuple(sorted(purchase.pieces_for(gap).items()))) for gap in gaps]
        least = sorted(min(rooms) for rooms, _ in both if rooms)
        every = sorted(room for rooms, _ in both for room in rooms)
        off = sum((off for _, off in both), Fraction(0))
        bought = {buy.line for buy, n in zip(self.books.market.buys, purchase.packs, strict=True) if n}
        names = self.books.value_of("packs", purchase)
        return [-room for room in least], off, len(bought), [-room for room in every], names

    def _room_of(self, gap: int, pieces: tuple[tuple[int, int], ...]) -> tuple[list[Fraction], Fraction]:
        """How near to a limit each row may bring the gap at its ends [ticks], how far from its target at most [nm]."""
        coverage, sizes, preference = self.books.coverages[gap], self.sizes[gap], self.preferences[gap]
        card = card_of(coverage, coverage.for_rows(dict(pieces)), self.scale, preference)
        pairs = coverage.demand.pairs if coverage.demand.by_blades else []
        rows: list[tuple[Fraction, Stack]] = [
            (reading, band.stack)
            for band in card.bands
            for reading in ([m for m in pairs if band.start <= m <= band.end] or (band.start, band.end))
        ]
        window = coverage.demand.gap.window
        # with one end only there is no end to further, and nothing to aim at: names decide, as in a plan
        rooms, off, target = list[Fraction](), Fraction(0), window.target
        for reading, stack in rows:
            start, end = sizes.served_by(stack)
            if window.min is not None and window.max is not None:
                rooms.append(min(reading / self.scale.tick - start, end - reading / self.scale.tick))
            if target is not None:
                off = max(off, abs(reading + preference.moved(stack) - target))
        return rooms, off


def _exchanges(books: Books, purchase: Purchase) -> Iterator[Purchase]:
    """Purchases with a pack of one offer in place of one of another that are as good at every level."""
    buys, usable = books.market.buys, [set().union(*(c.scarce for c in g.candidates)) for g in books.coverages]
    values = {level: books.value_of(level, purchase) for level in _MONEY}
    for n, packs in enumerate(purchase.packs):
        takers = [gap for gap in range(len(books.coverages)) if packs and purchase.aside.get((gap, buys[n].line))]
        for m, buy in enumerate(buys):
            if m == n or not takers or buy.offer.pack != buys[n].offer.pack or buy.line == buys[n].line:
                continue
            moved = list(purchase.packs)
            moved[n], moved[m] = moved[n] - 1, moved[m] + 1
            for some in [[gap] for gap in takers] if len(takers) == 1 else [*([gap] for gap in takers), takers]:
                if not all(buy.line in usable[gap] for gap in some):
                    continue
                other = Purchase(
                    as_charged(books.market, moved), _exchanged(purchase, some, buys[n].line, buy.line, buy.offer.pack)
                )
                same = all(books.value_of(level, other) == values[level] for level in _MONEY)
                if same and books.can_be_done(other) and _serves_the_same(books, purchase, other, some):
                    yield other


def _exchanged(purchase: Purchase, gaps: Sequence[int], old: int, new: int, pieces: int) -> dict[tuple[int, int], int]:
    """What is set aside when these gaps get pieces of one line for as many of another."""
    aside = dict(purchase.aside)
    for gap in gaps:
        count = min(pieces, aside[gap, old])
        aside[gap, new] = aside.get((gap, new), 0) + count
        aside[gap, old] -= count
        if not aside[gap, old]:
            del aside[gap, old]
    return aside


def _serves_the_same(books: Books, purchase: Purchase, other: Purchase, gaps: Sequence[int]) -> bool:
    """Whether these gaps' cards leave the same readings open, and what is in stays where they leave any."""
    for gap in gaps:
        left_open = books.left_open(gap, other)
        if left_open != books.left_open(gap, purchase):
            return False
        if left_open and Counter(books.coverages[gap].stays) - Counter(other.pieces_for(gap)):
            return False
    return True
