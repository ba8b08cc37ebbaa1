"""Who may use which piece: what is left over of drawer and parcel goes to the rows that a plan would rather fit so.

First every gap gets what the plan of today's readings gives it, and the fewest pieces with which its card works beside;
where they do not go round so, what the purchase sets aside. Others lie in the drawer unused: they go, gap by gap, to
what the plan would give at its other readings, those nearest to today's first. Never is a piece promised twice, so all
cards still work at once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from shimopt.arithmetic.clearance import Stack
from shimopt.candidates import Scale
from shimopt.ordering.cards import Card, card_of
from shimopt.ordering.coverage import Coverage
from shimopt.ordering.purchase import Books, Purchase
from shimopt.ordering.row_stack import Preference

# beyond so many stacks of one gap its card keeps to the pieces set aside
_MOST_TO_WEIGH = 4_000


def shared_out(
    books: Books,
    purchase: Purchase,
    today: Sequence[Stack],
    preferences: Sequence[Preference],
    scale: Scale,
    further: Sequence[Coverage],
) -> Purchase:
    """The same purchase with more set aside; `today` is what the plan of today's readings puts at each gap.

    Parameter: further, what drawer and parcel serve beyond each gap's range: it is set aside last.
    """
    own = _around_the_plan(books, purchase, today)
    own = own or [Counter(purchase.pieces_for(gap)) for gap in range(len(books.coverages))]
    left = books.there(purchase)
    left.subtract(sum(own, _of_tables(books, purchase)))
    for gap, stack in enumerate(today):
        _take(_scarce(books.coverages[gap], stack), own[gap], left)
    for _ in ("first wishes", "what they set free"):
        for gap, coverage in enumerate(books.coverages):
            for stack in _wished(coverage, own[gap] + +left, scale, preferences[gap]):
                _take(_scarce(coverage, stack), own[gap], left)
            # what nothing of its range asks for is free for others
            card = rather(coverage, own[gap], scale, preferences[gap])
            idle = own[gap] - (Card(card.bands).most_of | Counter(coverage.stays)) if card else Counter[int]()
            own[gap] -= idle
            left.update(idle)
    for gap, (coverage, wide) in enumerate(zip(books.coverages, further, strict=True)):
        card = rather(coverage, own[gap] + +left, scale, preferences[gap], wide)
        for row in card.rows if card else ():
            if row.stack is not None:
                _take(_scarce(coverage, row.stack) or _scarce(wide, row.stack), own[gap], left)
    aside = {(gap, line): count for gap, pieces in enumerate(own) for line, count in pieces.items() if count}
    aside |= {(gap, line): count for (gap, line), count in purchase.aside.items() if gap >= len(own)}
    return replace(purchase, aside=aside)


def _of_tables(books: Books, purchase: Purchase) -> Counter[int]:
    """What is set aside for places that act together."""
    tables = {gap for gap, _ in purchase.aside if gap >= len(books.coverages)}
    return sum((Counter(purchase.pieces_for(gap)) for gap in tables), Counter[int]())


def _around_the_plan(books: Books, purchase: Purchase, today: Sequence[Stack]) -> list[Counter[int]] | None:
    """Every gap's pieces where each has what the plan of today's readings fits, and the fewest more for its others.

    Gap after gap, reading after reading; None where a gap then lacks some that it has with what was set aside.
    """
    own = [Counter(purchase.pieces_for(gap)) for gap in range(len(books.coverages))]
    whole = [gap for gap in range(len(own)) if not books.left_open(gap, purchase)] if today else []
    for gap in whole:
        own[gap] = _scarce(books.coverages[gap], today[gap]) or Counter()
    left = books.there(purchase)
    left.subtract(sum(own, _of_tables(books, purchase)))
    if not whole or min(left.values(), default=0) < 0:
        return None
    for gap in whole:
        coverage = books.coverages[gap]
        while open_ := coverage.left_open(coverage.makeable(own[gap])):
            at, have = open_[0].start, own[gap] + +left
            ways = [
                (Counter(c.scarce) - own[gap], c)
                for c in coverage.makeable(have)
                if c.start <= at and (c.end > at or open_[0].end == at)
            ]
            if not ways:
                return None
            more, _ = min(ways, key=lambda way: (way[0].total(), -way[1].end, way[1].stack))
            own[gap] += more
            left.subtract(more)
    return own


def _take(wanted: Counter[int] | None, own: Counter[int], left: Counter[int]) -> None:
    """Set aside what a stack asks for beside what its gap has, where that is left."""
    more = (wanted or Counter()) - own
    if all(count <= left[line] for line, count in more.items()):
        own.update(more)
        left.subtract(more)


def _scarce(coverage: Coverage, stack: Stack) -> Counter[int] | None:
    """The pieces of a stack that can run out; None where it serves no reading of the range."""
    return next((Counter(c.scarce) for c in (*coverage.candidates, *coverage.thicker) if c.stack == stack), None)


def _wished(coverage: Coverage, pieces: Mapping[int, int], scale: Scale, preference: Preference) -> list[Stack]:
    """The stacks of the range that all these pieces would give, those for readings nearest to today's first."""
    card = rather(coverage, pieces, scale, preference)
    if card is None:
        return []
    best = coverage.demand.gap.reading.bracket.best
    near = sorted(card.bands, key=lambda band: max(band.start - best, best - band.end, 0))
    return list(dict.fromkeys(band.stack for band in near))


def rather(
    coverage: Coverage,
    pieces: Mapping[int, int],
    scale: Scale,
    preference: Preference,
    further: Coverage | None = None,
) -> Card | None:
    """The card of a gap that may have all these pieces; None where they make too many stacks to weigh."""
    stacks, beyond = coverage.for_rows(pieces), further.for_rows(pieces) if further else []
    return card_of(coverage, stacks, scale, preference, beyond) if len(stacks) <= _MOST_TO_WEIGH else None


def contested(
    alone: Sequence[Card | None], cards: Sequence[Card], kept: Sequence[Counter[int]], there: Mapping[int, int]
) -> dict[int, tuple[int, ...]]:
    """By demand, the parts of which it has less than it would use, and without which its rows are others.

    All together would use more of them than there are; or what the other cards hold leaves no more, for want of others.

    Parameters: alone, each gap's card if it could choose; cards, those that go together; kept, the pieces that stay in
    where a card says stop.
    """
    wanted = [(card.most_of if card else Counter[int]()) | stays for card, stays in zip(alone, kept, strict=True)]
    total = sum(wanted, Counter[int]())
    short = {line for line, count in total.items() if count > there.get(line, 0)}
    held = [card.most_of | stays for card, stays in zip(cards, kept, strict=True)]
    taken = sum(held, Counter[int]())
    uses = {
        gap: tuple(
            line
            for line in sorted((rather.most_of - card.most_of).keys())
            if line in short or rather.most_of[line] > there.get(line, 0) - (taken - held[gap])[line]
        )
        for gap, (rather, card) in enumerate(zip(alone, cards, strict=True))
        if rather and (rather.bands, rather.rows) != (card.bands, card.rows)
    }
    return {gap: lines for gap, lines in uses.items() if lines}
