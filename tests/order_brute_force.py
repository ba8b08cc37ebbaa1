"""The slow, obvious order: every purchase, every way to set pieces aside, every reading on a fine grid."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cache
from itertools import combinations_with_replacement, product

from shimopt.job import Job
from shimopt.ordering.order_result import Order

# all lengths of the test jobs are multiples of 5 µm, so whatever begins or ends does so on this grid
STEP = 5_000


def uncertainty(job: Job, gap: int) -> tuple[Fraction, Fraction]:
    read = job.gaps[gap].reading.bracket
    return job.gaps[gap].again or (read.best - read.low, read.high - read.best)


def every_corner_inside(job: Job, gap: int, reading: Fraction, stack: Sequence[int]) -> bool:
    """Reading off by its uncertainty either way, all pieces at their thinnest or thickest: always in the window.

    What was in comes out, but for pieces that go back in.
    """
    was_in = Counter(job.places[gap].installed)
    into, out = list((Counter(stack) - was_in).elements()), list((was_in - Counter(stack)).elements())
    below, above = uncertainty(job, gap)
    window, effect = job.gaps[gap].window, job.gaps[gap].effects[0][1]
    for true in (reading - below, reading + above):
        ends_of = [(job.stock[i].part.thickness.low, job.stock[i].part.thickness.high) for i in into]
        ends_of += [(-job.stock[i].part.thickness.high, -job.stock[i].part.thickness.low) for i in out]
        for ends in product(*ends_of):
            after = true + effect * sum(ends, Fraction(0))
            if (window.min is not None and after < window.min) or (window.max is not None and after > window.max):
                return False
    return True


def may_go_in(job: Job, gap: int, stack: tuple[int, ...]) -> bool:
    """What is in may stay; else what the seat takes, its fewest pieces at least, or nothing where it may be empty."""
    place, seat = job.places[gap], job.gaps[gap].seat
    if stack == place.installed or not stack:
        return stack == place.installed or not place.fewest_pieces
    return place.fewest_pieces <= len(stack) and (seat is None or seat.shims_allowed)


def there_now(job: Job) -> list[int]:
    """Pieces of each line on hand and in the machine."""
    within = Counter(i for place in job.places for i in place.installed)
    return [line.on_hand + within[i] for i, line in enumerate(job.stock)]


def readings(job: Job, gap: int) -> list[Fraction]:
    """Both ends of the bracket, its grid points, and the middle between each two."""
    read = job.gaps[gap].reading.bracket
    count = int((read.high - read.low) / STEP * 2)
    return [read.low + Fraction(STEP, 2) * n for n in range(count + 1)]


def best_levels(job: Job, spend: Fraction | None = None) -> tuple[Fraction, ...]:
    """Gaps open, length open, pieces without a price, cost, arrival, pieces bought: the least in this order."""
    most = [place.most_pieces for place in job.places]
    lines = range(len(job.stock))

    @cache
    def served(gap: int, stack: tuple[int, ...]) -> frozenset[int]:
        return frozenset(n for n, at in enumerate(readings(job, gap)) if every_corner_inside(job, gap, at, stack))

    @cache
    def card(gap: int, pieces: tuple[int, ...]) -> tuple[int, Fraction]:
        """Whether the card made of these pieces leaves something open, and how long it is."""
        held = [i for i in lines for _ in range(pieces[i])]
        stacks = {
            tuple(sorted(s))
            for n in range(min(most[gap], len(held)) + 1)
            for s in combinations_with_replacement(sorted(set(held)), n)
            if all(s.count(i) <= pieces[i] for i in s) and may_go_in(job, gap, s)
        }
        place = job.places[gap]
        stays = served(gap, place.installed) if place.installed and place.keep else frozenset[int]()
        # what is in stays wherever it serves: nothing else is fitted there
        reached = frozenset().union(
            *(served(gap, stack) - (frozenset() if stack == place.installed else stays) for stack in stacks)
        )
        every = range(len(readings(job, gap)))
        # a stretch between two grid points is served where its middle is
        middles = [n for n in every if n % 2 == 1]
        if len(every) == 1:
            return int(0 not in reached), Fraction(0)
        missing = sum(n not in reached for n in middles)
        return int(missing > 0), Fraction(missing * STEP)

    def least_open(gap: int, there: tuple[int, ...]) -> tuple[int, Fraction]:
        if gap == len(job.gaps):
            return 0, Fraction(0)
        best: tuple[int, Fraction] | None = None
        within = Counter(job.places[gap].installed)
        for pieces in product(*(range(min(n, max(most[gap], within[i])) + 1) for i, n in enumerate(there))):
            here = card(gap, pieces)
            # at a reading that nothing serves what is in stays in, so nobody else can have it
            if here[0] and any(pieces[i] < count for i, count in within.items()):
                continue
            rest = least_open_cached(gap + 1, tuple(a - b for a, b in zip(there, pieces, strict=True)))
            found = (here[0] + rest[0], here[1] + rest[1])
            best = found if best is None else min(best, found)
        return best or (sum(most) * 10**6, Fraction(0))

    least_open_cached = cache(least_open)
    best: tuple[Fraction, ...] | None = None
    for bought in purchases(job):
        there = there_now(job)
        for (line, offer), packs in bought:
            there[line] += packs * job.stock[line].offers[offer].pack
        unpriced, cost, arrival, pieces = worth(job, bought)
        if spend is not None and (cost > spend or unpriced):
            continue
        ever = sum(most)
        open_, missing = least_open_cached(0, tuple(min(n, ever) for n in there))
        found = (Fraction(open_), missing, unpriced, cost, arrival, pieces)
        best = found if best is None else min(best, found)
    assert best is not None
    return best


def purchases(job: Job) -> Iterator[list[tuple[tuple[int, int], int]]]:
    """Every number of packs of every offer, up to what all places together could hold, or a bundle holds."""
    ever = sum(place.most_pieces for place in job.places)
    offers = [(line, n) for line, entry in enumerate(job.stock) for n in range(len(entry.offers))]
    ranges = []
    for line, n in offers:
        offer = job.stock[line].offers[n]
        ranges.append(range(max([-(-ever // offer.pack), *(packs for packs, _ in offer.price_from)]) + 1))
    for packs in product(*ranges):
        yield [(offer, n) for offer, n in zip(offers, packs, strict=True) if n]


def worth(job: Job, bought: list[tuple[tuple[int, int], int]]) -> tuple[Fraction, Fraction, Fraction, Fraction]:
    """Pieces without a price, cost with postage and top-ups, days, pieces. Here every offer says its days."""
    terms = {supplier.name: supplier for supplier in job.suppliers}
    goods: dict[str, Fraction] = {}
    unpriced = pieces = 0
    days = 0
    for (line, number), packs in bought:
        offer = job.stock[line].offers[number]
        # what the last bundle price that is reached says, of all of them
        each = ([offer.price or 0] + [price for least, price in offer.price_from if packs >= least])[-1]
        goods[offer.supplier] = goods.get(offer.supplier, Fraction(0)) + Fraction(each) * packs
        unpriced += packs * offer.pack if offer.price is None else 0
        pieces += packs * offer.pack
        days = max(days, offer.lead_days or 0)
    cost = sum(
        (
            max(amount, Fraction(terms[name].smallest_order)) + Fraction(terms[name].postage)
            for name, amount in goods.items()
        ),
        Fraction(0),
    )
    return Fraction(unpriced), cost, Fraction(days), Fraction(pieces)


def levels_of(order: Order) -> tuple[Fraction, ...]:
    """The order's levels as it tells them."""
    return tuple(level.value for level in order.levels)


def lacks_nothing(order: Order) -> bool:
    """At every reading on the grid the card's row is surely inside and can be made, whatever the other gaps ask for."""
    job = order.jobs[0]
    there = there_now(job)
    for line in order.asked:
        there[line.part] += line.pieces
    for gap, card in enumerate(order.cards):
        for at in readings(job, gap):
            rows = [band.stack for band in card.bands if band.start <= at <= band.end]
            in_hole = any(hole.start <= at <= hole.end for hole in order.holes if hole.gap == gap)
            if not rows and not in_hole:
                return False
            if not all(every_corner_inside(job, gap, at, stack) for stack in rows):
                return False
    # the worst day for every part: each gap asks for as many of it as any of its rows does
    stopped = {hole.gap for hole in order.holes}
    for line in range(len(there)):
        asked = 0
        for gap, card in enumerate(order.cards):
            rows = [band.stack for band in card.bands] + ([job.places[gap].installed] if gap in stopped else [])
            asked += max((stack.count(line) for stack in rows), default=0)
        if asked > there[line]:
            return False
    return True
